"""The guide in a window below 80x24: the whole instruction first, then the reading, then the rest as far as rows go."""

from dataclasses import dataclass, replace

from aligner.screens.desk import Desk
from aligner.screens.glance import Glance, Paper, breadth, brief, glance
from aligner.screens.log import broken
from aligner.screens.paint import cut, instruction, note_row, reasons, without_the_lesser
from aligner.screens.tour import coach

_HEAD_AND_ENTRY = 2

_LEAST_ASK = 3
"""Rows that are left to the instruction in the smallest window, where even it has to be cut."""

_TOLD_ROWS = 3

_LEAST_LOWER = 4
"""Rows of steps and log below which they say nothing."""

_LEAST_LOWER_COLUMNS = 60


@dataclass(frozen=True, slots=True)
class Small:
    """What such a window shows. foot: whether the keys have room; lower: whether steps and log have."""

    ask: str
    coach: str
    why: str
    glance: Glance
    foot: bool
    lower: bool


def small(desk: Desk, paper: Paper, message: str) -> Small:
    """Rows go to what is to be done, what is said of it, the reading, the keys, why, and the steps; in this order."""
    columns = paper.columns
    note = note_row(desk, message, columns)
    rows = paper.rows - _HEAD_AND_ENTRY - (len(broken(note, columns)) if note else 0)
    least = _height(_tightest(desk, paper), columns)
    ask = cut(instruction(desk), columns, max(_LEAST_ASK, rows - least))
    rows -= ask.count("\n") + 1
    shown = _fitting(desk, paper, rows - 1)
    rows -= _height(shown, columns)
    foot, rows = rows > 0, rows - 1
    told, rows = _told(coach(desk.procedure, desk.history, desk.ask), columns, rows)
    why, rows = _told(reasons(desk), columns, rows)
    return Small(ask, told, why, shown, foot, rows >= _LEAST_LOWER and columns >= _LEAST_LOWER_COLUMNS)


def _told(text: str, columns: int, rows: int) -> tuple[str, int]:
    """As many of its sentences as there is room for, and the rows that are left."""
    if not text or rows < 1:
        return "", rows
    shown = without_the_lesser(text, columns, min(_TOLD_ROWS, rows))
    return shown, rows - shown.count("\n") - 1


def _fitting(desk: Desk, paper: Paper, rows: int) -> Glance:
    """The reading as large as that many rows allow; where all else fails it is one line."""
    whole = glance(desk, paper)
    low = whole if paper.ascii_only else glance(desk, replace(paper, scant=True))
    offered = (whole, replace(whole, bar=""), low, replace(low, bar=""), replace(low, bar="", amount=""))
    fits = (
        one for one in offered if _height(one, paper.columns) <= rows and breadth(one.columns, one.gap) <= paper.columns
    )
    return next(fits, _tightest(desk, paper))


def _tightest(desk: Desk, paper: Paper) -> Glance:
    shown = glance(desk, paper)
    if not shown.columns:
        return replace(shown, bar="", amount="")
    return Glance(shown.state, hand=brief(desk, paper))


def _height(shown: Glance, columns: int) -> int:
    """Rows that it takes."""
    figures = max((len(column.rows) + 1 for column in shown.columns), default=0)
    words = sum(len(broken(text, columns)) for text in (shown.hand, shown.amount) if text)
    return figures + words + (shown.bar.count("\n") + 1 if shown.bar else 0)
