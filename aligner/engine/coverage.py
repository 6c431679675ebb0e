"""The step `coverage`: the oscillator at its places, each to receive what the procedure says."""

from aligner.engine import by_presets, by_reading, by_rocking
from aligner.engine.asks import Peak
from aligner.engine.bench import Bench, Outcome, Target, goal_of
from aligner.engine.instruments import point_of
from aligner.engine.presets import set_by_presets
from aligner.engine.rocked import dial_kept, leading_circuit
from aligner.estimate.events import Spot
from aligner.procedure.model import CoveragePoint, CoverageStep


def work(bench: Bench, step: CoverageStep, *, passed: bool) -> Outcome:
    """Report and next ask."""
    belief = bench.belief(step.band)
    lead = leading_circuit(bench.procedure, step)
    if lead is not None and not _silent(bench, step):
        return by_rocking.work(bench, step, belief, lead.id, passed=passed)
    targets = _targets(bench, step, step.points)
    if set_by_presets(bench.procedure, step):
        return by_presets.work(bench, step, belief, targets, passed=passed)
    return by_reading.work(bench, step, belief, targets, (goal_of(belief, targets),), passed=passed)


def _silent(bench: Bench, step: CoverageStep) -> bool:
    """Whether no signal came through where the gang was to be rocked: then the dial is all there is to go by."""
    return any(
        at == step.id and quantity == "level" and isinstance(e.ask, Peak) and e.ask.rock and e.ask.point == point
        for at, quantity, point in bench.ledger.unreadable
        for e in bench.ledger.of_step(step.id)
    )


def targets_of(bench: Bench, step: CoverageStep) -> tuple[Target, ...]:
    """The points where the dial is to be right, with what the oscillator shall do there."""
    return _targets(bench, step, dial_kept(bench.procedure, step) or step.points)


def _targets(bench: Bench, step: CoverageStep, points: tuple[CoveragePoint, ...]) -> tuple[Target, ...]:
    offset = bench.frame(step.band).circuits[step.circuit].offset_hz
    return tuple(
        Target(Spot(p.received_hz, "dial"), point_of(p.place), p.received_hz + offset, step.tolerance_hz)
        for p in points
    )
