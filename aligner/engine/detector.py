"""The step `detector`: zero at the IF as it is, the S-curve, and where its halves are unlike primary and zero again."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from aligner.engine.answers import Cannot, Done, Result
from aligner.engine.asks import Aim, Ask, Confirm, Peak, Point, Sweep, Touch, Turning
from aligner.engine.bench import SURE, Bench, Outcome
from aligner.engine.detector_words import meter_text, moved_meter_text, primary_text, stabilised_text, zero_text
from aligner.engine.history import Entry
from aligner.engine.outcomes import busy, plain
from aligner.engine.s_curve_fit import s_curve_of
from aligner.engine.strip import MOST_SWEEPS, Swept, moved_at, rest_point, rest_words, strip_generator, swept
from aligner.engine.survey import StepReport, StepState
from aligner.engine.touches import way_words
from aligner.procedure.model import DetectorStep
from aligner.quantity import show

if TYPE_CHECKING:
    from aligner.circuits.s_curve import SCurveFit

MOST_ZEROS = 5
"""Turns to zero at one IF after which another will not tell more."""
MOST_PRIMARIES = 3
"""Touches of the primary for symmetry; each is half a guess, as the secondary answers to it."""
_WITHIN = 0.05
"""Half width of the aim of the primary, as a share of the peak: more than a hand on a core can hold is not asked."""
_ASIDE = 0.3
"""Where the generator stands for the primary, as a share of the way from zero to a peak."""
_VAGUE = 3.0
"""In tolerances: a zero that is known no better than this is not judged, the curve is read on instead."""


@dataclass(frozen=True)
class _Scene:
    """What the choice of the next ask looks at."""

    bench: Bench
    step: DetectorStep
    entries: tuple[Entry, ...]
    point: Point

    @property
    def hz(self) -> float:
        """The IF as it is known now: where the zero belongs."""
        return self.bench.intermediate_hz

    def tried(self, name: str) -> list[Entry]:
        """Touches and peaks of an adjuster, oldest first."""
        return [
            e
            for e in self.entries
            if isinstance(e.ask, Turning) and e.ask.adjuster == name and isinstance(e.answer, Result)
        ]

    @property
    def zeros(self) -> list[Entry]:
        """Turns to zero at the IF as it is known now."""
        return [e for e in self.tried(self.step.zero) if abs(_hz(e) - self.hz) <= self.step.tolerance_hz]


def work(bench: Bench, step: DetectorStep, *, passed: bool) -> Outcome:
    """Held when zero, symmetry and linear span are what they should be."""
    scene = _Scene(bench, step, bench.ledger.of_step(step.id), rest_point(bench.procedure, step.place))
    now = busy(passed=passed)
    dead = [e.ask.adjuster for e in scene.entries if isinstance(e.ask, Peak) and isinstance(e.answer, Cannot)]
    if dead:
        why = f"{dead[-1]} does not bring it there: a fault in the can or its capacitor, not a misalignment"
        return plain(step, "at-limit", why)
    ask = _prepared(scene) or _zero(scene)
    if ask is not None:
        return plain(step, now, "zero comes first, then the curve", ask)
    state = swept(bench.procedure, bench.ledger, step.id, (step.circuit,))[-1]
    if state.refused:
        return plain(step, "at-limit", "the S-curve could not be read")
    if not state.points:
        why = "the curve is to be read"
        return plain(
            step, now, why, _sweep(scene, step.span_hz, "The S-curve: zero, both peaks, and how straight it is.")
        )
    return _curve(scene, state, now)


def _prepared(scene: _Scene) -> Ask | None:
    """The meter where it belongs; a ratio detector's primary is peaked before, on the stabilised voltage."""
    done = sum(isinstance(e.ask, Confirm) and isinstance(e.answer, Done) for e in scene.entries)
    step = scene.step
    if step.form == "ratio" and step.symmetry:
        if not done:
            return _confirm(scene, stabilised_text())
        if not scene.tried(step.symmetry):
            return _peak_primary(scene)
        return _confirm(scene, moved_meter_text(step)) if done < 2 else None
    return None if done else _confirm(scene, meter_text(step))


def _confirm(scene: _Scene, text: str) -> Confirm:
    why = "The detector's direct voltage shows where the signal stands on its curve."
    return Confirm(id=0, step=scene.step.id, text=text, why=why)


def _peak_primary(scene: _Scene) -> Peak:
    adjuster = scene.bench.procedure.adjuster(scene.step.symmetry)
    text = (
        f"{rest_words(scene.bench.procedure, scene.point)}{primary_text(adjuster, show(scene.hz, 'Hz', _unit(scene)))}"
    )
    why = "The stabilised voltage is greatest where the primary is in tune; the zero is the secondary's."
    return _peak(scene, scene.step.symmetry, text, why, find="max")


def _peak(scene: _Scene, name: str, text: str, why: str, *, find: str) -> Peak:
    return Peak(
        id=0,
        step=scene.step.id,
        text=text,
        why=why,
        adjuster=name,
        circuit=scene.step.circuit,
        point=scene.point,
        generator=strip_generator(scene.bench.procedure, scene.step.generator, scene.hz),
        quantity="volts",
        find="null" if find == "null" else "max",
    )


def _zero(scene: _Scene) -> Peak | None:
    """The secondary (or the quadrature coil) to zero, unless it was set so since anything of the detector was moved."""
    zeros = scene.zeros
    if zeros and not any(seq > 2 * zeros[-1].seq for seq in _moves(scene)):
        return None
    return _zero_ask(scene, "Zero belongs on the IF as it is" + (f", {_found(scene)}." if _found(scene) else "."))


def _moves(scene: _Scene) -> tuple[int, ...]:
    return moved_at(scene.bench.ledger, scene.bench.procedure, (scene.step.circuit,))


def _found(scene: _Scene) -> str:
    found = scene.bench.intermediate
    return found.words(scene.bench.procedure.intermediate_hz) if found else ""


def _zero_ask(scene: _Scene, why: str) -> Peak:
    adjuster = scene.bench.procedure.adjuster(scene.step.zero)
    rest = rest_words(scene.bench.procedure, scene.point)
    text = f"{rest}{zero_text(adjuster, show(scene.hz, 'Hz', _unit(scene)))}"
    return _peak(scene, scene.step.zero, text, why, find="null")


def _sweep(scene: _Scene, span_hz: tuple[float, float], why: str) -> Sweep:
    step_hz = (span_hz[1] - span_hz[0]) / (scene.step.count - 1)
    ends = " to ".join(show(hz, "Hz", step_hz / 20.0) for hz in span_hz)
    return Sweep(
        id=0,
        step=scene.step.id,
        text=(
            f"{rest_words(scene.bench.procedure, scene.point)}Step the generator from {ends}, about every "
            f"{show(step_hz, 'Hz', step_hz / 20.0)}, and read the detector's voltage, with its sign, at each. Leave "
            "the output as it is; turn nothing."
        ),
        why=why,
        quantity="volts",
        from_hz=span_hz[0],
        to_hz=span_hz[1],
        count=scene.step.count,
        circuit=scene.step.circuit,
        point=scene.point,
        generator=strip_generator(scene.bench.procedure, scene.step.generator, scene.hz),
    )


def _curve(scene: _Scene, state: Swept, now: StepState) -> Outcome:
    """What the curve says, or that it must be read on."""
    from aligner.circuits.uncertain import CannotTell  # noqa: PLC0415 - scipy only where a curve was read

    step = scene.step
    fit = s_curve_of(state.points, step.form)
    if isinstance(fit, CannotTell):
        why = fit.why
    elif SURE * fit.zero_hz.sd > _VAGUE * step.tolerance_hz and state.sweeps < MOST_SWEEPS:
        why = f"the zero is known within {show(SURE * fit.zero_hz.sd, 'Hz', _unit(scene))} only"
    else:
        return _judged(scene, fit, now)
    if state.sweeps >= MOST_SWEEPS:
        return plain(step, "at-limit", why)
    return plain(step, now, why, _sweep(scene, _wider(step, state), f"Cannot tell yet: {why}."))


def _judged(scene: _Scene, fit: "SCurveFit", now: StepState) -> Outcome:
    """Zero first, then the halves, then how straight it is; and what is to be turned for it."""
    step, words = scene.step, _words(fit)
    off = fit.zero_hz.value - scene.hz
    if abs(off) > step.tolerance_hz:
        why = f"the zero lies {show(abs(off), 'Hz', _unit(scene))} {'above' if off > 0 else 'below'} the IF; {words}"
        more = len(scene.zeros) < MOST_ZEROS
        ask = _zero_ask(scene, f"{why[0].upper()}{why[1:]}.") if more else None
        return Outcome(_report(scene, fit, now if more else "at-limit", why), ask)
    unlike = 2.0 * abs(fit.symmetry.value)
    if unlike > step.asymmetry:
        why = f"the halves differ by {unlike * 100:.0f} %, {step.asymmetry * 100:.0f} % is allowed; {words}"
        turn = _primary_aside(scene, fit, why) or _primary(scene, fit, why)
        return Outcome(_report(scene, fit, now if turn else "at-limit", why), turn)
    if step.linear_hz is not None and fit.linear_span_hz.value < step.linear_hz:
        straight, wanted = show(fit.linear_span_hz.value, "Hz", 1e3), show(step.linear_hz, "Hz")
        why = f"it is straight over {straight} only, {wanted} is wanted: load the coil for less Q; {words}"
        return Outcome(_report(scene, fit, "at-limit", why))
    return Outcome(_report(scene, fit, "held", words))


def _wider(step: DetectorStep, state: Swept) -> tuple[float, float]:
    """Half a span more on both sides: far from its zero a curve does not tell on which side that lies."""
    half = (step.span_hz[1] - step.span_hz[0]) / 2.0
    low, high = (end(hz for hz, _ in state.points) for end in (min, max))
    return max(low - half, low / 2.0), high + half


def _primary_aside(scene: _Scene, fit: "SCurveFit", why: str) -> Peak | None:
    """The primary peaked once with the generator a little aside of zero, on the side where the voltage is positive.

    There the voltage is greatest with the primary on the zero's own frequency, whichever way it was off: derived from
    the pair, d|E|/dx1 = 0 at x1 = y (k^2 Q^2 - 1 - y^2) / (1 + y^2), little beside y where k Q is about 1.
    """
    step = scene.step
    if not step.symmetry or scene.tried(step.symmetry):
        return None
    aside = _ASIDE * (fit.high_peak_hz.value - fit.low_peak_hz.value) / 2.0
    hz = round(fit.zero_hz.value + (aside if fit.slope_v_per_hz.value > 0 else -aside))
    adjuster = scene.bench.procedure.adjuster(step.symmetry)
    where = f" ({adjuster.where})" if adjuster.where else ""
    turns = " Count the turns from where it stands now." if adjuster.counted else ""
    return Peak(
        id=0,
        step=step.id,
        text=(
            f"Generator at {show(hz, 'Hz', 1e3)}, a little aside of zero. Peak {step.symmetry}{where} for the highest "
            f"positive voltage; the secondary is set to zero again after it.{turns}"
        ),
        why=f"{why[0].upper()}{why[1:]}.",
        adjuster=step.symmetry,
        circuit=step.circuit,
        point=scene.point,
        generator=strip_generator(scene.bench.procedure, step.generator, float(hz)),
        quantity="volts",
    )


def _primary(scene: _Scene, fit: "SCurveFit", why: str) -> Touch | None:
    """At the upper peak, to the mean of both: the best guess, as the secondary is set to zero again after it.

    The greater peak lies on the side to which the primary is mistuned, up to k Q of about 1.4 (derived from the pair's
    |(1 + j x1)(1 + j x2) + k^2 Q^2| a little above and below): where the upper one is greater the primary is too high.
    """
    step = scene.step
    touches = [e for e in scene.tried(step.symmetry) if isinstance(e.ask, Touch)] if step.symmetry else []
    if not step.symmetry or len(touches) >= MOST_PRIMARIES or any(isinstance(e.answer, Cannot) for e in touches):
        return None
    low, high = fit.peaks_v
    mean = (high - low) / 2.0
    value = round(mean, 4)
    hz = fit.high_peak_hz.value
    adjuster = scene.bench.procedure.adjuster(step.symmetry)
    where = f" ({adjuster.where})" if adjuster.where else ""
    turns = " Count the turns from where it stands now." if adjuster.counted else ""
    direction: Literal["more", "less"] = "more" if abs(high) > abs(low) else "less"
    return Touch(
        id=0,
        step=step.id,
        text=(
            f"Generator at {show(hz, 'Hz', 1e3)}, the upper peak. Turn {step.symmetry}{where}: "
            f"{way_words(adjuster, direction)}, until the meter shows "
            f"{show(value, 'V', abs(value) / 100.0)}; the secondary is set to zero again after it.{turns}"
        ),
        why=f"{why[0].upper()}{why[1:]}.",
        adjuster=step.symmetry,
        circuit=step.circuit,
        point=scene.point,
        generator=strip_generator(scene.bench.procedure, step.generator, round(hz)),
        aim=Aim("volts", value, round(_WITHIN * abs(value), 4)),
        direction=direction,
    )


def _words(fit: "SCurveFit") -> str:
    low, high = fit.peaks_v
    apart = show(fit.high_peak_hz.value - fit.low_peak_hz.value, "Hz", 1e3)
    slope = abs(fit.slope_v_per_hz.value) * 1e5
    return (
        f"zero at {show(fit.zero_hz.value, 'Hz', max(fit.zero_hz.sd, 1.0))}, peaks {low:+.3g} V and {high:+.3g} V "
        f"{apart} apart, {slope:.2g} V for 100 kHz, straight over {show(fit.linear_span_hz.value, 'Hz', 1e3)}"
    )


def _hz(entry: Entry) -> float:
    return entry.ask.generator.hz if isinstance(entry.ask, Peak) and entry.ask.generator is not None else 0.0


def _unit(scene: _Scene) -> float:
    return scene.step.tolerance_hz / 10.0


def _report(scene: _Scene, fit: "SCurveFit", state: StepState, why: str) -> StepReport:
    """The error is that of the zero against the IF."""
    step = scene.step
    return StepReport(
        id=step.id,
        kind=step.kind,
        title=step.title,
        state=state,
        why=why,
        error=round(fit.zero_hz.value - scene.hz, 1),
        tolerance=step.tolerance_hz,
        plus_minus=round(SURE * fit.zero_hz.sd, 1),
        unit="Hz",
    )
