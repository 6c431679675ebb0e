"""A sweep that another instrument has written into a file, as the answer to an ask for one."""

import asyncio
from pathlib import Path
from typing import Any

from textual.app import App

from aligner.engine.answers import SweepSeen
from aligner.engine.asks import Ask, Sweep
from aligner.errors import AnswerError
from aligner.quantity import show
from aligner.screens.one_line import OneLine
from aligner.screens.questions import Question
from aligner.screens.words import unit_of
from aligner.text import clean

NOT_NOW = "A file is taken where a sweep is asked for; here the reading is typed."
_WHICH = "The sweep from which file? A table (frequency, value) as text, or Touchstone."


async def from_file(app: App[Any], ask: Ask | None) -> Question | str:
    """Ask for the file and read it; the question whether its sweep is meant, or why it is none."""
    if not isinstance(ask, Sweep):
        return NOT_NOW
    typed = await app.push_screen_wait(OneLine(_WHICH))
    return await asyncio.to_thread(about_file, typed, ask) if typed is not None else ""


def about_file(typed: str, ask: Sweep) -> Question | str:
    """Whether the sweep in that file is meant; the reason where it cannot be."""
    from aligner.readings.sweeps import read_sweep  # noqa: PLC0415 - few sweeps come from files

    path = Path(typed).expanduser()
    try:
        sweep = read_sweep(path)
    except AnswerError as error:
        return str(error)
    unit = unit_of(ask)
    if sweep.unit != unit:
        return f"{clean(path.name, 60)} holds {sweep.unit}, and {unit} is asked for."
    low, high = sweep.points[0][0], sweep.points[-1][0]
    out = f", {sweep.left_out} rows left out" if sweep.left_out else ""
    words = f"{len(sweep.points)} points from {show(low, 'Hz')} to {show(high, 'Hz')} ({clean(sweep.taken, 60)}{out})"
    taken = SweepSeen(sweep.points)
    return Question(f"Take {words}?  Enter or y: yes   Esc: no", {"enter": taken, "y": taken})
