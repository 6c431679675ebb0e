"""The step `if-sweep`: levels over the strip's pass-band; the centre behind them is the IF from then on."""

from typing import TYPE_CHECKING

from aligner.engine.asks import Sweep
from aligner.engine.bench import SURE, Bench, Outcome
from aligner.engine.outcomes import busy, plain
from aligner.engine.selectivity import selectivity_words
from aligner.engine.strip import (
    MOST_SWEEPS,
    Swept,
    enough,
    into_words,
    level_sd_db,
    response_of,
    rest_point,
    rest_words,
    strip_generator,
    swept,
)
from aligner.engine.survey import StepReport, StepState
from aligner.procedure.model import IfSweepStep
from aligner.quantity import show

if TYPE_CHECKING:
    from aligner.circuits.response_fit import ResponseFit

_DEAD = (
    "no level comes through the strip: that is a fault, not a misalignment; check voltages and stages before anything "
    "is turned"
)


def work(bench: Bench, step: IfSweepStep, *, passed: bool) -> Outcome:
    """Held when the centre is sure within the tolerance, and as near to nominal as was asked for."""
    from aligner.circuits.uncertain import CannotTell  # noqa: PLC0415 - scipy only where a sweep was taken

    *earlier, state = swept(bench.procedure, bench.ledger, step.id, step.cans)
    stale = any(old.points for old in earlier)
    now = busy(passed=passed or stale)
    if state.refused:
        return plain(step, "at-limit", _DEAD)
    if not state.points:
        why = "the strip was touched since it was swept" if stale else "not swept yet"
        return plain(step, now, why, _ask(bench, step, step.span_hz, _first(step)))
    fit = response_of(state.points, level_sd_db(bench.procedure))
    if isinstance(fit, CannotTell):
        if state.sweeps >= MOST_SWEEPS:
            return plain(step, "at-limit", fit.why)
        span = _wider(state, step, fit.take)
        return plain(step, now, fit.why, _ask(bench, step, span, f"Cannot tell yet: {fit.why}."))
    if not enough(step, state, fit):
        why = f"the centre is known within {_sure(step, fit)}; {show(step.tolerance_hz, 'Hz')} is asked for"
        return Outcome(_report(bench, step, fit, now, why), _ask(bench, step, _closer(step, fit), f"So far {why}."))
    return Outcome(_judged(bench, step, state, fit))


def _sure(step: IfSweepStep, fit: "ResponseFit") -> str:
    return show(SURE * fit.centre_hz.sd, "Hz", step.tolerance_hz / 10.0)


def _first(step: IfSweepStep) -> str:
    return (
        f"The middle of the strip's pass-band is the IF that counter, coverage and tracking reckon with from then on; "
        f"it shall be sure within {show(step.tolerance_hz, 'Hz')}."
    )


def _ask(bench: Bench, step: IfSweepStep, span_hz: tuple[float, float], why: str) -> Sweep:
    point = rest_point(bench.procedure, step.place)
    middle = (span_hz[0] + span_hz[1]) / 2.0
    generator = strip_generator(bench.procedure, step.generator, middle)
    step_hz = (span_hz[1] - span_hz[0]) / (step.count - 1)
    ends = " to ".join(show(hz, "Hz", step_hz / 20.0) for hz in span_hz)
    return Sweep(
        id=0,
        step=step.id,
        text=(
            f"{rest_words(bench.procedure, point)}Generator {into_words(generator)}, as weak as can be read, AGC held. "
            f"Step it from {ends}, about every {show(step_hz, 'Hz', step_hz / 20.0)}, and read the level at each; or "
            "import a sweep. Leave its output as it is all the while; turn nothing."
        ),
        why=why,
        quantity="level",
        from_hz=span_hz[0],
        to_hz=span_hz[1],
        count=step.count,
        circuit=step.cans[-1] if step.cans else "",
        point=point,
        generator=generator,
    )


def _wider(state: Swept, step: IfSweepStep, take: tuple[float, ...]) -> tuple[float, float]:
    """What was swept, and half as far again on the sides where something is missing."""
    low, high = (end(hz for hz, _ in state.points) for end in (min, max))
    half = (step.span_hz[1] - step.span_hz[0]) / 2.0
    wider_low = min(low, *take) - half if take and min(take) < low else low
    wider_high = max(high, *take) + half if take and max(take) > high else high
    return max(wider_low, low / 2.0), wider_high


def _closer(step: IfSweepStep, fit: "ResponseFit") -> tuple[float, float]:
    """One width each side of the centre, where the flanks say where it is."""
    reach = max(fit.width_3_hz.value, step.tolerance_hz)
    return max(fit.centre_hz.value - reach, 0.5 * step.span_hz[0]), fit.centre_hz.value + reach


def _judged(bench: Bench, step: IfSweepStep, state: Swept, fit: "ResponseFit") -> StepReport:
    if SURE * fit.centre_hz.sd > step.tolerance_hz:
        asked = show(step.tolerance_hz, "Hz")
        why = f"after {state.sweeps} sweeps the centre is known within {_sure(step, fit)} only, {asked} is asked for"
        return _report(bench, step, fit, "at-limit", f"{why}; {selectivity_words(bench.procedure, step, fit)}")
    off = fit.centre_hz.value - bench.procedure.intermediate_hz
    if step.off_hz is not None and abs(off) > step.off_hz:
        shown = show(abs(off), "Hz", step.tolerance_hz / 10.0)
        way = "above" if off > 0 else "below"
        why = (
            f"the centre lies {shown} {way} nominal, {show(step.off_hz, 'Hz')} is allowed: peak the cans on the "
            "nominal IF, or, where fixed filters set it, let this IF stand"
        )
        return _report(bench, step, fit, "at-limit", f"{why}; {selectivity_words(bench.procedure, step, fit)}")
    return _report(bench, step, fit, "held", selectivity_words(bench.procedure, step, fit))


def _report(bench: Bench, step: IfSweepStep, fit: "ResponseFit", state: StepState, why: str) -> StepReport:
    """The error is the centre's distance from the nominal IF, judged only where the procedure limits it."""
    return StepReport(
        id=step.id,
        kind=step.kind,
        title=step.title,
        state=state,
        why=why,
        error=round(fit.centre_hz.value - bench.procedure.intermediate_hz, 1),
        tolerance=step.off_hz,
        plus_minus=round(SURE * fit.centre_hz.sd, 1),
        unit="Hz",
    )
