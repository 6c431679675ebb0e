"""The last touches of a circuit that is seen by the level: which of them still brings the band nearer to its best.

When both adjusters were peaked once the circuit stands near its place, and small shifts are left. Then there is nearly
always a place in the band where the circuit must come onto the generator when an adjuster stands where it belongs: so
that adjuster is peaked there, and no fall has to be led to.
"""

from aligner.engine.bench import SAFE, Target, goal_of, movables
from aligner.engine.history import Entry
from aligner.engine.ledger import touch_count
from aligner.engine.peaking import Scene, crossing_of, touches_of
from aligner.estimate.best import Movable, best_of, doubts_of, errors_of

WORTH = 0.3
"""In tolerances: what the greatest error in the band must be expected to lose to be worth another touch."""
_ALIKE = 0.1
"""In tolerances: an adjuster alone that comes as near as this to what all could reach is as good as all."""
_POLISHED = 5
"""Visits to adjusters after which only much is worth another touch."""
_MOST = 7
"""Visits to adjusters after which a circuit within its tolerance is left as it is."""


def safer(scene: Scene, touches: list[Entry]) -> bool:
    """Whether another touch would make points safe that are within tolerance by expectation only."""
    own = goal_of(scene.belief, scene.targets)
    gain = scene.standing.worst - float(max(abs(errors_of(scene.circuit, own, scene.plan.everything.settings))))
    return few(touches) and scene.standing.worst_at(SAFE) > 1.0 and gain > _ALIKE


def few(touches: list[Entry]) -> bool:
    """Whether the tool was put to adjusters so seldom that a circuit may still be polished."""
    return touch_count(touches) < _POLISHED


def many(touches: list[Entry]) -> bool:
    """Whether the tool was put to adjusters so often that a circuit within its tolerance is left as it is."""
    return touch_count(touches) >= _MOST


def to_gain(scene: Scene) -> float:
    """By how many tolerances the greatest error in the band, its doubt added, is above what the adjusters can do."""
    goal = scene.plan.goal
    reckoned = abs(errors_of(scene.circuit, goal)) + doubts_of(scene.circuit, goal)
    return float(max(reckoned)) - scene.plan.everything.worst


def last_target(scene: Scene, rows: tuple[Movable, ...], name: str, own: Target) -> Target:
    """Where the circuit will cross nought when this adjuster stands where it belongs; its usual point if nowhere."""
    if not scene.bench.instruments.in_db or len(touches_of(scene)) < 2:
        return own
    alone = best_of(scene.circuit, scene.plan.goal, tuple(m for m in rows if m.adjuster == name))
    settings = alone.settings
    if alone.worst > scene.plan.everything.worst + _ALIKE and name in scene.plan.everything.shifts:
        settings = scene.plan.everything.shifts[name] * scene.circuit.push(scene.belief.frame.handles[name].setting)
    return crossing_of(scene, name, own, settings) or own


def by_itself(scene: Scene, names: list[str]) -> str | None:
    """The adjuster that alone brings the circuit nearly as far as all together could."""
    if not scene.bench.instruments.in_db or len(touches_of(scene)) < 2:
        return None
    rows = movables(scene.bench, scene.belief, scene.circuit)
    left = {m.adjuster: best_of(scene.circuit, scene.plan.goal, (m,)).worst for m in rows if m.adjuster in names}
    near = [a for a in left if left[a] <= scene.plan.everything.worst + _ALIKE]
    return min(near, key=lambda a: left[a]) if near else None
