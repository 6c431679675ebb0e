"""The step `coverage`: the oscillator at its places, each to receive what the procedure says."""

from aligner.engine import by_reading
from aligner.engine.bench import Bench, Outcome, Target, goal_of
from aligner.engine.instruments import point_of
from aligner.estimate.events import Spot
from aligner.procedure.model import CoverageStep


def work(bench: Bench, step: CoverageStep, *, passed: bool) -> Outcome:
    """Report and next ask."""
    belief = bench.belief(step.band)
    targets = targets_of(bench, step)
    return by_reading.work(bench, step, belief, targets, (goal_of(belief, targets),), passed=passed)


def targets_of(bench: Bench, step: CoverageStep) -> tuple[Target, ...]:
    """The step's points, with what the oscillator shall do there."""
    offset = bench.frame(step.band).circuits[step.circuit].offset_hz
    return tuple(
        Target(Spot(p.received_hz, "dial"), point_of(p.place), p.received_hz + offset, step.tolerance_hz)
        for p in step.points
    )
