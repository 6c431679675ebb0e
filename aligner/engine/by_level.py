"""A circuit whose resonance cannot be read: its adjusters are peaked on the level, and turned on past the peak.

A peak on a known generator says where the circuit stands there and then. With one adjuster right and the other wrong
the circuit peaks nowhere on the set's own tuning, so the half-way aim cannot be read. What can be read is the fall: the
coil is peaked at the low end, the trimmer at the high end, and back at the low end the level lies so many decibels
below its own peak: so many widths off, on one side or the other. The coil is peaked there again and turned on past it
until the level has fallen by what the model gives (`past_peak`); the trimmer is peaked at its end, and both ends are
right. Looks at the level cost no touch, so they are taken wherever they tell (`curve_looks`), and once more before a
step is held. Near its place any adjuster may be peaked anywhere: `peaks_ahead` finds which peak, or pair of peaks, is
worth it; farther off an adjuster is peaked where the curve must cross nought (`last_touches`).
Where the meter's law is not known there are no falls: then counted turns must do (`by_turns`).
"""

import msgspec
import numpy as np

from aligner.engine.answers import Cannot, Reading, Result
from aligner.engine.asks import Ask, Peak, Point, Read, Touch, Turning
from aligner.engine.bench import (
    EVEN,
    LIKELY,
    SAFE,
    SURE,
    Bench,
    Outcome,
    Standing,
    Target,
    goal_of,
    movables,
    standing_of,
)
from aligner.engine.by_reading import AGREED, STILL_SURE
from aligner.engine.by_turns import pair_of
from aligner.engine.by_turns import work as work_by_turns
from aligner.engine.curve_looks import curve_look
from aligner.engine.history import Entry
from aligner.engine.last_touches import WORTH, by_itself, few, last_target, many, safer, to_gain
from aligner.engine.ledger import went_against
from aligner.engine.outcomes import busy
from aligner.engine.past_peak import LEAST_TRUST, WELL_TRUSTED, past_the_peak
from aligner.engine.peaking import (
    Scene,
    crossing_of,
    level_ask,
    peak_ask,
    peak_targets,
    spent,
    touches_of,
    unreadable_at,
)
from aligner.engine.peaks_ahead import peak_ahead
from aligner.engine.step_reports import limit_words, report_of
from aligner.engine.tolerances import allowed_words
from aligner.engine.touches import plan_for, spare_for, target_for
from aligner.estimate.belief import Belief
from aligner.estimate.best import Goal, Movable, best_of
from aligner.estimate.ladder import COIL
from aligner.procedure.model import TrackingStep
from aligner.quantity import show

_SPARING = "The circuit was peaked here before; how far the level lies below that peak may spare a touch."
_UNSURE = "was turned for an answer that does not count, so it is to be peaked again first."
MOST_ALONE = 2
"""Peaks between the usual places after which a balance with one adjuster left will not come nearer."""
MOST_TOUCHES = 7
"""Touches of one step and adjuster after which the level will not tell more."""


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
    spare = spare_for(SURE * standing.doubt)
    plan = plan_for(bench, belief, circuit, goals, goal_of(belief, targets), frozenset(), spare=spare)
    peaks = peak_targets(belief, step.circuit, goals[0], targets)
    scene = Scene(bench, step, belief, circuit, targets, peaks, standing, plan)
    passed = passed and not _heard_late(scene)
    pair = None if bench.instruments.in_db else pair_of(scene, goals[0])
    by_turns = None if pair is None else work_by_turns(scene, pair, passed=passed)
    if by_turns is not None:
        return by_turns
    if standing.worst <= 1.0 and (standing.worst_at(1.0) <= STILL_SURE if passed else standing.worst_at(SAFE) <= 1.0):
        finer = None if passed else _finer(scene)
        if finer is None:
            return Outcome(report_of(step, standing, "held", ""))
        return Outcome(report_of(step, standing, "to-do", "by level"), finer)
    ask = None if passed and _as_it_was_left(scene) else _next(scene)
    if ask is None and standing.worst_at(EVEN) <= 1.0:
        sure = "nine times in ten" if standing.worst_at(LIKELY) <= 1.0 else "more likely than not"
        return Outcome(report_of(step, standing, "held", f"as far as the level can tell: {sure}"))
    if ask is None:
        out = standing.worst > 1.0
        why = limit_words(bench, belief, circuit, standing, targets) if out else unsure_words(standing, targets)
        return Outcome(report_of(step, standing, "at-limit", why))
    return Outcome(report_of(step, standing, busy(passed=passed), "by level"), ask)


def _finer(scene: Scene) -> Ask | None:
    """What a circuit within tolerance is still asked for: looks that may tell otherwise, and a touch worth while."""
    touches = touches_of(scene)
    look = _telling_level(scene) or curve_look(scene, touches)
    return _ahead(scene, touches) if look is None else look


def _ahead(scene: Scene, touches: list[Entry]) -> Peak | None:
    """The peak that what is still to do is planned to begin with, once both ends were peaked."""
    return None if len(touches) < 2 or many(touches) else peak_ahead(scene, late=not few(touches))


def unsure_words(standing: Standing, targets: tuple[Target, ...]) -> str:
    """What keeps a circuit from being held that is within tolerance by expectation only."""
    doubt = np.abs(standing.errors_hz) + SURE * standing.sd_hz
    worst = int(np.argmax(doubt / standing.tolerance_hz))
    if doubt[worst] <= standing.tolerance_hz[worst]:
        return "likely within tolerance, but the level leaves open which way an adjuster works"
    target, most = targets[worst], show(float(doubt[worst]), "Hz", float(standing.tolerance_hz[worst]) / 20.0)
    allowed = allowed_words(target.tolerance_hz)
    at = show(target.spot.hz, "Hz")
    return f"likely within tolerance, but the level cannot tell: up to {most} off at {at}, {allowed} is allowed"


def _next(scene: Scene) -> Ask | None:
    """Turn on past a peak just made; else look where a level tells enough; else peak the adjuster that tells most."""
    touches = touches_of(scene)
    if len(touches) >= MOST_TOUCHES * max(len(scene.bench.procedure.circuit(scene.step.circuit).adjusters), 1):
        return None
    back = _gone_wrong(scene, touches)
    if back is not None:
        return back
    again = _turned_unread(scene)
    if again is not None:
        peak = peak_ask(scene, again, _peak_target(scene, again), first=False)
        return msgspec.structs.replace(peak, why=f"{again} {_UNSURE} {peak.why}")
    look = _telling_level(scene)
    onward = None
    if touches and not _alone(scene, touches[-1]):
        onward = past_the_peak(scene, touches, LEAST_TRUST if look is None else WELL_TRUSTED)
    look = look or curve_look(scene, touches)
    if onward is not None or look is not None:
        return onward or look
    ahead = _ahead(scene, touches)
    if ahead is not None:
        return ahead
    name = None if _no_nearer(scene, touches) or _stood(scene, touches) else _choice(scene, touches)
    first = not touches and not scene.bench.seen_since(scene.step.circuit, -1)
    return None if name is None else peak_ask(scene, name, _peak_target(scene, name), first=first)


def _stood(scene: Scene, touches: list[Entry]) -> bool:
    """Whether the last two peaks, of two adjusters, turned nothing: without decibels more of them tell no more."""
    last = touches[-2:]
    turns = [e.answer.turns for e in last if isinstance(e.ask, Peak) and isinstance(e.answer, Reading)]
    apart = len({_visit(e) for e in last}) > 1
    return apart and turns == [0.0, 0.0] and not scene.bench.instruments.in_db


def _as_it_was_left(scene: Scene) -> bool:
    """Whether nothing of the circuit or the oscillator was moved since the step's own last entry."""
    own = scene.bench.ledger.of_step(scene.step.id)
    moved = max(scene.bench.last_move(c) for c in (scene.step.circuit, scene.belief.frame.oscillator))
    return bool(touches_of(scene)) and moved <= 2 * own[-1].seq


def _heard_late(scene: Scene) -> bool:
    """Whether the circuit gave nothing until another one was peaked: then its step begins only now."""
    first = next((e for e in scene.bench.ledger.of_step(scene.step.id) if isinstance(e.ask, Peak)), None)
    silent = first is not None and isinstance(first.answer, Cannot) and first.answer.why == "no-reading"
    still = {(at, point) for at, quantity, point in scene.bench.ledger.unreadable if quantity == "level"}
    return silent and first is not None and (scene.step.id, getattr(first.ask, "point", None)) not in still


def _no_nearer(scene: Scene, touches: list[Entry]) -> bool:
    """Whether both ends were just peaked, the circuit is likely within tolerance and the best balance hardly better."""
    if (
        scene.standing.worst_at(EVEN) > 1.0
        or len(touches) < 2
        or not all(isinstance(e.ask, Peak) for e in touches[-2:])
    ):
        return False
    if _visit(touches[-1]) == _visit(touches[-2]):
        return False
    return to_gain(scene) < WORTH and not safer(scene, touches)


def _alone(scene: Scene, touched: Entry) -> bool:
    """Whether no other adjuster is left that could bring the peak back after this one was turned on."""
    name = getattr(touched.ask, "adjuster", "")
    rows = [m for m in movables(scene.bench, scene.belief, scene.circuit) if m.adjuster != name]
    return all(_ended(scene, m, scene.peaks) for m in rows)


def _gone_wrong(scene: Scene, touches: list[Entry]) -> Peak | None:
    """Back to the peak, in the same visit, when a screw turned out to work the other way round."""
    if not touches or not isinstance(touches[-1].ask, Touch) or not isinstance(touches[-1].answer, Result):
        return None
    ask = touches[-1].ask
    if not went_against(ask, touches[-1].answer.turns):
        return None
    target = next((t for t in scene.peaks if t.point == ask.point), None)
    return None if target is None else peak_ask(scene, ask.adjuster, target, first=False)


def _turned_unread(scene: Scene) -> str | None:
    """The adjuster whose touch or peak was taken back, or left half turned, and is not made again: it comes first.

    It stands nobody knows where, so looks tell little before. Of several it is the one that was touched first.
    """
    own, circuit = scene.bench.ledger.of_step(scene.step.id), scene.step.circuit
    since = 2 * own[-1].seq if own else 0
    rows = {m.adjuster: m for m in movables(scene.bench, scene.belief, scene.circuit)}
    lost = sorted((e.seq, e.adjuster) for e in scene.bench.ledger.lost if e.seq > since and e.adjuster in rows)
    if not lost or lost[-1][0] < scene.bench.last_move(circuit):
        return None
    name = lost[0][1]
    return None if spent(scene, rows[name], _peak_target(scene, name)) else name


def _telling_level(scene: Scene) -> Read | None:
    """A level where the circuit was peaked before, not read since the last touch, and doubtful: to spare a touch."""
    bench, circuit = scene.bench, scene.step.circuit
    if not bench.instruments.in_db:
        return None
    last = bench.last_move(circuit)
    standing = standing_of(scene.circuit, scene.belief, scene.peaks)
    near = scene.standing.worst <= 1.0  # a doubt between the peaks is theirs as well
    for target, error, sd in zip(scene.peaks, standing.errors_hz, standing.sd_hz, strict=True):
        doubtful = near or abs(error) + SURE * sd > target.tolerance_hz
        levels = [x for x in bench.ledger.levels if x.circuit == circuit and x.hz == target.spot.hz]
        peaked = [x for x in levels if x.peaked]
        since = [x.seq for x in levels if x.seq > last]
        fresh = bool(since) and (since[-1] not in scene.circuit.fit.weights or len(since) >= AGREED)
        if doubtful and peaked and not fresh and _untouched_since(scene, peaked[-1].seq):
            return level_ask(scene, target, _SPARING)
    return None


def _untouched_since(scene: Scene, seq: int) -> bool:
    """Whether no adjuster of another circuit was moved since: then a fall from that peak is this circuit's own."""
    for event in scene.bench.ledger.events:
        adjuster = getattr(event, "adjuster", None)
        others = adjuster is not None and scene.step.circuit not in scene.bench.procedure.adjuster(adjuster).circuits
        if others and event.seq > seq:
            return False
    return True


def _peak_target(scene: Scene, name: str) -> Target:
    """An adjuster's own point; where the others are at their ends, first where nothing was peaked, then the balance.

    Without decibels a counted one that was never peaked begins at the other end, to be counted across.
    """
    usable = tuple(t for t in scene.peaks if not unreadable_at(scene, t)) or scene.peaks
    own = target_for(scene.belief.frame.handles[name].setting, usable)
    if _begins_across(scene, name):
        return max(usable, key=lambda t: abs(t.spot.hz - own.spot.hz))
    rows = movables(scene.bench, scene.belief, scene.circuit)
    ended = [m for m in rows if m.adjuster != name and _ended(scene, m, usable)]
    if len(rows) - len(ended) != 1:
        return last_target(scene, rows, name, own)
    unseen = [t for t in usable if t.spot not in scene.bench.seen_since(scene.step.circuit, -1)]
    alone = best_of(scene.circuit, goal_of(scene.belief, scene.targets), tuple(m for m in rows if m.adjuster == name))
    return unseen[0] if unseen else crossing_of(scene, name, own, alone.settings) or own


def _ended(scene: Scene, movable: Movable, usable: tuple[Target, ...]) -> bool:
    """Whether an adjuster cannot go where it should by its own point."""
    return spent(scene, movable, target_for(scene.belief.frame.handles[movable.adjuster].setting, usable))


def _begins_across(scene: Scene, name: str) -> bool:
    handle = scene.belief.frame.handles[name]
    first = handle.adjuster.counted and len(scene.plan.everything.shifts) > 1 and not touches_of(scene)
    return first and not scene.bench.instruments.in_db


def _choice(scene: Scene, touches: list[Entry]) -> str | None:
    """A counted adjuster first, across the band, then at its own point; after that whichever point is least right."""
    rows = movables(scene.bench, scene.belief, scene.circuit)
    places = {m.adjuster: _peak_target(scene, m.adjuster) for m in rows}
    free = [m.adjuster for m in rows if not spent(scene, m, places[m.adjuster])]
    if not free or all(unreadable_at(scene, t) for t in scene.peaks):
        return None
    if not touches:
        handles = scene.belief.frame.handles
        return max(free, key=lambda a: (handles[a].setting == COIL, handles[a].adjuster.counted))
    disturbed = scene.bench.last_move(scene.belief.frame.oscillator) > 2 * touches[-1].seq
    just = None if disturbed else _visit(touches[-1])
    others = [a for a in free if (a, places[a].point) != just]
    if not others or (len(free) == 1 and scene.standing.worst <= 1.0 and _balanced(scene, touches) >= MOST_ALONE):
        return None
    done = by_itself(scene, others)
    if done is not None:
        return done
    return max(others, key=lambda a: standing_of(scene.circuit, scene.belief, (places[a],)).worst_sure)


def _balanced(scene: Scene, touches: list[Entry]) -> int:
    """How often an adjuster was peaked between the usual places, to share out what the others cannot mend."""
    usual = {target.point for target in scene.peaks}
    return sum(isinstance(e.ask, Peak) and e.ask.point not in usual for e in touches)


def _visit(entry: Entry) -> tuple[str, Point] | None:
    return (entry.ask.adjuster, entry.ask.point) if isinstance(entry.ask, Turning) else None
