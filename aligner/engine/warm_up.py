"""The step `warm-up`: the oscillator is read over time until what is left of its drift is inside the limit.

Its readings are those of a set that is not itself yet, so they are kept out of what is believed of the circuits. The
step can be cut short by setting it aside with a reason; it then counts as set aside, and not as held.
"""

import math
from typing import TYPE_CHECKING

from aligner.engine.answers import Cannot, Reading
from aligner.engine.asks import Read
from aligner.engine.bench import SURE, Bench, Outcome, Target
from aligner.engine.instruments import point_of
from aligner.engine.outcomes import busy, plain
from aligner.engine.strip import moved_at
from aligner.engine.survey import StepReport, StepState
from aligner.engine.touches import tune_words
from aligner.estimate.events import Spot
from aligner.procedure.model import WarmUpStep
from aligner.quantity import show

if TYPE_CHECKING:
    from aligner.circuits.response_fit import Points
    from aligner.circuits.settle import Settle
    from aligner.circuits.uncertain import CannotTell

MOST_READINGS = 40
"""Readings after which a set that has not settled has a fault, or stands in a draught."""


def work(bench: Bench, step: WarmUpStep, *, passed: bool) -> Outcome:
    """Held when the drift that is left is inside the limit."""
    from aligner.circuits.uncertain import CannotTell as Untold  # noqa: PLC0415 - scipy only with readings

    seen = _readings(bench, step)
    now = busy(passed=passed)
    if any(isinstance(e.answer, Cannot) for e in bench.ledger.of_step(step.id)):
        return plain(step, "at-limit", "the oscillator could not be read, so nobody knows whether it is warm")
    if not seen:
        return plain(step, now, "not read yet", _ask(bench, step, _first(step)))
    fit = _settle(bench, seen)
    if isinstance(fit, Untold):
        return _going_on(bench, step, now, f"{len(seen)} read; {fit.why}")
    left, sd = _drift(bench, step, seen, fit)
    if left + SURE * sd <= step.drift_hz:
        return Outcome(_report(step, "held", f"{_settled_words(fit)}{_later(bench, step, fit)}", left, sd))
    return _going_on(bench, step, now, _left_words(step, seen, fit), left, sd)


def _readings(bench: Bench, step: WarmUpStep) -> "Points":
    """(time [s], oscillator frequency [Hz]) of what was read."""
    return tuple(
        (e.at_s, bench.instruments.oscillator_hz(e.answer.value))
        for e in bench.ledger.of_step(step.id)
        if isinstance(e.ask, Read) and isinstance(e.answer, Reading)
    )


def _settle(bench: Bench, seen: "Points") -> "Settle | CannotTell":
    from aligner.circuits.settle import fit_settle  # noqa: PLC0415 - scipy only where readings were taken

    return fit_settle(seen, bench.instruments.stopped_sd_hz(seen[-1][1]))


def _drift(bench: Bench, step: WarmUpStep, seen: "Points", fit: "Settle") -> tuple[float, float]:
    """How far [Hz] it will still drift in the procedure's time from the last reading on, and its standard error [Hz].

    Where nothing moves it is the error of a straight line through the readings: five in a few seconds tell nothing of
    the next ten minutes.
    """
    at = seen[-1][0]
    drift = abs(fit.value(at) - fit.value(at + step.per_s))
    noise = max(fit.rms, bench.instruments.stopped_sd_hz(seen[-1][1]))
    span = max(at - seen[0][0], 1e-3)
    line = noise * (12.0 / len(seen)) ** 0.5 / span * step.per_s
    if fit.time_constant_s is None:
        return drift, line
    # A settle that is nearly over is known better than any line through it.
    return drift, min(line, drift * fit.time_constant_s.sd / fit.time_constant_s.value + noise / len(seen) ** 0.5)


def _going_on(
    bench: Bench, step: WarmUpStep, now: StepState, why: str, left: float | None = None, sd: float | None = None
) -> Outcome:
    count = len(_readings(bench, step))
    if count >= MOST_READINGS:
        end = f"after {count} readings it has not settled: look for a fault, a draught or a bad supply; {why}"
        return Outcome(_report(step, "at-limit", end, left, sd))
    return Outcome(_report(step, now, why, left, sd), _ask(bench, step, f"{why[0].upper()}{why[1:]}."))


def _first(step: WarmUpStep) -> str:
    return (
        f"A cold oscillator wanders off from everything that is set on it; it shall drift less than "
        f"{show(step.drift_hz, 'Hz')} in {show(step.per_s, 's')}."
    )


def _left_words(step: WarmUpStep, seen: "Points", fit: "Settle") -> str:
    """How long it will still take, in minutes."""
    if fit.time_constant_s is None:
        return f"{len(seen)} read, and it stands still; a little longer, to be sure"
    tau = fit.time_constant_s.value
    share = 1.0 - math.exp(-step.per_s / tau)
    ready = fit.within_at_s(step.drift_hz / share)
    minutes = max((ready.value - seen[-1][0]) / 60.0, 0.0)
    sure = SURE * ready.sd / 60.0
    law = f"it settles with a time constant of {tau / 60.0:.0f} min"
    return f"about {minutes:.0f} min left, give or take {sure:.0f}; {law}"


def _settled_words(fit: "Settle") -> str:
    end = show(fit.final.value, "Hz", max(fit.final.sd, 1.0))
    if fit.time_constant_s is None:
        return f"the oscillator stands still at {end}"
    return f"settled with a time constant of {fit.time_constant_s.value / 60.0:.0f} min, at {end}"


def _later(bench: Bench, step: WarmUpStep, fit: "Settle") -> str:
    """The newest later reading there, while nothing of the oscillator had been moved, against the settle."""
    own = bench.ledger.of_step(step.id)
    moves = moved_at(bench.ledger, bench.procedure, (_oscillator(bench, step),))
    later = [
        (e.at_s, e.answer.value)
        for e in bench.ledger.entries
        if isinstance(e.ask, Read)
        and isinstance(e.answer, Reading)
        and e.seq > own[-1].seq
        and (e.ask.quantity, e.ask.point) == ("frequency", point_of(step.place))
        and not any(2 * own[-1].seq < seq < 2 * e.seq for seq in moves)
    ]
    if not later:
        return ""
    at_s, shown = later[-1]
    off = bench.instruments.oscillator_hz(shown) - fit.value(at_s)
    minutes = (at_s - own[-1].at_s) / 60.0
    way = "above" if off > 0 else "below"
    words = f"; {minutes:.0f} min later it read {show(abs(off), 'Hz', step.drift_hz / 20.0)} {way} what that gives"
    warm = abs(off) <= step.drift_hz
    return words if warm else f"{words}, more than was allowed: it was not warm, or something has moved"


def _oscillator(bench: Bench, step: WarmUpStep) -> str:
    return bench.frame(step.band).oscillator


def _ask(bench: Bench, step: WarmUpStep, why: str) -> Read:
    target = Target(Spot(step.received_hz), point_of(step.place), step.received_hz, step.drift_hz)
    begun = bool(_readings(bench, step))
    again = f", about {show(step.every_s, 's')} after the last reading" if begun else ""
    return Read(
        id=0,
        step=step.id,
        text=(
            f"{tune_words(target)} and read the counter{again}. Touch nothing, keep covers and draughts as they "
            "are, and do not leave a warming set alone."
        ),
        why=why,
        quantity="frequency",
        circuit=_oscillator(bench, step),
        point=target.point,
        generator=None,
    )


def _report(step: WarmUpStep, state: StepState, why: str, left: float | None, sd: float | None) -> StepReport:
    """The error is what it will still drift [Hz] in the procedure's time."""
    return StepReport(
        id=step.id,
        kind=step.kind,
        title=step.title,
        state=state,
        why=why,
        error=None if left is None else round(left, 1),
        tolerance=step.drift_hz,
        plus_minus=None if sd is None else round(SURE * sd, 1),
        unit="Hz",
    )
