"""A circuit whose resonance cannot be read: its adjusters are peaked on the level, and turned on past the peak.

A peak on a known generator says where the circuit stands there and then. What lies between the peaks is not seen: with
one adjuster right and the other wrong the circuit peaks nowhere on the set's own tuning. So the counted adjuster is
turned on past its peak by the part that the model gives, the other is peaked again at its own point, and the first peak
has come right; how far it still moves when it is peaked for a check says how true that was.
"""

from dataclasses import dataclass

import numpy as np

from aligner.engine.answers import Cannot, Reading
from aligner.engine.asks import Aim, Ask, Peak, Point, Read, Touch
from aligner.engine.bench import SURE, Bench, Outcome, Standing, Target, goal_of, movables, standing_of
from aligner.engine.by_reading import STILL_SURE, limit_words, report_of
from aligner.engine.history import Entry
from aligner.engine.instruments import received_spot
from aligner.engine.survey import StepState
from aligner.engine.touches import Plan, amount_of, direction_of, place_words, plan_for, target_for, way_words
from aligner.estimate.belief import Belief, CircuitBelief, belief_of
from aligner.estimate.best import Goal, Movable, best_of
from aligner.procedure.model import TrackingStep
from aligner.quantity import show

LIKELY = 1.28
"""Standard errors that hold nine errors in ten on one side: what is asked of a level that will not tell more."""
MOST_TOUCHES = 7
"""Touches of one step and adjuster after which the level will not tell more."""
_CURVE = 81
_FIRST_PEAK = "Nothing is known of this circuit yet; peaks at two points, with the turns between, say where it stands."
SPENT = 1e-4
"""What is left of a travel that has come to its end, in the scaled settings."""
LEAST_TRUST = 0.4
"""Below this the way past a peak is known no better than that there is one."""
LEAST_TURN = 0.09
"""Turns that are not worth turning: less than an eighth cannot be counted."""


@dataclass(frozen=True)
class _Scene:
    """What the choice of the next ask looks at."""

    bench: Bench
    step: TrackingStep
    belief: Belief
    circuit: CircuitBelief
    targets: tuple[Target, ...]
    peaks: tuple[Target, ...]
    standing: Standing
    plan: Plan


def work(
    bench: Bench,
    step: TrackingStep,
    belief: Belief,
    targets: tuple[Target, ...],
    goals: tuple[Goal, ...],
    *,
    passed: bool,
) -> Outcome:
    """Report and next ask of one signal circuit that is seen by the level."""
    circuit = belief.circuits[step.circuit]
    standing = standing_of(circuit, belief, targets)
    if standing.worst <= 1.0 and standing.worst_sure <= (STILL_SURE if passed else 1.0):
        return Outcome(report_of(step, standing, "held", ""))
    plan = plan_for(bench, belief, circuit, goals, goal_of(belief, targets), frozenset())
    peaks = peak_targets(belief, step.circuit, goals[0], targets)
    scene = _Scene(bench, step, belief, circuit, targets, peaks, standing, plan)
    ask = _next(scene)
    busy: StepState = "disturbed" if passed else "to-do"
    if ask is None and standing.worst_at(LIKELY) <= 1.0:
        return Outcome(report_of(step, standing, "held", "as far as the level can tell: nine times in ten"))
    if ask is None:
        return Outcome(report_of(step, standing, "at-limit", limit_words(bench, belief, circuit, standing, targets)))
    return Outcome(report_of(step, standing, busy, "by level"), ask)


def _next(scene: _Scene) -> Ask | None:
    """Turn on past a peak just made; else look where a level tells enough; else peak the adjuster that tells most."""
    touches = _touches(scene)
    if len(touches) >= MOST_TOUCHES * max(len(scene.bench.procedure.circuit(scene.step.circuit).adjusters), 1):
        return None
    onward = _past_the_peak(scene, touches)
    if onward is not None:
        return onward
    look = _telling_level(scene)
    if look is not None:
        return look
    return _peak(scene, touches)


def _touches(scene: _Scene) -> list[Entry]:
    entries = scene.bench.ledger.of_step(scene.step.id)
    return [e for e in entries if isinstance(e.ask, Touch | Peak) and isinstance(e.answer, Reading | Cannot)]


def _past_the_peak(scene: _Scene, touches: list[Entry]) -> Touch | None:
    """After a counted peak: the rest of its way in turns, where that is known better than it is long."""
    if not touches or not isinstance(touches[-1].ask, Peak) or not isinstance(touches[-1].answer, Reading):
        return None
    ask = touches[-1].ask
    handle = scene.belief.frame.handles[ask.adjuster]
    if (
        touches[-1].answer.turns is None
        or not handle.adjuster.counted
        or ask.adjuster not in scene.plan.everything.shifts
    ):
        return None
    way = _turns_to_go(scene, ask.adjuster)
    if way is None:
        return None
    turns, sd = way
    trust = turns**2 / (turns**2 + sd**2)
    rounded = round(trust * turns * 8.0) / 8.0
    if trust < LEAST_TRUST or abs(rounded) < LEAST_TURN:
        return None
    return _turn_ask(scene, ask, rounded, scene.plan.everything.shifts[ask.adjuster])


def _turns_to_go(scene: _Scene, adjuster: str) -> tuple[float, float] | None:
    """Turns from here to an adjuster's best setting, with their standard error; None where its effect is not known.

    The effect per turn and the way in the settings are both uncertain, but together: their quotient is what the peaks
    have told. With x the way and e the effect, n = x/e and dn = (dx - n de)/e.
    """
    fit, circuit = scene.circuit.fit, scene.circuit
    effect = fit.effect(adjuster)
    if effect is None:
        return None
    turns = scene.plan.everything.shifts[adjuster] / effect[0]
    z = scene.belief.places_hz(tuple(t.spot for t in scene.targets))
    settings = sorted({scene.belief.frame.handles[a].setting for a in scene.plan.everything.shifts})
    solve = np.linalg.pinv(circuit.by_setting(z) @ np.array([circuit.push(k) for k in settings]).T)
    row = solve[settings.index(scene.belief.frame.handles[adjuster].setting)]
    by_unknown = -row @ circuit.jacobian(z) / effect[0] - turns * fit.effect_row(adjuster, ahead=0.5 * turns)
    unseen = row @ circuit.unseen(z) @ row / effect[0] ** 2
    return float(turns), float(np.sqrt(by_unknown @ fit.covariance @ by_unknown + unseen))


def _turn_ask(scene: _Scene, peak: Peak, turns: float, shift: float) -> Touch:
    handle = scene.belief.frame.handles[peak.adjuster]
    direction = direction_of(handle.setting, shift)
    others = " and ".join(a for a in scene.plan.everything.shifts if a != peak.adjuster) or "nothing else"
    way = "clockwise" if turns > 0 else "anticlockwise"
    size = show(abs(turns), "turn")
    return Touch(
        id=0,
        step=scene.step.id,
        text=f"Leave the tool in {peak.adjuster} and turn on past the peak by {size} {way} ({way_words(handle.adjuster, direction)}).",
        why=f"The peak is not where {peak.adjuster} belongs: with it {size} further, {others} will bring the peak back, at every point.",
        adjuster=peak.adjuster,
        circuit=peak.circuit,
        point=peak.point,
        generator=peak.generator,
        aim=Aim("turns", turns, 0.125),
        direction=direction,
        amount=amount_of(scene.belief, peak.adjuster, shift),
    )


def _telling_level(scene: _Scene) -> Read | None:
    """A level where the circuit was peaked before, not read since the last touch, and doubtful: it may spare a touch."""
    bench, circuit = scene.bench, scene.step.circuit
    if scene.standing.worst > 1.0 or not bench.instruments.in_db:
        return None
    last = bench.last_move(circuit)
    standing = standing_of(scene.circuit, scene.belief, scene.peaks)
    for target, error, sd in zip(scene.peaks, standing.errors_hz, standing.sd_hz, strict=True):
        doubtful = abs(error) + SURE * sd > target.tolerance_hz
        levels = [x for x in bench.ledger.levels if x.circuit == circuit and x.hz == target.spot.hz]
        peaked = [x for x in levels if x.peaked]
        fresh = any(x.seq > last for x in levels)
        if (
            doubtful
            and peaked
            and not fresh
            and _untouched_since(scene, peaked[-1].seq)
            and sd > 0.6 * _blind_hz(scene, target)
        ):
            return _level_ask(scene, target)
    return None


def _untouched_since(scene: _Scene, seq: int) -> bool:
    """Whether no adjuster of another circuit was moved since: then a fall from that peak is this circuit's own."""
    for event in scene.bench.ledger.events:
        adjuster = getattr(event, "adjuster", None)
        others = adjuster is not None and scene.step.circuit not in scene.bench.procedure.adjuster(adjuster).circuits
        if others and event.seq > seq:
            return False
    return True


def _blind_hz(scene: _Scene, target: Target) -> float:
    """The standard error [Hz] that a level at the peak would leave, for the meter's own uncertainty."""
    reach_db = SURE * scene.bench.instruments.level_sd_db()
    return float(np.sqrt(10.0 ** (reach_db / 10.0) - 1.0) / SURE * target.spot.hz / (2.0 * scene.circuit.frame.q))


def _level_ask(scene: _Scene, target: Target) -> Read:
    return Read(
        id=0,
        step=scene.step.id,
        text=f"Set {place_words(target)}, generator to {show(target.spot.hz, 'Hz')}, and read the level; turn nothing.",
        why="The circuit was peaked here before; how far the level lies below that peak may spare a touch.",
        quantity="level",
        circuit=scene.step.circuit,
        point=target.point,
        generator=scene.bench.generator(target.spot.hz),
    )


def _peak(scene: _Scene, touches: list[Entry]) -> Peak | None:
    """The adjuster to peak next, at its own point."""
    name = _choice(scene, touches)
    if name is None:
        return None
    handle = scene.belief.frame.handles[name]
    target = _peak_target(scene, name)
    shift, _ = _to_peak(scene, scene.circuit, name, target)
    amount = amount_of(scene.belief, name, shift)
    direction = direction_of(handle.setting, shift) if amount is not None else None
    where = f" ({handle.adjuster.where})" if handle.adjuster.where else ""
    turns = " Count the turns from where it stands now." if handle.adjuster.counted else ""
    hz = show(target.spot.hz, "Hz")
    most = "highest" if scene.bench.instruments.more_is_up else "lowest"
    return Peak(
        id=0,
        step=scene.step.id,
        text=f"Set {place_words(target)}, generator to {hz}. Peak {name}{where} for the {most} reading, as the middle between two settings of equal fall.{turns}",
        why=_peak_why(scene, target) if touches else _FIRST_PEAK,
        adjuster=name,
        circuit=scene.step.circuit,
        point=target.point,
        generator=scene.bench.generator(target.spot.hz),
        find="max" if scene.bench.instruments.more_is_up else "min",
        fine=True,
        direction=direction,
        amount=amount,
    )


def _peak_why(scene: _Scene, target: Target) -> str:
    there = standing_of(scene.circuit, scene.belief, (target,))
    error, sd = float(there.errors_hz[0]), float(there.sd_hz[0])
    step = target.tolerance_hz / 20.0
    return (
        f"Here {scene.step.circuit} should be {show(abs(error), 'Hz', step)} too {'high' if error > 0 else 'low'}, "
        f"give or take {show(SURE * sd, 'Hz', step)}; {show(target.tolerance_hz, 'Hz')} is allowed."
    )


def _peak_target(scene: _Scene, name: str) -> Target:
    """An adjuster's own point; a counted one that nobody has peaked yet begins at the other end, to be counted across."""
    usable = tuple(t for t in scene.peaks if not _dumb(scene, t)) or scene.peaks
    own = target_for(scene.belief.frame.handles[name].setting, usable)
    if _begins_across(scene, name):
        return max(usable, key=lambda t: abs(t.spot.hz - own.spot.hz))
    return own


def _begins_across(scene: _Scene, name: str) -> bool:
    handle = scene.belief.frame.handles[name]
    return handle.adjuster.counted and len(scene.plan.everything.shifts) > 1 and not _touches(scene)


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
    low, high = min(t.spot.hz for t in targets), max(t.spot.hz for t in targets)
    z = np.linspace(low, high, _CURVE)
    error = nominal.hz(z, settings) - nominal.frame.wanted_hz(z)
    crossed = np.nonzero(np.diff(np.sign(error)) != 0)[0]
    if len(crossed) < 2:
        return targets
    ends = [
        _round_hz(float(z[n] - error[n] * (z[n + 1] - z[n]) / (error[n + 1] - error[n])), high - low)
        for n in (crossed[0], crossed[-1])
    ]
    tolerance = float(np.mean([t.tolerance_hz for t in targets]))
    return tuple(Target(*received_spot(hz), hz, tolerance) for hz in ends)


def _round_hz(hz: float, span_hz: float) -> float:
    """Rounded to a number that a person can set on a generator: about a two-hundredth of the span."""
    step = 10.0 ** np.floor(np.log10(span_hz / 100.0))
    return float(round(hz / step) * step)


def _dumb(scene: _Scene, target: Target) -> bool:
    return (scene.step.id, "level", target.point) in scene.bench.ledger.unreadable


def _to_peak(scene: _Scene, circuit: CircuitBelief, name: str, target: Target) -> tuple[float, float]:
    """Shift of one adjuster alone that brings a circuit onto the generator, to first order, and its standard error."""
    z = scene.belief.places_hz((target.spot,))
    handle = scene.belief.frame.handles[name]
    wanted = circuit.frame.lny(np.array([target.wanted_hz]))[0]
    slope = circuit.by_setting(z)[0] @ circuit.push(handle.setting)
    return float((wanted - circuit.lny(z)[0]) / slope), float(np.sqrt(circuit.covariance(z)[0, 0]) / abs(slope))


def _choice(scene: _Scene, touches: list[Entry]) -> str | None:
    """A counted adjuster first, across the band and then at its own point; after that whichever point is least right."""
    free = [m.adjuster for m in movables(scene.bench, scene.belief, scene.circuit) if not _spent(scene, m)]
    if not free or all(_dumb(scene, t) for t in scene.peaks):
        return None
    if not touches:
        return max(free, key=lambda a: scene.belief.frame.handles[a].adjuster.counted)
    just = _visit(touches[-1])
    others = [a for a in free if (a, _peak_target(scene, a).point) != just]
    if not others:
        return None
    return max(others, key=lambda a: standing_of(scene.circuit, scene.belief, (_peak_target(scene, a),)).worst_sure)


def _visit(entry: Entry) -> tuple[str, Point] | None:
    return (entry.ask.adjuster, entry.ask.point) if isinstance(entry.ask, Touch | Peak) else None


def _spent(scene: _Scene, movable: Movable) -> bool:
    """Whether an adjuster can surely no longer go where its peak lies."""
    if movable.up > SPENT and movable.down < -SPENT:
        return False
    target = _peak_target(scene, movable.adjuster)
    shifts = [_to_peak(scene, circuit, movable.adjuster, target) for circuit in (scene.circuit, *scene.circuit.others)]
    ways = [shift for shift, sd in shifts if abs(shift) > SURE * sd]
    if len(ways) < len(shifts):
        return movable.up <= SPENT and movable.down >= -SPENT
    return all((shift > 0 and movable.up <= SPENT) or (shift < 0 and movable.down >= -SPENT) for shift in ways)
