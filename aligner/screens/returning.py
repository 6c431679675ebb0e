"""A later sitting: the cautions once more, and the question of whether the set still is as it was left."""

from collections.abc import Callable
from typing import Any

from textual.app import App

from aligner.engine.answers import Answer
from aligner.engine.asks import Ask, Confirm
from aligner.engine.history import History
from aligner.job import Opened
from aligner.screens.comeback import judged, left_at
from aligner.screens.one_line import OneLine


def later_sitting(opened: Opened) -> bool:
    """Whether the cautions are due once more: not while the open ask is one, for then the first sitting goes on.

    At the end they are due only where a step was set aside: taking it up leads to the set again.
    """
    ask = opened.survey.ask
    if ask is None:
        return any(report.state == "set-aside" for report in opened.survey.steps)
    return bool(opened.history.entries) and not (isinstance(ask, Confirm) and ask.hazard)


async def look_again(app: App[Any], history: History, ask: Ask | None, post: Callable[[Answer], None]) -> None:
    """One reading, which may be left out; what came of it goes into the record as a note."""
    left = left_at(history, ask)
    question = left.question if left is not None else ""
    while left is not None and (typed := await app.push_screen_wait(OneLine(question))) is not None:
        found = judged(left, typed)
        if isinstance(found, tuple):
            post(found[0])
            app.notify(found[1], timeout=20, markup=False)
            return
        question = f"{found} {left.question}"
