"""Where a job stands: each step with what it cost and what disturbed it, and what the paper way would have cost."""

import math
from dataclasses import dataclass
from itertools import pairwise

from aligner.engine.alternatives import targets_of
from aligner.engine.bench import Bench, bench_of
from aligner.engine.history import History
from aligner.engine.survey import StepReport, Survey
from aligner.estimate.events import Moved, Sighted
from aligner.procedure.model import CoverageStep, DetectorStep, IfPeakStep, IfSweepStep, Procedure, Step, TrackingStep

BREAK_S = 1800.0
"""A longer pause between two answers is a break, and no time at the bench [s]."""

USUAL_ERROR = 0.05
"""How far a circuit is off as found, as a share of its frequency, while nothing has been read (common practice)."""


@dataclass(frozen=True, slots=True)
class StepCost:
    """A step's report, its touches and readings, and the adjusters that were moved after it though it rests on them."""

    report: StepReport
    touches: int
    readings: int
    moved_after: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Progress:
    """All of it. `paper`: touches that coil low, trimmer high, again and again would take, about. bench_s [s]."""

    steps: tuple[StepCost, ...]
    touches: int
    paper: int
    bench_s: float


def progress(procedure: Procedure, history: History, survey: Survey) -> Progress:
    """Where the job stands."""
    bench = bench_of(procedure, history)
    times = [entry.at_s for entry in history.entries]
    gaps = [later - earlier for earlier, later in pairwise(times)]
    return Progress(
        steps=tuple(_cost(bench, report) for report in survey.steps),
        touches=survey.touches,
        paper=sum(_paper(bench, step) for step in procedure.steps if isinstance(step, CoverageStep | TrackingStep)),
        bench_s=sum(gap for gap in gaps if gap < BREAK_S),
    )


def _cost(bench: Bench, report: StepReport) -> StepCost:
    step = bench.procedure.step(report.id)
    own = bench.ledger.of_step(report.id)
    after = _moved_after(bench, step, 2 * own[-1].seq + 1) if own and report.state == "disturbed" else ()
    touches = sum(e.ask is not None and e.ask.step == report.id for e in bench.ledger.visits)
    return StepCost(report, touches, bench.ledger.readings_in.get(report.id, 0), after)


def _moved_after(bench: Bench, step: Step, seq: int) -> tuple[str, ...]:
    rests = {
        name
        for circuit in bench.procedure.circuits
        if circuit.id in _circuits(step) or circuit.role == "oscillator"
        for name in circuit.adjusters
    }
    moved = [e.adjuster for e in bench.ledger.events if isinstance(e, Moved) and e.seq > seq and e.adjuster in rests]
    return tuple(dict.fromkeys(moved))


def _circuits(step: Step) -> tuple[str, ...]:
    if isinstance(step, CoverageStep | TrackingStep | DetectorStep):
        return (step.circuit,)
    return step.cans if isinstance(step, IfPeakStep | IfSweepStep) else ()


def _paper(bench: Bench, step: CoverageStep | TrackingStep) -> int:
    """Touches of the alternating way: its error shrinks by (f low / f high)^2 a round of two (see `exact_pair`).

    With y = 1/f^2 a coil multiplies and a trimmer adds. Setting the trimmer at the high end spoils the low end by what
    it adds there; setting the coil right again changes the high end by y high / y low of that.
    """
    if len(bench.procedure.circuit(step.circuit).adjusters) < 2:
        return 1
    targets = targets_of(bench, step)
    wanted = sorted(target.wanted_hz for target in targets)
    if wanted[0] >= wanted[-1]:
        return 1
    shrink = 2.0 * math.log(wanted[-1] / wanted[0])
    tolerance = min(target.tolerance_hz for target in targets)
    rounds = math.log(max(_found(bench, step) * wanted[0] / tolerance, 1.0)) / shrink
    return max(2, 2 * math.ceil(rounds))


def _found(bench: Bench, step: CoverageStep | TrackingStep) -> float:
    """The greatest error that was read of the circuit before anything was turned, as a share."""
    offset = bench.frame(step.band).circuits[step.circuit].offset_hz if isinstance(step, CoverageStep) else 0.0
    shares = []
    for event in bench.ledger.events:
        if isinstance(event, Moved) and step.circuit in bench.procedure.adjuster(event.adjuster).circuits:
            break
        if isinstance(event, Sighted) and event.circuit == step.circuit:
            wanted = event.spot.hz + offset
            shares.append(abs(event.hz - wanted) / wanted)
    return max(shares, default=USUAL_ERROR)
