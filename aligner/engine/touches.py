"""From what is believed to a touch: which adjuster, at which point, which way, how far, the aim, and why."""

from bisect import bisect_left
from dataclasses import dataclass
from typing import Literal

import numpy as np

from aligner.engine.asks import Aim, Amount, Touch
from aligner.engine.bench import SAFE, Bench, Target, movables, standing_of
from aligner.engine.hand_words import read_manner, turn_words
from aligner.engine.instruments import RESONANCE_NOISE
from aligner.engine.shared import spared
from aligner.engine.touch_reasons import Intent, touch_reason
from aligner.estimate.belief import Belief, CircuitBelief
from aligner.estimate.best import Best, Goal, best_of, doubts_of, errors_of, least_subset
from aligner.estimate.ladder import COIL, SERIES
from aligner.procedure.model import Adjuster
from aligner.quantity import show

SLACK = 0.1
"""In tolerances: an adjuster is left alone when the others alone come as near as this to what all could reach."""
SLACK_AGAIN = 0.5
"""The same for an adjuster that this step has touched already."""
TOLERABLE = 0.9
"""In tolerances: what may be left to spare a second touch."""
WORTHWHILE = 0.1
"""In tolerances: by how much a second touch must better the points where they are tolerable, though not safely so."""
AT_POINTS = 0.1
"""What the balance over the band must leave in hand at the points themselves, in tolerances."""
ROOM = 0.25
"""In tolerances: how much of the points' own is left to their doubt, at most, before the band has to stand back."""
AIM_SHARE = 0.1
"""Half width of an aim, in tolerances: closer is not worth the patience, wider spoils the other end."""
_ORDER = {SERIES: 0, COIL: 1}


@dataclass(frozen=True, slots=True)
class Plan:
    """The adjusters to move, in order, with the shift of each, what remains after all of them, and the goal of it."""

    goal: Goal
    chosen: Best
    everything: Best
    order: tuple[str, ...]


def spare_for(doubt: float) -> float:
    """What a balance over the band must leave in hand at the points, in tolerances, where they are in such doubt."""
    return AT_POINTS + min(doubt, ROOM)


def doubt_once_set(circuit: CircuitBelief, own: Goal) -> float:
    """The greatest standard error at the points, in tolerances, when adjusters are set by readings at both ends.

    By the covariance of ln y given readings of variance r there: C - C_e (C_ee + r I)^-1 C_e'.
    """
    ends = sorted({int(np.argmin(own.z_hz)), int(np.argmax(own.z_hz))})
    whole = circuit.covariance(own.z_hz)
    read = whole[ends][:, ends] + (2.0 * RESONANCE_NOISE) ** 2 * np.eye(len(ends))
    left = whole.diagonal() - (whole[ends] * np.linalg.solve(read, whole[ends])).sum(axis=0)
    return float((0.5 * circuit.hz(own.z_hz) * np.sqrt(np.maximum(left, 0.0)) / own.tolerance_hz).max())


def plan_for(
    bench: Bench,
    belief: Belief,
    circuit: CircuitBelief,
    goals: tuple[Goal, ...],
    own: Goal,
    again: frozenset[str],
    *,
    slack_again: float = SLACK_AGAIN,
    spare: float = AT_POINTS,
) -> Plan:
    """The plan for the first goal that leaves the step's own points (`own`) that much to spare; else the last goal.

    From goal to goal the points are left more, so that the first that leaves enough is found by halving.

    The fewest adjusters that nearly reach what all could, padder first, then the coil, the trimmer last. Adjusters that
    were touched already (`again`) are spared a second touch as long as the step's own points stay tolerable.
    """
    movable = movables(bench, belief, circuit)
    again = again | spared(bench, belief)

    def enough(goal: Goal) -> bool:
        return _left(circuit, own, best_of(circuit, goal, movable)) <= 1.0 - spare

    first = 0 if enough(goals[0]) else bisect_left(goals, x=True, lo=1, key=enough)
    goal = goals[min(first, len(goals) - 1)]
    chosen, everything = least_subset(circuit, goal, movable, again, SLACK, slack_again)
    left = _left(circuit, own, chosen)
    if left > TOLERABLE or (left > _safe(circuit, own) and left - _left(circuit, own, everything) > WORTHWHILE):
        chosen, everything = least_subset(circuit, goal, movable, again, SLACK, SLACK)
    order = sorted(chosen.shifts, key=lambda a: _ORDER.get(belief.frame.handles[a].setting, 2))
    return Plan(goal, chosen, everything, tuple(order))


def gain_of(circuit: CircuitBelief, plan: Plan) -> float:
    """By how much, in tolerances, a plan betters the greatest error of its goal."""
    return float(np.max(np.abs(errors_of(circuit, plan.goal)))) - plan.chosen.worst


def _safe(circuit: CircuitBelief, own: Goal) -> float:
    """The greatest error, in tolerances, that is safely within them by what is known."""
    return 1.0 - SAFE * float(np.max(doubts_of(circuit, own)))


def _left(circuit: CircuitBelief, own: Goal, best: Best) -> float:
    """The greatest error, in tolerances, that settings leave at a goal's places."""
    return float(np.abs(errors_of(circuit, own, best.settings)).max())


def target_for(adjuster_setting: int, targets: tuple[Target, ...]) -> Target:
    """Where an adjuster is best set: padder and coil at the low end, trimmer at the high end."""
    by_hz = sorted(targets, key=lambda t: t.spot.hz)
    return by_hz[0] if adjuster_setting in (COIL, SERIES) else by_hz[-1]


def touch_ask(
    bench: Bench, belief: Belief, circuit: CircuitBelief, plan: Plan, step: str, targets: tuple[Target, ...]
) -> Touch:
    """The first touch of a plan, with an aim that can be read: the frequency after this touch and before the others."""
    name = plan.order[0]
    handle = belief.frame.handles[name]
    shift = plan.chosen.shifts[name]
    target = target_for(handle.setting, targets)
    z = belief.places_hz((target.spot,))
    alone = shift * circuit.push(handle.setting)
    hz, now = float(circuit.hz(z, alone)[0]), float(circuit.hz(z)[0])
    adjuster = handle.adjuster
    direction = direction_of(handle.setting, shift)
    aim = aim_at(bench, circuit, target, hz)
    resonance = aim.quantity == "resonance"
    amount = amount_of(belief, name, shift)
    way = f"{way_words(adjuster, direction)}{turn_words(amount)}"
    own = circuit.frame.id
    intent = Intent(own, targets.index(target), now, hz, plan.order[1:], plan.chosen.worst)
    return Touch(
        id=0,
        step=step,
        text=f"{_text(adjuster, target, aim, way)}{read_manner(bench, adjuster, direction)}",
        why=touch_reason(intent, targets, standing_of(circuit, belief, targets)),
        adjuster=name,
        circuit=own,
        point=target.point,
        generator=bench.generator(target.spot.hz) if resonance and target.spot.kind == "received" else None,
        aim=aim,
        direction=direction,
        amount=amount,
    )


def direction_of(setting: int, shift: float) -> Literal["more", "less"]:
    """More or less inductance or capacitance; a padder's setting is its elastance, so it goes the other way."""
    return "more" if (shift > 0) != (setting == SERIES) else "less"


def amount_of(belief: Belief, adjuster: str, shift: float) -> Amount | None:
    """Turns with their standard error, where turns were counted before and have told the effect."""
    effect = belief.effect(adjuster) or _taught_effect(belief, adjuster)
    if effect is None or abs(effect[0]) < 2.0 * effect[1] or _sense_open(belief, adjuster):
        return None
    return turns_of_shift(shift, effect)


def turns_of_shift(shift: float, effect: tuple[float, float]) -> Amount:
    """The turns that make a shift of a setting, by an effect per turn and its standard error."""
    turns = shift / effect[0]
    return Amount(round(turns, 3), "turn", round(abs(turns) * effect[1] / abs(effect[0]) + 0.03, 3))


def _taught_effect(belief: Belief, adjuster: str) -> tuple[float, float] | None:
    """What other jobs taught of a turn, with its standard error; None where they taught nothing or no sense."""
    taught = belief.frame.handles[adjuster].adjuster.taught
    return (taught.sense * taught.per_turn, taught.spread * taught.per_turn) if taught and taught.sense else None


def _sense_open(belief: Belief, adjuster: str) -> bool:
    """Whether a fit that is still credible has the adjuster work the other way round."""
    circuit = belief.circuits[belief.frame.handles[adjuster].adjuster.circuits[0]]
    return any(other.fit.senses.get(adjuster) != circuit.fit.senses.get(adjuster) for other in circuit.others)


def aim_at(bench: Bench, circuit: CircuitBelief, target: Target, hz: float) -> Aim:
    """The aim as the instrument shows it, rounded to a tenth of what it can show."""
    within = AIM_SHARE * target.tolerance_hz
    if not circuit.frame.oscillator:
        step = max(10.0 ** np.floor(np.log10(within / 10.0)), 1.0)
        return Aim("resonance", float(round(hz / step) * step), float(within))
    instruments = bench.instruments
    step = instruments.shown_step_hz() / 10.0
    shown = instruments.displayed_hz(hz)
    per_hz = instruments.displayed_hz(hz + 1000.0) - shown
    half = max(within * per_hz / 1000.0, 0.6 * instruments.shown_step_hz())
    return Aim("frequency", round(round(shown / step) * step, 3), round(half, 3))


def _text(adjuster: Adjuster, target: Target, aim: Aim, way: str) -> str:
    where = f" ({adjuster.where})" if adjuster.where else ""
    return (
        f"{tune_words(target)}. Turn {adjuster.id}{where}: {way}, "
        f"until {_instrument(aim)} {show(aim.value, 'Hz', aim.within / 10.0)}."
    )


def _instrument(aim: Aim) -> str:
    return "the counter shows" if aim.quantity == "frequency" else "the resonance of the circuit reads"


def tune_words(target: Target) -> str:
    """How a person is told to tune the set: a sentence without its end."""
    point = target.point
    if point.volts is not None:
        return f"Set the tuning voltage to {show(point.volts, 'V')}"
    if point.dial is not None:
        return f"Set the pointer to {show(point.dial, 'Hz')}"
    if point.mark is not None:
        return f"Set the pointer to the mark \u201c{point.mark}\u201d"
    if point.end is not None:
        return f"Set the tuning to its {point.end} end"
    return f"Tune the set to receive {show(target.spot.hz, 'Hz')}"


def way_words(adjuster: Adjuster, direction: str) -> str:
    """What the hand does for more or less, by the kind of the adjuster."""
    more = direction == "more"
    words = {
        "air-coil": ("squeeze its turns together", "spread its turns"),
        "ferrite-core": ("core further into the coil", "core out of the coil"),
        "brass-core": ("core out of the coil", "core further into the coil"),
        "rod-coil": ("slide the coil towards the middle of the rod", "slide the coil towards the end of the rod"),
        "compression-trimmer": ("tighten it", "loosen it"),
        "rotary-trimmer": ("plates further in mesh", "plates further out of mesh"),
        "piston-trimmer": ("piston in", "piston out"),
        "wire-trimmer": ("more turns of wire", "fewer turns of wire"),
        "preset": ("up", "down"),
    }[adjuster.kind]
    what = {"inductance": "inductance", "tuning-voltage": "tuning voltage"}.get(adjuster.does, "capacitance")
    return f"{words[0] if more else words[1]} for {direction} {what}"
