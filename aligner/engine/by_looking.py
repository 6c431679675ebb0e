"""A signal circuit that is seen without touching it: by a wand, or by the voltage that peaks its stage alone.

Ferrite raises the level where more inductance is wanted, brass where less; with levels in decibels a wand test tells
how far off the circuit is and on which side, and the pull of the wand on that coil is learned from every test and peak.
A varactor stage whose voltage is moved alone, while oscillator and generator stay, peaks at another voltage than the
set's own; the difference tells the same. So each point is looked at first; then the counted adjuster is peaked, which
teaches its effect, and turned on past the peak to where it belongs; then the last adjuster is peaked where the best
curve crosses nought, and the points are looked at once more.
"""

from aligner.engine.asks import Ask, Peak, Read, Touch, Wand
from aligner.engine.bench import Bench, Outcome, Standing, Target, goal_of, movables, standing_of
from aligner.engine.by_reading import STILL_SURE, limit_words, report_of
from aligner.engine.history import Entry
from aligner.engine.looks import common_volts
from aligner.engine.past_peak import past_the_peak
from aligner.engine.peaking import Scene, crossing_of, peak_ask, spent, touches_of
from aligner.engine.touches import place_words, plan_for, target_for
from aligner.estimate.belief import Belief
from aligner.estimate.best import Goal, best_of
from aligner.estimate.events import Spot
from aligner.procedure.model import TrackingStep
from aligner.quantity import show

MOST_TOUCHES = 6
"""Touches of one step and adjuster after which wand and level will not tell more."""
VAGUE = 0.35
"""A point is tested when its error is known no better than this share of the tolerance (standard error)."""
NEAR = 0.7
"""A circuit that stands within this share of the tolerance is left alone."""


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
    if standing.worst <= 1.0 and standing.worst_sure <= (STILL_SURE if passed else 1.0):
        return Outcome(report_of(step, standing, "held", ""))
    touched = frozenset(e.ask.adjuster for e in bench.ledger.of_step(step.id) if isinstance(e.ask, Touch | Peak))
    plan = plan_for(bench, belief, circuit, goals, goal_of(belief, targets), touched)
    scene = Scene(bench, step, belief, circuit, targets, targets, standing, plan, way)
    ask = _next(scene)
    if ask is not None:
        return Outcome(report_of(step, standing, "disturbed" if passed else "to-do", f"by {way}"), ask)
    if standing.worst <= 1.0 and _tested(scene, standing):
        return Outcome(report_of(step, standing, "held", "as far as this way of seeing can tell"))
    return Outcome(report_of(step, standing, "at-limit", limit_words(bench, belief, circuit, standing, targets)))


def _next(scene: Scene) -> Ask | None:
    """Turn on past a peak just made; test what is not known; else peak the next adjuster of the plan."""
    touches = touches_of(scene)
    onward = past_the_peak(scene, touches)
    if onward is not None:
        return onward
    untested = _untested(scene)
    if untested:
        return _look_ask(scene, untested[0])
    if len(touches) >= MOST_TOUCHES * max(len(scene.bench.procedure.circuit(scene.step.circuit).adjusters), 1):
        return None
    return _peak(scene, touches) if scene.standing.worst > NEAR else None


def _untested(scene: Scene) -> list[Target]:
    """Points whose error is not known well enough, and that were not tested since the last touch."""
    last = scene.bench.last_move(scene.step.circuit)
    done = {t for t in scene.targets if t.spot in _looked_at(scene, last)}
    quantity = "wand" if scene.way == "wand" else "volts"
    done |= {t for t in scene.targets if (scene.step.id, quantity, t.point) in scene.bench.ledger.unreadable}
    rows = zip(scene.targets, scene.standing.sd_hz, strict=True)
    return [t for t, sd in rows if t not in done and sd > VAGUE * t.tolerance_hz]


def _looked_at(scene: Scene, since: int) -> set[Spot]:
    return scene.bench.seen_since(scene.step.circuit, since)


def _tested(scene: Scene, standing: Standing) -> bool:
    """Whether every point was tested since the last touch, and stands clear of the limit by one standard error."""
    seen = _looked_at(scene, scene.bench.last_move(scene.step.circuit))
    return all(t.spot in seen for t in scene.targets) and standing.worst_at(1.0) <= 1.0


def _peak(scene: Scene, touches: list[Entry]) -> Peak | None:
    """The next adjuster of the plan, the counted one first, never the same twice running.

    Where the others stand as well as they can be told, it is peaked where the best curve crosses nought.
    """
    rows = {m.adjuster: m for m in movables(scene.bench, scene.belief, scene.circuit)}
    last = touches[-1].ask.adjuster if touches and isinstance(touches[-1].ask, Touch | Peak) else ""
    wanted = [a for a in scene.plan.order if a != last] or [a for a in rows if a != last]
    named = sorted(wanted, key=lambda a: not scene.belief.frame.handles[a].adjuster.counted)
    for name in named:
        own = target_for(scene.belief.frame.handles[name].setting, scene.targets)
        alone = best_of(scene.circuit, goal_of(scene.belief, scene.targets), (rows[name],))
        counted = scene.belief.frame.handles[name].adjuster.counted
        target = own if counted or not touches else crossing_of(scene, own, alone)
        if not spent(scene, rows[name], target):
            return peak_ask(scene, name, target, first=False)
    return None


def _look_ask(scene: Scene, target: Target) -> Wand | Read:
    """The test of a point by the way of seeing that is in force."""
    if scene.way == "wand":
        return _wand_ask(scene, target)
    common = common_volts(
        scene.bench.ledger.entries, target.spot.hz, scene.bench.last_move(scene.belief.frame.oscillator)
    )
    hz = show(target.spot.hz, "Hz")
    stage = scene.step.circuit if common is not None else ""
    what = (
        f"Move the tuning voltage of {stage} alone until the level is highest, and read that voltage"
        if stage
        else "Read the tuning voltage that all circuits have"
    )
    return Read(
        id=0,
        step=scene.step.id,
        text=f"Set {place_words(target)}, generator to {hz}. {what}; turn nothing.",
        why="A stage that peaks above the common voltage stands too low, one that peaks below it too high.",
        quantity="volts",
        circuit=stage,
        point=target.point,
        generator=scene.bench.generator(target.spot.hz),
    )


def _wand_ask(scene: Scene, target: Target) -> Wand:
    hz = show(target.spot.hz, "Hz")
    return Wand(
        id=0,
        step=scene.step.id,
        text=(
            f"Set {place_words(target)}, generator to {hz}. Read the level with no wand, then with the ferrite end and "
            f"with the brass end in the coil of {scene.step.circuit}; turn nothing. Never in the oscillator's coil."
        ),
        why="Ferrite raises the level where more inductance is wanted, brass where less; by how much tells how far.",
        circuit=scene.step.circuit,
        point=target.point,
        generator=scene.bench.generator(target.spot.hz),
    )
