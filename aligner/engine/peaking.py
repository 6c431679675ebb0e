"""Touches of a circuit that can only be peaked: where to peak which adjuster."""

from dataclasses import dataclass

import msgspec
import numpy as np

from aligner.engine.answers import Cannot, Result
from aligner.engine.asks import Peak, Read, Touch, Turning
from aligner.engine.bench import SURE, Bench, Standing, Target, standing_of
from aligner.engine.hand_words import peaked_manner, turn_words
from aligner.engine.history import Entry
from aligner.engine.instruments import received_spot
from aligner.engine.peak_phrases import COUNT_TURNS, EQUAL_FALL
from aligner.engine.tolerances import allowed_words, tolerance_hz
from aligner.engine.touch_reasons import GRAIN
from aligner.engine.touches import Plan, amount_of, direction_of, tune_words
from aligner.estimate.belief import Belief, CircuitBelief, belief_of
from aligner.estimate.best import Goal, Movable, best_of, doubts_of, errors_of
from aligner.estimate.ladder import Array
from aligner.procedure.model import TrackingStep
from aligner.quantity import show

_CURVE = 81
_FIRST_PEAK = (
    "Nothing of this circuit was peaked yet; peaks at two points, with the turns between, say where it stands."
)
_LOW = " Turned on past its peak the circuit reads low at every place: so it should."
STRONG = 0.5
"""Of what an adjuster moves at its own point: where it moves less, it is not peaked."""
SPENT = 1e-4
"""What is left of a travel that has come to its end, in the scaled settings."""


@dataclass(frozen=True)
class Scene:
    """What the choice of the next ask looks at."""

    bench: Bench
    step: TrackingStep
    belief: Belief
    circuit: CircuitBelief
    targets: tuple[Target, ...]
    peaks: tuple[Target, ...]
    standing: Standing
    plan: Plan
    way: str = "level"


def touches_of(scene: Scene) -> list[Entry]:
    """The touches and peaks of this step, oldest first."""
    entries = scene.bench.ledger.of_step(scene.step.id)
    return [e for e in entries if isinstance(e.ask, Turning) and isinstance(e.answer, Result)]


def target_at(scene: Scene, hz: float) -> Target:
    """A place that a generator is set to, with what the step allows there."""
    return Target(*received_spot(hz), hz, tolerance_hz(scene.bench, scene.step, hz))


def peak_ask(scene: Scene, name: str, target: Target, *, first: bool) -> Peak:
    """One adjuster peaked at a target."""
    handle = scene.belief.frame.handles[name]
    shift, _ = to_peak(scene, scene.circuit, name, target)
    amount = amount_of(scene.belief, name, shift)
    direction = direction_of(handle.setting, shift) if amount is not None else None
    where = f" ({handle.adjuster.where})" if handle.adjuster.where else ""
    turns = COUNT_TURNS if handle.adjuster.counted else ""
    hz = show(target.spot.hz, "Hz")
    most = "highest" if scene.bench.instruments.more_is_up else "lowest"
    return Peak(
        id=0,
        step=scene.step.id,
        text=(
            f"{tune_words(target)}, generator to {hz}. Peak {name}{where} for the {most} reading{EQUAL_FALL}"
            f"{turn_words(amount)}."
            f"{turns}{peaked_manner(scene.bench, handle.adjuster)}"
        ),
        why=_FIRST_PEAK if first else _peak_why(scene, target),
        adjuster=name,
        circuit=scene.step.circuit,
        point=target.point,
        generator=scene.bench.generator(target.spot.hz),
        find="max" if scene.bench.instruments.more_is_up else "min",
        fine=True,
        direction=direction,
        amount=amount,
    )


def level_ask(scene: Scene, target: Target, why: str) -> Read:
    """The level at a target, with nothing turned."""
    return level_read(
        scene.bench, scene.step.id, scene.step.circuit, target, f"{why}{_LOW if _turned_past(scene) else ''}"
    )


def level_read(bench: Bench, step: str, circuit: str, target: Target, why: str) -> Read:
    """The same for any circuit of any step."""
    return Read(
        id=0,
        step=step,
        text=f"{tune_words(target)}, generator to {show(target.spot.hz, 'Hz')}, and read the level; turn nothing.",
        why=why,
        quantity="level",
        circuit=circuit,
        point=target.point,
        generator=bench.generator(target.spot.hz),
    )


def _turned_past(scene: Scene) -> bool:
    """Whether the circuit was turned on past its peak last: what is read then looks like a meter that shows nothing."""
    touches = touches_of(scene)
    last = touches[-1].ask if touches else None
    return isinstance(last, Touch) and last.aim.quantity == "level"


def peak_again(scene: Scene, peak: Peak, shift: float) -> Peak:
    """A peak made once more with the tool still in its adjuster, by so much of a shift."""
    handle = scene.belief.frame.handles[peak.adjuster]
    amount = amount_of(scene.belief, peak.adjuster, shift)
    most = "highest" if scene.bench.instruments.more_is_up else "lowest"
    turns = COUNT_TURNS if handle.adjuster.counted else ""
    return msgspec.structs.replace(
        peak,
        id=0,
        text=(f"Leave the tool in {peak.adjuster} and peak it once more for the {most} reading{EQUAL_FALL}.{turns}"),
        why="The wand tells that the peak was not quite met; this is still the same touch.",
        direction=direction_of(handle.setting, shift) if amount is not None else None,
        amount=amount,
    )


def _peak_why(scene: Scene, target: Target) -> str:
    there = standing_of(scene.circuit, scene.belief, (target,))
    error, sd = float(there.errors_hz[0]), float(there.sd_hz[0])
    step, spread, way = target.tolerance_hz / GRAIN, SURE * sd, "high" if error > 0 else "low"
    here = (
        f"Here {scene.step.circuit} should be {show(abs(error), 'Hz', step, spread)} too {way}, "
        f"give or take {show(spread, 'Hz', step, error)}; {allowed_words(target.tolerance_hz)} is allowed."
    )
    return here + (_though_within(scene) if abs(error) + spread <= target.tolerance_hz else "")


def _though_within(scene: Scene) -> str:
    """Why an adjuster is peaked though it is surely within tolerance there: what it is for elsewhere in the band."""
    goal, best = scene.plan.goal, scene.plan.everything.worst
    errors, sd = np.abs(errors_of(scene.circuit, goal)), doubts_of(scene.circuit, goal)
    place = int(np.argmax(errors + sd))
    grain = float(goal.tolerance_hz[place]) / GRAIN
    now, doubt, left = (
        show(float(x * goal.tolerance_hz[place]), "Hz", grain) for x in (errors[place], SURE * sd[place], best)
    )
    return (
        f" But somewhere in the band the error is likely {now} (± {doubt}); balanced over the band "
        f"it would be at most about {left}."
    )


def peak_targets(belief: Belief, circuit: str, goal: Goal, targets: tuple[Target, ...]) -> tuple[Target, ...]:
    """Where to peak: where the curve of the best balance crosses nought, for there the peak is on the generator.

    Taken from the nominal curve, so that the places stay the same all through the job; the step's own points where the
    curve does not cross twice.
    """
    nominal = belief_of(belief.frame, ()).circuits[circuit]
    movable = tuple(
        Movable(h.adjuster.id, h.setting) for h in belief.frame.handles.values() if circuit in h.adjuster.circuits
    )
    settings = best_of(nominal, goal, movable).settings
    low, high = belief.frame.band.low_hz, belief.frame.band.high_hz
    z = np.linspace(low, high, _CURVE)
    error = nominal.hz(z, settings) - nominal.frame.wanted_hz(z)
    crossed = _crossings_hz(z, error)
    if len(crossed) < 2:
        return targets
    ends = [round_hz(hz, high - low) for hz in (crossed[0], crossed[-1])]
    tolerance = float(np.mean([t.tolerance_hz for t in targets]))
    return tuple(Target(*received_spot(hz), hz, tolerance) for hz in ends)


def _stood_still(scene: Scene, adjuster: str, target: Target) -> bool:
    """Whether at its last peak there the adjuster stood at its end already and did not turn at all."""
    here = [
        e
        for e in touches_of(scene)
        if isinstance(e.ask, Peak) and (e.ask.adjuster, e.ask.point) == (adjuster, target.point)
    ]
    ends = [isinstance(e.answer, Cannot) and e.answer.why == "end-of-travel" for e in here]
    return len(ends) > 1 and all(ends[-2:]) and not getattr(here[-1].answer, "turns", None)


def crossing_of(scene: Scene, name: str, own: Target, settings: Array) -> Target | None:
    """The place nearest an adjuster's own point where the circuit, moved by `settings`, stands on the generator.

    Not where the adjuster moves the circuit little: what a peak is missed by there is many times that at its own point.
    """
    low, high = scene.belief.frame.band.low_hz, scene.belief.frame.band.high_hz
    hz = np.linspace(low, high, _CURVE)
    z = scene.belief.places_hz(tuple(received_spot(float(x))[0] for x in hz))
    error = scene.circuit.hz(z, settings) - hz
    crossed = _crossings_hz(hz, error)
    push = scene.circuit.push(scene.belief.frame.handles[name].setting)
    strength = abs(scene.circuit.by_setting(np.array([own.spot.hz, *crossed])) @ push)
    crossed = [place for place, strong in zip(crossed, strength[1:], strict=True) if strong > STRONG * strength[0]]
    if not crossed:
        return None
    at = round_hz(min(crossed, key=lambda place: abs(place - own.spot.hz)), high - low)
    return Target(*received_spot(at), at, own.tolerance_hz)


def _crossings_hz(hz: Array, error: Array) -> list[float]:
    """Where a curve of errors over places [Hz] goes through nought, between its points by straight lines."""
    before = np.nonzero(np.diff(np.sign(error)) != 0)[0]
    return [float(hz[n] - error[n] * (hz[n + 1] - hz[n]) / (error[n + 1] - error[n])) for n in before]


def round_hz(hz: float, span_hz: float) -> float:
    """Rounded to a number that a person can set on a generator: about a two-hundredth of the span."""
    step = 10.0 ** np.floor(np.log10(span_hz / 100.0))
    return float(round(hz / step) * step)


def unreadable_at(scene: Scene, target: Target) -> bool:
    """Whether there was no level to be had at a target."""
    return (scene.step.id, "level", target.point) in scene.bench.ledger.unreadable


def to_peak(scene: Scene, circuit: CircuitBelief, name: str, target: Target) -> tuple[float, float]:
    """Shift of one adjuster alone that brings a circuit onto the generator, to first order, and its standard error."""
    z = scene.belief.places_hz((target.spot,))
    handle = scene.belief.frame.handles[name]
    wanted = circuit.frame.lny(np.array([target.wanted_hz]))[0]
    slope = circuit.by_setting(z)[0] @ circuit.push(handle.setting)
    return float((wanted - circuit.lny(z)[0]) / slope), float(np.sqrt(circuit.covariance(z)[0, 0]) / abs(slope))


def spent(scene: Scene, movable: Movable, target: Target) -> bool:
    """Whether an adjuster can no longer go where its peak at a target lies: it was tried twice, or that is sure."""
    if _stood_still(scene, movable.adjuster, target):
        return True
    if movable.up > SPENT and movable.down < -SPENT:
        return False
    shifts = [to_peak(scene, circuit, movable.adjuster, target) for circuit in (scene.circuit, *scene.circuit.others)]
    ways = [shift for shift, sd in shifts if abs(shift) > SURE * sd]
    if len(ways) < len(shifts):
        return movable.up <= SPENT and movable.down >= -SPENT
    return all((shift > 0 and movable.up <= SPENT) or (shift < 0 and movable.down >= -SPENT) for shift in ways)
