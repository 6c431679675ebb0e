"""The end of a job as a table: each step, what is left against what is allowed, and what it has cost."""

import textwrap
from itertools import pairwise

from aligner.engine.history import Entry, History
from aligner.engine.survey import StepReport, Survey
from aligner.procedure.model import Procedure
from aligner.quantity import show
from aligner.screens.words import STATES
from aligner.text import clean

_TITLE = 20
_MORE = " "
"""What the rest of a long title begins with."""
_ROW = f"{{:<{_TITLE}}} {{:<9}} {{:<19}} {{:<8}} {{:>5}} {{:>4}} {{:>7}}"
_EDGES = (30, 50, 59, 65, 70, 78)
"""Columns after which a column of the table ends."""
_MEANING = (
    "LEFT: the error at the worst point of the step, from all readings together (of a read-back, as it was read); "
    "- is too low, ± as sure as 95 %. TOUCH and READ count what was taken back, too."
)
_HEAD = _ROW.format("STEP", "", "LEFT", "ALLOWED", "TOUCH", "READ", "TIME")


def end_table(procedure: Procedure, history: History, survey: Survey) -> str:
    """One line a step, and the sum; times without breaks."""
    from aligner.engine.progress import progress  # noqa: PLC0415 - numbers are slow to load, and this is the end

    stands = progress(procedure, history, survey)
    spent = _spent_s(history.entries)
    rows = [_HEAD]
    for cost in stands.steps:
        report = cost.report
        costs = (cost.touches or "-", cost.readings or "-", _minutes(spent.get(report.id, 0.0)))
        title, *more = textwrap.wrap(clean(report.title or report.id, 80), _TITLE - 1, break_on_hyphens=False) or [""]
        rows.append(_ROW.format(title, STATES[report.state], *_left(report), *costs))
        rows += [f"{_MORE}{line}" for line in more]
    whole = (stands.touches, survey.readings, _minutes(stands.bench_s))
    rows.append(_ROW.format("all", "", "", "", *whole))
    return "\n".join(row.rstrip() for row in rows)


def placed(table: str, rows: int, columns: int) -> str:
    """The table in that room: with what its columns mean, or without whole columns or the rest of long titles."""
    edge = max((edge for edge in _EDGES if edge <= columns), default=columns)
    shown = _widened(table, columns) or [line[:edge].rstrip() for line in narrowed(table, rows).splitlines()]
    meaning = ["", *textwrap.wrap(_MEANING, columns)]
    return "\n".join([*shown, *meaning] if table and len(shown) + len(meaning) <= rows else shown)


def narrowed(table: str, rows: int) -> str:
    """The table without the rest of long titles, where there are not rows enough for them."""
    if len(table.splitlines()) <= rows:
        return table
    short = (
        (title if len(title) < _TITLE else f"{title[: _TITLE - 4].rstrip()}...", rest) for title, rest in _rows(table)
    )
    return "\n".join(f"{title:<{_TITLE}}{rest}" for title, rest in short)


def _widened(table: str, columns: int) -> list[str]:
    """The table with each title in one line; empty where that is too wide."""
    rows = _rows(table)
    wide = max((len(title) for title, _ in rows), default=0)
    return [f"{title:<{wide}}{rest}" for title, rest in rows] if _TITLE < wide <= columns - _EDGES[-1] + _TITLE else []


def _rows(table: str) -> list[tuple[str, str]]:
    """Each whole title, and what stands beside it."""
    rows: list[tuple[str, str]] = []
    for line in table.splitlines():
        if line.startswith(_MORE):
            title, rest = rows.pop()
            rows.append((f"{title} {line.strip()}", rest))
        else:
            rows.append((line[:_TITLE].rstrip(), line[_TITLE:]))
    return rows


def _left(report: StepReport) -> tuple[str, str]:
    if report.error is None or not report.unit:
        return "-", "-"
    grain = abs(report.tolerance) / 20 if report.tolerance else (report.plus_minus or 0.0) / 5 or None
    allowed = "-" if report.tolerance is None else show(float(f"{report.tolerance:.3g}"), report.unit)
    spread = f" ± {show(report.plus_minus, report.unit, grain)}" if report.plus_minus is not None else ""
    return f"{show(report.error, report.unit, grain)}{spread}", allowed


def _spent_s(entries: tuple[Entry, ...]) -> dict[str, float]:
    """How long each step was worked on [s], without breaks: the time before an answer belongs to what it answers."""
    from aligner.engine.progress import BREAK_S  # noqa: PLC0415 - as above

    spent: dict[str, float] = {}
    for before, entry in pairwise(entries):
        gap = entry.at_s - before.at_s
        if entry.ask is not None and gap < BREAK_S:
            spent[entry.ask.step] = spent.get(entry.ask.step, 0.0) + gap
    return spent


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:.0f} min" if seconds >= 90 else f"{seconds:.0f} s"
