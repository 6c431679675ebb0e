"""The greatest error of a circuit in words: at the points of its step, where it is judged, and elsewhere."""

from dataclasses import dataclass

from aligner.engine.alternatives import targets_of
from aligner.engine.bench import SURE, Bench, standing_of
from aligner.engine.survey import StepReport
from aligner.engine.tolerances import allowed_words
from aligner.engine.touch_reasons import GRAIN
from aligner.estimate.belief import Belief
from aligner.estimate.ladder import Array
from aligner.procedure.model import CoverageStep, TrackingStep
from aligner.quantity import show


@dataclass(frozen=True, slots=True)
class Along:
    """The error over the band [Hz], with its standard error and what is allowed, at frequencies received [Hz]."""

    received: Array
    error: Array
    sd: Array
    limit: Array


def worst_words(
    bench: Bench, step: CoverageStep | TrackingStep, belief: Belief, report: StepReport | None, along: Along
) -> str:
    """One sentence of the points with the numbers of the step's report, and of the band where it is worse."""
    targets = targets_of(bench, step)
    standing = standing_of(belief.circuits[step.circuit], belief, targets)
    at = standing.worst_index
    error, spread = float(standing.errors_hz[at]), SURE * float(standing.sd_hz[at])
    limit, place = float(standing.tolerance_hz[at]), f" at {_place(targets[at].spot.hz)}"
    grain = limit / GRAIN
    if report is not None and report.error is not None and report.unit == "Hz":
        # A step that is judged by more than this circuit names its own worst, and that is at no one's place here.
        place = place if abs(report.error - error) < grain else ""
        error, spread = report.error, report.plus_minus if report.plus_minus is not None else spread
    head = f"Greatest error now at the points of the step: {_off(error, grain)}{place}{_sure(spread, grain)}"
    covers = isinstance(step, CoverageStep)
    elsewhere = _away(along, abs(error) + spread, grain) if covers else _in_band(along, abs(error), grain)
    return f"{head}; {allowed_words(limit)} is allowed.{elsewhere}"


def points_of(step: CoverageStep | TrackingStep) -> tuple[float, ...]:
    """The frequencies received [Hz] at which a step is judged."""
    return tuple(p.received_hz for p in step.points) if isinstance(step, CoverageStep) else step.points_hz


def _away(along: Along, at_points: float, grain: float) -> str:
    """What may be where a coverage asks nothing: its scale is not known there so well."""
    most = float(max(abs(along.error) + SURE * along.sd))
    if most <= at_points + grain:
        return ""
    return (
        f" Away from its points nothing was read or is asked: there the line is sure to {show(most, 'Hz', grain)} only."
    )


def _in_band(along: Along, error: float, grain: float) -> str:
    """The greatest error that is expected anywhere, where a signal circuit follows worse than at its points."""
    worst = int((abs(along.error) / along.limit).argmax())
    if abs(float(along.error[worst])) <= error + grain:
        return ""
    sure = _sure(SURE * float(along.sd[worst]), grain)
    return f" In the band: {_off(float(along.error[worst]), grain)} at {_place(float(along.received[worst]))}{sure}."


def _off(error: float, grain: float) -> str:
    return f"{show(abs(error), 'Hz', grain)} too {'high' if error > 0 else 'low'}"


def _sure(spread: float, grain: float) -> str:
    return f" (95 %: ± {show(spread, 'Hz', grain)})"


def _place(hz: float) -> str:
    return show(hz, "Hz", 1e-3 * hz)
