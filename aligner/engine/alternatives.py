"""What else could be done instead of the open ask, and what it would leave: for people who want to know why."""

from dataclasses import dataclass
from itertools import combinations

from aligner.engine import coverage, tracking
from aligner.engine.asks import Ask, Confirm, Touch
from aligner.engine.bench import SAFE, SURE, Bench, Target, goal_of, movables
from aligner.engine.survey import Believed
from aligner.estimate.best import Movable, best_of
from aligner.procedure.model import CoverageStep, TrackingStep
from aligner.quantity import show

_MOST = 12
"""Ways that are shown: with three adjusters there are eight."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """How unsure errors are [Hz], where they are most so against their tolerance [Hz]."""

    sd_hz: float
    tolerance_hz: float

    @property
    def words(self) -> str:
        """The 95 % half width."""
        return show(SURE * self.sd_hz, "Hz", self.tolerance_hz / 20.0)


def alternatives(bench: Bench, ask: Ask | None) -> tuple[Believed, ...]:
    """The open ask with its reason, and for each choice of adjusters what the best setting of them would leave."""
    if ask is None:
        return ()
    why = Believed("next", ask.why or ("it is to be confirmed" if isinstance(ask, Confirm) else "as the step says"))
    step = bench.procedure.step(ask.step)
    if not isinstance(step, CoverageStep | TrackingStep):
        return (why,)
    return (why, *_choices(bench, step, touched=isinstance(ask, Touch)))


def _choices(bench: Bench, step: CoverageStep | TrackingStep, *, touched: bool) -> tuple[Believed, ...]:
    belief = bench.belief(step.band)
    circuit = belief.circuits.get(step.circuit)
    if circuit is None or not any(spot for spot in circuit.fit.layout.spots[step.circuit]):
        return ()
    targets = targets_of(bench, step)
    goal = goal_of(belief, targets)
    movable = movables(bench, belief, circuit)
    ways = [some for size in range(len(movable) + 1) for some in combinations(movable, size)][:_MOST]
    sd_hz = circuit.sd_hz(goal.z_hz)
    vaguest = int((sd_hz / goal.tolerance_hz).argmax())
    doubt = Doubt(float(sd_hz[vaguest]), float(goal.tolerance_hz[vaguest]))
    bests = [(some, best_of(circuit, goal, some).worst) for some in ways]
    return tuple(_choice(some, worst, doubt, touched=touched) for some, worst in bests)


def targets_of(bench: Bench, step: CoverageStep | TrackingStep) -> tuple[Target, ...]:
    """The points of a step that aligns one circuit."""
    return coverage.targets_of(bench, step) if isinstance(step, CoverageStep) else tracking.targets_of(bench, step)


def _choice(some: tuple[Movable, ...], worst: float, doubt: Doubt, *, touched: bool) -> Believed:
    """`worst` in tolerances: beyond one the step would not be held. touched: whether a touch is what is asked for."""
    count = len(some)
    names = " and ".join(movable.adjuster for movable in some) or "leave all as it is"
    cost = f"{count} touch{'' if count == 1 else 'es'}" if count else "nothing touched"
    words = f"{cost}; the greatest error at the points would be {_share(worst)}"
    better = touched and not some
    return Believed(names, f"{words}: {verdict(worst, doubt, better=better)}", doubt.words)


def verdict(worst: float, doubt: Doubt, *, better: bool = False) -> str:
    """Whether that error would do, by the rule by which the next touch is chosen. better: by a touch it is bettered."""
    if worst > 1.0:
        return "not enough"
    if worst + SAFE * doubt.sd_hz / doubt.tolerance_hz > 1.0:
        return "would do, but not surely"
    return "would do, but a touch balances it better" if better else "would do"


def _share(worst: float) -> str:
    if worst < 1.0:
        return f"{100 * worst:.0f} % of the tolerance"
    return f"{worst:.1f} times the tolerance"
