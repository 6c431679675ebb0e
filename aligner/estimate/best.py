"""Where the adjusters should stand: the settings that make the greatest error over a list of places least."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from aligner.estimate.belief import CircuitBelief
from aligner.estimate.ladder import Array

_LAWSON_ROUNDS = 25
_NEWTON_ROUNDS = 4
_RIDGE = 1e-9
_LONGEST = 0.5  # a step of the settings, in scaled terms


@dataclass(frozen=True, slots=True)
class Goal:
    """What a circuit should do: at places z_hz [Hz] stand at wanted_hz [Hz], within tolerance_hz [Hz]; all (n,)."""

    z_hz: Array
    wanted_hz: Array
    tolerance_hz: Array


@dataclass(frozen=True, slots=True)
class Movable:
    """An adjuster that may be moved: its setting's column, and how far the setting may go down and up from now [1]."""

    adjuster: str
    setting: int
    down: float = -np.inf
    up: float = np.inf


@dataclass(frozen=True, slots=True)
class Best:
    """The least greatest error that some adjusters reach: shift of each [1], and the errors left in tolerances [1]."""

    shifts: dict[str, float]
    settings: Array
    errors: Array

    @property
    def worst(self) -> float:
        """The greatest error left, in tolerances [1]."""
        return float(np.max(np.abs(self.errors)))


def best_of(circuit: CircuitBelief, goal: Goal, movable: tuple[Movable, ...]) -> Best:
    """The shifts of `movable` that make max |error / tolerance| least.

    Parameters
    ----------
    circuit : CircuitBelief
        the circuit as believed
    goal : Goal [Hz]
        places, wanted frequencies and tolerances [Hz], (n,)
    movable : tuple of Movable [1]
        adjusters, their settings and bounds [1]

    Returns
    -------
    Best
        shifts [1] and errors in tolerances [1]

    Notes
    -----
    Newton's method around a linear minimax problem that is solved by Lawson's reweighted least squares (C. L. Lawson,
    thesis, UCLA 1961; from memory): weights are multiplied by the size of the residual until only the alternating
    extremes carry weight. A shift that would pass a bound is held at the bound and the rest solved again.
    """
    pushes = np.array([circuit.push(m.setting) for m in movable]).reshape(-1, 4)
    amount = np.zeros(len(movable))
    held = np.zeros(len(movable), dtype=bool)
    for _ in range(_NEWTON_ROUNDS):
        free = np.nonzero(~held)[0]
        if not len(free):
            break
        errors, jacobian = _linear(circuit, goal, amount @ pushes)
        step = _lawson(errors, jacobian @ pushes[free].T)
        for n, dx in zip(free, step, strict=True):
            amount[n] += float(np.clip(dx, -_LONGEST, _LONGEST))
            if not movable[n].down <= amount[n] <= movable[n].up:
                amount[n] = min(max(amount[n], movable[n].down), movable[n].up)
                held[n] = True
    settings = amount @ pushes
    errors, _ = _linear(circuit, goal, settings)
    return Best({m.adjuster: float(x) for m, x in zip(movable, amount, strict=True)}, settings, errors)


def _linear(circuit: CircuitBelief, goal: Goal, shift: Array) -> tuple[Array, Array]:
    """Errors in tolerances (n,) and their derivatives to the settings (n, 4)."""
    hz = circuit.hz(goal.z_hz, shift)
    by_setting = circuit.by_setting(goal.z_hz, shift)
    return (hz - goal.wanted_hz) / goal.tolerance_hz, (-0.5 * hz / goal.tolerance_hz)[:, None] * by_setting


def _lawson(errors: Array, jacobian: Array) -> Array:
    weight = np.full(len(errors), 1.0 / len(errors))
    step = np.zeros(jacobian.shape[1])
    for _ in range(_LAWSON_ROUNDS if len(errors) > jacobian.shape[1] else 1):
        weighted = jacobian.T * weight
        normal = weighted @ jacobian
        step = np.linalg.solve(normal + np.eye(len(normal)) * _RIDGE * np.trace(normal), -weighted @ errors)
        left = np.abs(errors + jacobian @ step)
        total = float(weight @ left)
        if total < 1e-9:
            break
        weight = weight * left / total
    return step


def least_subset(
    circuit: CircuitBelief,
    goal: Goal,
    movable: tuple[Movable, ...],
    again: frozenset[str],
    slack: float,
    slack_again: float,
) -> tuple[Best, Best]:
    """The fewest adjusters that nearly reach what all of them could.

    Parameters
    ----------
    circuit : CircuitBelief
        the circuit as believed
    goal : Goal [Hz]
        places, wanted frequencies and tolerances [Hz], (n,)
    movable : tuple of Movable [1]
        adjusters, their settings and bounds [1]
    again : frozenset of str
        adjusters that this step has touched already
    slack, slack_again : float [1]
        how much worse than the best, in tolerances [1], is near enough: where a fresh adjuster could improve it, and
        where only those of `again` could

    Returns
    -------
    tuple of Best
        the chosen few, and all
    """
    everything = best_of(circuit, goal, movable)
    for size in range(len(movable)):
        tried = [best_of(circuit, goal, some) for some in combinations(movable, size)]
        near = [b for b in tried if b.worst <= everything.worst + _allowed(b, movable, again, slack, slack_again)]
        if near:
            return min(near, key=lambda b: b.worst), everything
    return everything, everything


def _allowed(
    best: Best, movable: tuple[Movable, ...], again: frozenset[str], slack: float, slack_again: float
) -> float:
    left_out = {m.adjuster for m in movable} - set(best.shifts)
    return slack_again if left_out <= again else slack
