"""What else could be done instead of the open ask, and what it would leave: for people who want to know why."""

from itertools import combinations

from aligner.engine import coverage, tracking
from aligner.engine.asks import Ask, Confirm
from aligner.engine.bench import Bench, Target, goal_of, movables
from aligner.engine.survey import Believed
from aligner.estimate.best import Movable, best_of
from aligner.procedure.model import CoverageStep, TrackingStep

_MOST = 12
"""Ways that are shown: with three adjusters there are eight."""


def alternatives(bench: Bench, ask: Ask | None) -> tuple[Believed, ...]:
    """The open ask with its reason, and for each choice of adjusters what the best setting of them would leave."""
    if ask is None:
        return ()
    why = Believed("next", ask.why or ("it is to be confirmed" if isinstance(ask, Confirm) else "as the step says"))
    step = bench.procedure.step(ask.step)
    if not isinstance(step, CoverageStep | TrackingStep):
        return (why,)
    return (why, *_choices(bench, step))


def _choices(bench: Bench, step: CoverageStep | TrackingStep) -> tuple[Believed, ...]:
    belief = bench.belief(step.band)
    circuit = belief.circuits.get(step.circuit)
    if circuit is None or not any(spot for spot in circuit.fit.layout.spots[step.circuit]):
        return ()
    targets = targets_of(bench, step)
    goal = goal_of(belief, targets)
    movable = movables(bench, belief, circuit)
    ways = [some for size in range(len(movable) + 1) for some in combinations(movable, size)][:_MOST]
    return tuple(_choice(some, best_of(circuit, goal, some).worst) for some in ways)


def targets_of(bench: Bench, step: CoverageStep | TrackingStep) -> tuple[Target, ...]:
    """The points of a step that aligns one circuit."""
    return coverage.targets_of(bench, step) if isinstance(step, CoverageStep) else tracking.targets_of(bench, step)


def _choice(some: tuple[Movable, ...], worst: float) -> Believed:
    """`worst` in tolerances: beyond one the step would not be held."""
    count = len(some)
    names = " and ".join(movable.adjuster for movable in some) or "leave all as it is"
    cost = f"{count} touch{'' if count == 1 else 'es'}" if count else "nothing touched"
    enough = "would do" if worst <= 1.0 else "not enough"
    return Believed(names, f"{cost}; the greatest error at the points would be {_share(worst)}: {enough}")


def _share(worst: float) -> str:
    if worst < 1.0:
        return f"{100 * worst:.0f} % of the tolerance"
    return f"{worst:.1f} times the tolerance"
