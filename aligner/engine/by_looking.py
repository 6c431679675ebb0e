"""A signal circuit that is seen without touching it: by a wand, or by the voltage that peaks its stage alone.

Ferrite raises the level where more inductance is wanted, brass where less; with levels in decibels a wand test tells
how far off the circuit is and on which side, and the pull of the wand on that coil is learned from every test and peak.
A varactor stage whose voltage is moved alone, while oscillator and generator stay, peaks at another voltage than the
set's own: there it stands where the set would receive the generator with that voltage. So the work goes as with
readings of the resonance: look at the points, set each adjuster once to where the plan puts it, look again.
"""

from aligner.engine.answers import Cannot
from aligner.engine.asks import Ask, Peak, Read, Touch, Turning, Wand
from aligner.engine.bench import LIKELY, SAFE, Bench, Outcome, Target, goal_of, movables, standing_of
from aligner.engine.by_reading import STILL_SURE
from aligner.engine.curve_looks import curve_look
from aligner.engine.history import Entry
from aligner.engine.instruments import received_spot
from aligner.engine.ledger import touch_count
from aligner.engine.looking_touches import (
    held_ask,
    missed_place,
    once_more,
    onward,
    others_of,
    own_target,
    shift_alone,
    still_there,
)
from aligner.engine.looks import common_volts, scale_of
from aligner.engine.outcomes import busy
from aligner.engine.peaking import SPENT, Scene, crossing_of, peak_ask, spent, touches_of
from aligner.engine.step_reports import doubt_words, limit_words, report_of
from aligner.engine.touches import plan_for, spare_for, tune_words
from aligner.engine.trends import wand_ask
from aligner.estimate.belief import Belief
from aligner.estimate.best import Goal, best_of
from aligner.procedure.model import TrackingStep
from aligner.quantity import show

MOST_TOUCHES = 6
"""Touches of one step and adjuster after which wand and level will not tell more."""
VAGUE = 0.2
"""A point is looked at when its error is known no better than this share of the tolerance (standard error)."""
ROUGH = 0.1
"""A point that is far off need not be known better than to this share of its error."""
LOOKS = {"wand": 2, "stage-voltage": 4}
"""How often a point is looked at with nothing turned in between: a plain peak by voltage is blunt, its mean is not."""
WORTH = {"wand": 0.12, "stage-voltage": 0.06}
"""In tolerances: another touch must make the greatest error of the band less by so much, and by more than doubt leaves.

By wand it is dearer: three tests are to be made at every point after it.
"""
DEAR = {"wand": 0.3, "stage-voltage": 0.2}
"""The same of a circuit whose adjusters were visited twice each: what is left then is mostly the hand."""
_DOUBTED = {"wand": 1.1, "stage-voltage": 0.5}
"""Standard errors of the points that a touch must better."""
_VAGUE_PULL = 0.1


def work(
    bench: Bench,
    step: TrackingStep,
    belief: Belief,
    targets: tuple[Target, ...],
    goals: tuple[Goal, ...],
    *,
    way: str,
    passed: bool,
) -> Outcome:
    """Report and next ask of one signal circuit that is looked at by a wand or by its stage's own voltage."""
    circuit = belief.circuits[step.circuit]
    standing = standing_of(circuit, belief, targets)
    if passed and standing.worst <= 1.0 and standing.worst_sure <= STILL_SURE:
        return Outcome(report_of(step, standing, "held", ""))
    touched = frozenset(e.ask.adjuster for e in bench.ledger.of_step(step.id) if isinstance(e.ask, Turning))
    own = goal_of(belief, targets)
    price, spare = _price(bench, step, standing.doubt, way), spare_for(SAFE * standing.doubt)
    plan = plan_for(bench, belief, circuit, goals, own, touched, slack_again=price, spare=spare)
    scene = Scene(bench, step, belief, circuit, targets, targets, standing, plan, way)
    worth = _gain(scene) > price
    beyond = None if passed else _beyond(scene)
    if standing.worst_at(SAFE) <= 1.0 and not worth and not _untested(scene) and beyond is None:
        return Outcome(report_of(step, standing, "held", ""))
    ask = _next(scene, worth=worth)
    if ask is not None:
        return Outcome(report_of(step, standing, busy(passed=passed), f"by {way}"), ask)
    if standing.worst_at(LIKELY) <= 1.0:
        return Outcome(report_of(step, standing, "held", "as far as this way of seeing can tell"))
    inside = standing.worst <= 1.0
    why = doubt_words(standing, targets, way) if inside else limit_words(bench, belief, circuit, standing, targets)
    return Outcome(report_of(step, standing, "at-limit", why))


def _beyond(scene: Scene) -> Read | None:
    """A level beyond the points: it costs no touch, before and after one, and looks by voltage are blunter."""
    return curve_look(scene, touches_of(scene), after=0) if scene.way == "stage-voltage" else None


def first_look(bench: Bench, step: TrackingStep, targets: tuple[Target, ...]) -> Wand | None:
    """A wand test of a point before anything of the circuit is turned, on a meter that only tells up from down.

    Then a wand tells the side, and nothing of the distance: the rest is left to peaks and turns.
    """
    entries = bench.ledger.of_step(step.id)
    tested = {e.ask.point for e in entries if isinstance(e.ask, Wand)}
    if any(isinstance(e.ask, Turning) for e in entries):
        return None
    left = [t for t in targets if t.point not in tested]
    return wand_ask(bench, step, left[0]) if left else None


def _price(bench: Bench, step: TrackingStep, doubt: float, way: str) -> float:
    """By how much, in tolerances, another touch must better the band, where errors are known to `doubt`."""
    usual = 2 * len(bench.procedure.circuit(step.circuit).adjusters)
    return DEAR[way] if touch_count(bench.ledger.of_step(step.id)) >= usual else max(WORTH[way], _DOUBTED[way] * doubt)


def _gain(scene: Scene) -> float:
    """By how much, in tolerances, the best touches that are left would better the greatest error of the band."""
    return best_of(scene.circuit, scene.plan.goal, ()).worst - scene.plan.everything.worst


def _next(scene: Scene, *, worth: bool) -> Ask | None:
    """On past a peak just made, where the way is known; look at what is not known; else the next touch of the plan."""
    touches = touches_of(scene)
    last = touches[-1] if touches else None
    for place in (_unknown_pull(scene, last), missed_place(scene, last)):
        if place is not None and not _looks_at(scene, place):
            return wand_ask(scene.bench, scene.step, place)
    again = once_more(scene, last)
    if again is not None:
        return again
    ahead = onward(scene, last)
    if ahead is not None and still_there(scene, last):
        return ahead
    untested = _untested(scene)
    look = _look_ask(scene, untested[0]) if untested else _beyond(scene)
    if look is not None:
        return look
    if len(touches) >= MOST_TOUCHES * max(len(scene.bench.procedure.circuit(scene.step.circuit).adjusters), 1):
        return None
    return _touch(scene, last) if worth or scene.standing.worst_at(SAFE) > 1.0 else None


def _unknown_pull(scene: Scene, last: Entry | None) -> Target | None:
    """The place of a peak just made, for a test that tells the wand's pull on this coil."""
    column = scene.circuit.fit.layout.wand.get(scene.step.circuit)
    if scene.way != "wand" or last is None or not isinstance(last.ask, Peak) or last.ask.generator is None:
        return None
    if not still_there(scene, last) or not scene.plan.order:
        return None
    hz = last.ask.generator.hz
    target = Target(*received_spot(hz), hz, scene.targets[0].tolerance_hz)
    variance = 1.0 if column is None else float(scene.circuit.fit.covariance[column, column])
    return None if _looks_at(scene, target) or variance < _VAGUE_PULL**2 else target


def _untested(scene: Scene) -> list[Target]:
    """Points whose error is not known well enough, or only supposed, and not looked at often enough since a touch."""
    rows = zip(scene.targets, scene.standing.errors_hz, scene.standing.sd_hz, strict=True)
    vague = [t for t, error, sd in rows if _vague(t, abs(float(error)), float(sd)) or _unseen(scene, t)]
    most = LOOKS[scene.way] if scene.standing.worst <= 1.0 or scene.way != "wand" else 1
    left = [t for t in vague if _looks_at(scene, t) < most and not _nothing_there(scene, t)]
    return sorted(left, key=lambda t: _looks_at(scene, t))


def _vague(target: Target, error_hz: float, sd_hz: float) -> bool:
    """Whether another look is worth its time: the limit lies within doubt, or the way to go is too little known."""
    inside = error_hz <= target.tolerance_hz
    doubtful = inside and error_hz + SAFE * sd_hz > target.tolerance_hz
    return doubtful or sd_hz > max(VAGUE * target.tolerance_hz, ROUGH * error_hz)


def _unseen(scene: Scene, target: Target) -> bool:
    """Whether a circuit that is believed right was neither peaked nor looked at there since it was moved."""
    touches = touches_of(scene)
    peaked = bool(touches) and isinstance(touches[-1].ask, Peak) and touches[-1].ask.point == target.point
    return scene.standing.worst <= 1.0 and not peaked and not _looks_at(scene, target)


def _looks_at(scene: Scene, target: Target) -> int:
    """How often a place was looked at since the last movement of the circuit, even where there was nothing to see."""
    return len(_looks(scene, target))


def _nothing_there(scene: Scene, target: Target) -> bool:
    """Whether there was nothing to see at a place as the circuit stands now: an adjuster may bring it back."""
    return any(isinstance(e.answer, Cannot) for e in _looks(scene, target))


def _looks(scene: Scene, target: Target) -> list[Entry]:
    last = scene.bench.last_move(scene.step.circuit)
    entries = [e for e in scene.bench.ledger.of_step(scene.step.id) if 2 * e.seq > last]
    return [e for e in entries if isinstance(e.ask, Wand | Read) and e.ask.circuit and e.ask.point == target.point]


def _touch(scene: Scene, last: Entry | None) -> Peak | Touch | None:
    """The next adjuster of the plan, another one than last where the plan moves others too."""
    rows = {m.adjuster: m for m in movables(scene.bench, scene.belief, scene.circuit)}
    just = last.ask.adjuster if last is not None and isinstance(last.ask, Turning) else ""
    names = [a for a in scene.plan.order if abs(scene.plan.chosen.shifts[a]) > SPENT]
    for name in sorted(names, key=lambda a: a == just):
        best = scene.plan.chosen if others_of(scene, name) else best_of(scene.circuit, scene.plan.goal, (rows[name],))
        target = crossing_of(scene, name, own_target(scene, name), shift_alone(scene, best, name))
        if target is None and scene.way == "stage-voltage":
            held = _held(scene, name)
            if held is not None:
                return held
        target = target or own_target(scene, name)
        same = last is not None and isinstance(last.ask, Peak) and (name, target.point) == (just, last.ask.point)
        if not spent(scene, rows[name], target) and not (same and last is not None and still_there(scene, last)):
            return peak_ask(scene, name, target, first=last is None)
    return None


def _held(scene: Scene, name: str) -> Touch | None:
    scale = scale_of(scene.bench.procedure, scene.step.id, scene.bench.ledger.entries)
    return None if scale is None else held_ask(scene, name, scale)


def _look_ask(scene: Scene, target: Target) -> Wand | Read:
    """The look at a point by the way of seeing that is in force; common voltages before those of the stage."""
    if scene.way == "wand":
        return wand_ask(scene.bench, scene.step, target)
    since = scene.bench.last_move(scene.belief.frame.oscillator)
    entries = scene.bench.ledger.entries
    unread = [t for t in scene.targets if common_volts(entries, t.spot.hz, since) is None and _common(scene, t)]
    place = unread[0] if unread else target
    hz = show(place.spot.hz, "Hz")
    stage = "" if unread else scene.step.circuit
    what = (
        f"Move the tuning voltage of {stage} alone until the level is highest, and read that voltage"
        if stage
        else "Read the tuning voltage that all circuits have"
    )
    return Read(
        id=0,
        step=scene.step.id,
        text=f"{tune_words(place)}, generator to {hz}. {what}; turn nothing.",
        why="A stage that peaks above the common voltage stands too low, one that peaks below it too high.",
        quantity="volts",
        circuit=stage,
        point=place.point,
        generator=scene.bench.generator(place.spot.hz),
    )


def _common(scene: Scene, target: Target) -> bool:
    """Whether the common voltage of a place can be read, as far as is known."""
    return (scene.step.id, "volts", target.point) not in scene.bench.ledger.unreadable
