"""What is drawn of a job, as plain numbers: which curves there are after a history, most useful first.

A curve is described once and for every voice (a terminal, a sheet); how it is drawn is not said here.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from aligner.engine.asks import Ask, Turning
from aligner.engine.bench import Bench, bench_of
from aligner.engine.curve import Curve
from aligner.engine.curves_read import drifts, responses, s_curves
from aligner.engine.curves_tracking import tracking_curve
from aligner.engine.history import History
from aligner.engine.run import survey
from aligner.engine.survey import StepReport
from aligner.procedure.model import CoverageStep, Procedure, TrackingStep


@dataclass(frozen=True, slots=True)
class _Ranked:
    rank: int
    curve: Curve


def curves(procedure: Procedure, history: History, ask: Ask | None) -> tuple[Curve, ...]:
    """All curves that the history can tell, that of the running step first, the others in procedure order."""
    bench = bench_of(procedure, history)
    reports = {report.id: report for report in survey(procedure, history).steps}
    found = sorted(_all(bench, ask, reports), key=lambda row: row.rank)
    return tuple(row.curve for row in found)


def _all(bench: Bench, ask: Ask | None, reports: dict[str, StepReport]) -> Iterator[_Ranked]:
    running = ask.step if ask is not None else ""
    for number, step in enumerate(bench.procedure.steps, 1):
        if isinstance(step, CoverageStep | TrackingStep):
            turned = ask if isinstance(ask, Turning) and step.circuit == ask.circuit else None
            curve = tracking_curve(bench, step, turned, reports.get(step.id))
            if curve is not None:
                yield _Ranked(0 if step.id == running else number, curve)
    for name, curve in (*drifts(bench), *responses(bench), *s_curves(bench)):
        yield _Ranked(0 if name == running else 1 + _place(bench, name), curve)


def _place(bench: Bench, step: str) -> int:
    return next((n for n, row in enumerate(bench.procedure.steps, 1) if row.id == step), 0)
