"""What is stated with an uncertainty, as plain numbers: so that a rehearsal can hold it against the truth.

Only what readings determine: errors at a step's points, what a turn does, a circuit's Q, a wand's pull.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from aligner.engine.alternatives import targets_of
from aligner.engine.bench import SURE, Bench, Target, bench_of, standing_of
from aligner.engine.history import History
from aligner.engine.touches import target_for
from aligner.estimate.belief import Belief, CircuitBelief
from aligner.estimate.layout import prior_of
from aligner.procedure.model import CoverageStep, Procedure, TrackingStep

_VAGUE = 1.0
"""Standard error of a logarithm beyond which its interval says nothing but how vague it is."""

About = Literal["error", "turn", "quality", "ferrite", "brass"]


@dataclass(frozen=True, slots=True)
class Stated:
    """One value with its standard error.

    `error`: [Hz] at a point of the step; `turn`: [Hz] by a clockwise turn of `adjuster` at a point; `quality`,
    `ferrite` and `brass`: the natural logarithms of Q and of the rises and falls of ln (1/f^2) that a wand's ends make.
    told: how many times smaller the standard error is than before any reading; 0 where nothing is compared.
    """

    step: str
    about: About
    value: float
    sd: float
    told: float = 0.0
    at_hz: float = 0.0
    adjuster: str = ""


def stated(procedure: Procedure, history: History) -> tuple[Stated, ...]:
    """Everything that is stated of the circuits after a history, step by step."""
    bench = bench_of(procedure, history)
    steps = [step for step in procedure.steps if isinstance(step, CoverageStep | TrackingStep)]
    return tuple(value for step in steps for value in _of_step(bench, step))


def _of_step(bench: Bench, step: CoverageStep | TrackingStep) -> Iterator[Stated]:
    belief = bench.belief(step.band)
    circuit = belief.circuits.get(step.circuit)
    if circuit is None:
        return
    targets = targets_of(bench, step)
    standing = standing_of(circuit, belief, targets)
    for target, error, sd in zip(targets, standing.errors_hz, standing.sd_hz, strict=True):
        received = bench.received_sd_hz(float(sd)) if isinstance(step, CoverageStep) else float(sd)
        yield Stated(step.id, "error", float(error), received, at_hz=target.spot.hz)
    for name in bench.procedure.circuit(step.circuit).adjusters:
        turn = turn_hz(belief, circuit, name, targets) if name in belief.frame.handles else None
        if turn is not None and not sense_open(circuit, name):
            where = target_for(belief.frame.handles[name].setting, targets)
            told = belief.frame.handles[name].per_turn_spread / _turn_doubt(circuit, belief.effect(name))
            yield Stated(step.id, "turn", *turn, told, where.spot.hz, name)
    yield from _of_level(step.id, circuit)


def turn_hz(
    belief: Belief, circuit: CircuitBelief, name: str, targets: tuple[Target, ...]
) -> tuple[float, float] | None:
    """What one clockwise turn does to a circuit [Hz] where that adjuster is best set, and its standard error.

    None where no turn of it was counted. It is the logarithm of an effect that errs alike to both sides, so that an
    interval reaches farther up than down; the wider half counts, and the standard error is that of an even one.
    """
    effect = belief.effect(name)
    if effect is None:
        return None
    handle = belief.frame.handles[name]
    place = belief.places_hz((target_for(handle.setting, targets).spot,))
    slope = -0.5 * float(circuit.hz(place)[0] * (circuit.by_setting(place)[0] @ circuit.push(handle.setting)))
    return slope * effect[0], abs(slope * effect[0]) * _wider_half(_turn_doubt(circuit, effect)) / SURE


def _turn_doubt(circuit: CircuitBelief, effect: tuple[float, float] | None) -> float:
    """The standard error of the logarithm of an effect per turn."""
    return math.inf if effect is None else circuit.noise * effect[1] / abs(effect[0])


def _wider_half(doubt: float) -> float:
    """How far up, relative, an interval reaches whose logarithm has a standard error; what is vague grows evenly."""
    return math.expm1(SURE * min(doubt, _VAGUE)) * max(doubt / _VAGUE, 1.0)


def sense_open(circuit: CircuitBelief, name: str) -> bool:
    """Whether it is still open which way an adjuster works."""
    return any(other.fit.senses.get(name) != circuit.fit.senses.get(name) for other in circuit.others)


def _of_level(step: str, circuit: CircuitBelief) -> Iterator[Stated]:
    """What the level told: Q, and the pulls of a wand."""
    fit, name = circuit.fit, circuit.frame.id
    columns: dict[About, int] = {}
    if name in fit.layout.quality:
        columns["quality"] = fit.layout.quality[name]
    if name in fit.layout.wand:
        columns["ferrite"], columns["brass"] = fit.layout.wand[name], fit.layout.wand[name] + 1
    prior_sd = prior_of(fit.frame, fit.layout, fit.senses)[1]
    for about, column in columns.items():
        sd = circuit.noise * math.sqrt(fit.covariance[column, column])
        yield Stated(step, about, float(fit.mean[column]), sd, float(prior_sd[column]) / sd)
