"""What to tell of a circuit that cannot be brought right: the fixed part that would cure it, or the best balance."""

from aligner.engine.bench import Bench, Target, goal_of, movables
from aligner.estimate.belief import Belief, CircuitBelief
from aligner.estimate.best import Best, Goal, Movable, best_of
from aligner.estimate.cure import Cure, Known, Preferred, cure_of, cures, known_of, rounding_hz
from aligner.estimate.ladder import COIL, INNER, OUTER, SERIES
from aligner.quantity import show

_SLIGHT = 0.002
"""A change by so small a share is less than what wiring moves."""
_ROUGH = 0.3
"""A coarser series will do where its rounding costs no more than this share of the tolerance."""
_GIMMICK_F = 1e-12
"""Below this there is hardly a capacitor to buy; twisted wires are common practice, no source."""


def cure_words(bench: Bench, belief: Belief, circuit: CircuitBelief, targets: tuple[Target, ...]) -> str:
    """The fixed change that would bring the circuit right; where adjusters met their ends, in their place."""
    goal = goal_of(belief, targets)
    own = bench.procedure.circuit(circuit.frame.id).adjusters
    stopped = {stop.adjuster for stop in bench.ledger.stops if stop.adjuster in own}
    known = known_of(bench.procedure, belief.frame, circuit, _stood_h(bench, own))
    if stopped:
        return _instead_of(bench, belief, circuit, goal, stopped, known)
    left = movables(bench, belief, circuit)
    fixed = tuple(s for s in _fixed(circuit) if s not in {m.setting for m in left})
    found = cures(circuit, goal, left, fixed)
    if not found or found[0][1].worst > max(1.0, 0.5 * best_of(circuit, goal, left).worst):
        return "no single fixed part would bring it right: look at the tuning itself (a bent plate, unlike diodes)"
    setting, best = found[0]
    cure = cure_of(setting, float(circuit.settings[setting]), best.shifts[""], known)
    words = _words(cure, circuit, goal, best, known)
    rest = "right at these points"
    if best.worst > _ROUGH:
        tolerance = float(min(goal.tolerance_hz))
        rest = f"within {show(best.worst * tolerance, 'Hz', tolerance / 10)}"
    return f"{words} would bring it {rest}, with the adjusters set anew"


def _instead_of(
    bench: Bench, belief: Belief, circuit: CircuitBelief, goal: Goal, stopped: set[str], known: Known | None
) -> str:
    """What the adjusters at their ends lack, the others being set anew."""
    handles = [(name, belief.frame.handles[name].setting) for name in sorted(stopped) if name in belief.frame.handles]
    free = [m for m in movables(bench, belief, circuit) if m.adjuster not in stopped]
    best = best_of(circuit, goal, (*free, *(Movable(name, setting) for name, setting in handles)))
    words = []
    for name, setting in handles:
        if abs(best.shifts[name]) > _SLIGHT:
            cure = cure_of(setting, float(circuit.settings[setting]), best.shifts[name], known)
            words.append(f"{_words(cure, circuit, goal, best, known)}, in place of {name}")
    return " and ".join(words) or "nothing that these adjusters act on would help"


def _fixed(circuit: CircuitBelief) -> tuple[int, ...]:
    """Settings that a fixed part could change; without a padder a trimmer is the same on either side of it."""
    return (COIL, INNER, OUTER, SERIES) if circuit.settings[SERIES] > _SLIGHT else (COIL, INNER, SERIES)


def _stood_h(bench: Bench, own: tuple[str, ...]) -> float | None:
    """The inductance of a coil that met an end of its travel."""
    stops = [stop for stop in bench.ledger.stops if stop.adjuster in own and stop.toward]
    for stop in reversed(stops):
        adjuster = bench.procedure.adjuster(stop.adjuster)
        if adjuster.does == "inductance" and adjuster.travel:
            return adjuster.travel[1] if stop.toward == "more" else adjuster.travel[0]
    return None


def _words(cure: Cure, circuit: CircuitBelief, goal: Goal, best: Best, known: Known | None) -> str:
    """The change in shares, absolutely where that is known, and the capacitor to buy."""
    size, way = abs(cure.share), "more" if cure.share > 0 else "less"
    if cure.how == "larger":
        return (
            "a larger capacitor in series with the tuning, where there is one (a diode's blocking capacitor, a padder)"
        )
    if cure.how == "inductance":
        absolute = f" ({show(abs(cure.change), 'H', abs(cure.change) / 10)})" if cure.change else ""
        turns = f"{_percent(cure.turns_share)} {'more' if cure.share > 0 else 'fewer'} turns"
        return f"about {_percent(size)} {way} inductance{absolute}, that is {turns}"
    if cure.how == "padder":
        head = f"a padder about {_percent(size)} {'larger' if cure.share > 0 else 'smaller'}"
    elif cure.how == "series":
        head = f"a capacitor in series with the tuning of about {size:.3g} times its mid-band capacitance"
    else:
        head = f"about {_percent(size)} {way} of the mid-band capacitance"
    if known is None or cure.change is None:
        return f"{head} (with 20 pF in mid-band {_example(cure)})"
    head += f" ({_picofarads(abs(cure.change))}, give or take {known.spread * 100:.0f} %, by {known.source})"
    return f"{head}{_buy(cure, circuit, goal, best)}"


def _example(cure: Cure) -> str:
    if cure.how == "padder":
        return "or any other: the share is what counts"
    return f"that is {_picofarads(abs(cure.share) * 20e-12)}"


def _percent(share: float) -> str:
    return f"{abs(share) * 100:.1f} %"


def _picofarads(farads: float) -> str:
    return show(farads, "F", max(farads, 1e-15) / 10)


def _buy(cure: Cure, circuit: CircuitBelief, goal: Goal, best: Best) -> str:
    """The coarsest series whose rounding does little, or as little as any."""
    if not cure.preferred:
        return ""
    tolerance = float(min(goal.tolerance_hz))
    costs = [rounding_hz(circuit, goal, best.settings, cure.setting, choice.left) for choice in cure.preferred]
    near = next(n for n, cost in enumerate(costs) if cost <= max(_ROUGH * tolerance, min(costs)))
    choice: Preferred = cure.preferred[near]
    off = show(costs[near], "Hz", max(costs[near], 1.0) / 10)
    twisted = "; so small a one is a pair of twisted wires, cut to length" if choice.value_f < _GIMMICK_F else ""
    value = f"fit {show(choice.value_f, 'F')} of {choice.series}"
    return f": {value}, whose rounding moves it by {off} until the adjusters take that up{twisted}"


def balance_words(bench: Bench, belief: Belief, circuit: CircuitBelief, targets: tuple[Target, ...]) -> str:
    """The least greatest error that can be had if nothing is changed."""
    goal = goal_of(belief, targets)
    best = best_of(circuit, goal, movables(bench, belief, circuit))
    worst = max(range(len(targets)), key=lambda n: abs(best.errors[n]))
    tolerance = targets[worst].tolerance_hz
    error = show(best.worst * tolerance, "Hz", tolerance / 10)
    at = show(targets[worst].spot.hz, "Hz")
    return f"If nothing is changed, the best balance leaves {error} at {at}, {best.worst:.1f} times the tolerance"
