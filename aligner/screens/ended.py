"""The end of a job as a table: each step, what is left against what is allowed, and what it has cost."""

from itertools import pairwise

from aligner.engine.asks import Read
from aligner.engine.history import Entry, History
from aligner.engine.survey import StepReport, Survey
from aligner.procedure.model import Procedure
from aligner.quantity import show
from aligner.screens.words import STATES
from aligner.text import clean

_TITLE = 20
_ROW = f"{{:<{_TITLE}}} {{:<9}} {{:<17}} {{:<7}} {{:>7}} {{:>8}} {{:>6}}"
_HEAD = _ROW.format("STEP", "", "LEFT", "ALLOWED", "TOUCHES", "READINGS", "TIME")


def end_table(procedure: Procedure, history: History, survey: Survey) -> str:
    """One line a step, and the sum; times without breaks."""
    from aligner.engine.progress import progress  # noqa: PLC0415 - numbers are slow to load, and this is the end

    stands = progress(procedure, history, survey)
    spent = _spent_s(history.entries)
    live = history.live()
    rows = [_HEAD]
    for cost in stands.steps:
        report = cost.report
        readings = sum(isinstance(e.ask, Read) and e.ask.step == report.id and not e.doubt for e in live)
        costs = (cost.touches or "-", readings or "-", _minutes(spent.get(report.id, 0.0)))
        rows.append(_ROW.format(_cut(report.title or report.id, _TITLE), STATES[report.state], *_left(report), *costs))
    whole = (stands.touches, survey.readings, _minutes(stands.bench_s))
    rows.append(_ROW.format("all", "", "", "", *whole))
    return "\n".join(row.rstrip() for row in rows)


def _left(report: StepReport) -> tuple[str, str]:
    if report.error is None or not report.unit:
        return "-", "-"
    grain = abs(report.tolerance) / 20 if report.tolerance else None
    allowed = show(report.tolerance, report.unit) if report.tolerance is not None else "-"
    spread = f" +-{show(report.plus_minus, report.unit, grain)}" if report.plus_minus is not None else ""
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


def _cut(text: str, columns: int) -> str:
    kept = clean(text, 80)
    return kept if len(kept) <= columns else f"{kept[: columns - 3].rstrip()}..."
