"""Where the adjusters should stand: the settings that make the greatest error over a list of places least."""

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dgesv

from aligner.estimate.belief import CircuitBelief
from aligner.estimate.ladder import Array
from aligner.estimate.stand import Curve, Stand

_NEWTON_ROUNDS = 4
_STILL = 1e-6  # a step of the settings, in scaled terms, that changes nothing
_ALIKE = 1e-4  # of the strongest: a combination of adjusters that moves so little moves nothing by itself
_NOUGHT = 1e-9  # of a tolerance
_SINGULAR = 1e-14  # choices of places that are as good as one place
_MOST_PLACES = 12  # of many, those that the plain least squares leave farthest off
_LONGEST = 0.5  # a step of the settings, in scaled terms
_TURNED = np.array([-1.0, 1.0])  # signs of the minors of one column


@dataclass(frozen=True, eq=False)
class Goal:
    """What a circuit should do: at places z_hz [Hz] stand at wanted_hz [Hz], within tolerance_hz [Hz]; all (n,).

    Goals are compared by identity; their numbers never change. `near` is a goal that differs little: what is best for
    it is a good start.
    """

    z_hz: Array
    wanted_hz: Array
    tolerance_hz: Array
    near: "Goal | None" = None


@dataclass(frozen=True, slots=True)
class Movable:
    """An adjuster that may be moved: its setting's column, and how far the setting may go down and up from now [1]."""

    adjuster: str
    setting: int
    down: float = -np.inf
    up: float = np.inf


@dataclass(frozen=True, slots=True)
class Best:
    """The least greatest error that some adjusters reach: shift of each [1], and the errors left in tolerances [1].

    hardest [1] are the indices of the places that hold it up: they are left off by equally much.
    """

    shifts: dict[str, float]
    settings: Array
    errors: Array
    hardest: NDArray[np.int64] | None = None

    @property
    def worst(self) -> float:
        """The greatest error left, in tolerances [1]."""
        return float(np.abs(self.errors).max())


def errors_of(circuit: CircuitBelief, goal: Goal, shift: Array | None = None) -> Array:
    """Errors of a circuit [1] in tolerances [1], (n,), at the places of a goal [Hz], after a shift [1] of settings."""
    return np.asarray((circuit.hz(goal.z_hz, shift) - goal.wanted_hz) / goal.tolerance_hz)


def doubts_of(circuit: CircuitBelief, goal: Goal) -> Array:
    """Standard errors of a circuit [1] in tolerances [1], (n,), at the places of a goal [Hz]."""
    return np.asarray(circuit.sd_hz(goal.z_hz) / goal.tolerance_hz)


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
    Newton's method around a linear minimax problem. A shift that would pass a bound is held at the bound and the rest
    solved again. The same few adjusters are tried more than once for a goal, so the newest results are kept.
    """
    return _best_of(circuit.stand, goal, movable)


@lru_cache(maxsize=256)
def _best_of(stand: Stand, goal: Goal, movable: tuple[Movable, ...]) -> Best:
    near = _best_of(stand, goal.near, movable) if goal.near is not None else None
    curve = stand.at(goal.z_hz)
    pushes = np.array([stand.push(m.setting) for m in movable]).reshape(-1, 4)
    amount = [near.shifts[m.adjuster] if near is not None else 0.0 for m in movable]
    hardest = near.hardest if near is not None else None
    free = list(range(len(movable)))
    for _ in range(_NEWTON_ROUNDS):
        if not free:
            break
        errors, jacobian = _linear(curve, goal, np.array(amount).dot(pushes))
        found, hardest = _minimax(errors, jacobian.dot(pushes[free].T), hardest)
        steps = [min(max(dx, -_LONGEST), _LONGEST) for dx in found.tolist()]
        for n, dx in zip(tuple(free), steps, strict=True):
            row, amount[n] = movable[n], amount[n] + dx
            if not row.down <= amount[n] <= row.up:
                amount[n] = min(max(amount[n], row.down), row.up)
                free.remove(n)
        if max(map(abs, steps)) < _STILL:
            break
    settings = np.array(amount) @ pushes
    errors = (curve.hz(settings) - goal.wanted_hz) / goal.tolerance_hz
    settings.setflags(write=False)
    shifts = {m.adjuster: x for m, x in zip(movable, amount, strict=True)}
    return Best(shifts, settings, errors, hardest)


def _linear(curve: Curve, goal: Goal, shift: Array) -> tuple[Array, Array]:
    """Errors in tolerances (n,) and their derivatives to the settings (n, 4)."""
    there = curve.ladder(shift)
    hz = curve.stand.frame.hz(there.lny)
    return (hz - goal.wanted_hz) / goal.tolerance_hz, (-0.5 * hz / goal.tolerance_hz)[:, None] * there.by_setting


def _minimax(
    errors: Array, jacobian: Array, hardest: NDArray[np.int64] | None
) -> tuple[Array, NDArray[np.int64] | None]:
    """The step (k,) that makes max |errors + jacobian step| least, exactly, and the places that hold it up.

    From step to step they are mostly the same: then no others need be looked for.
    """
    step = None if hardest is None else _met_again(errors, jacobian, hardest)
    return _met_anew(errors, jacobian) if step is None else (step, hardest)


def _met_again(errors: Array, jacobian: Array, hardest: NDArray[np.int64]) -> Array | None:
    """The step that leaves some places off by equally much, with the signs of their minors; None where it is not least.

    It is where no other place is then farther off.
    """
    columns = jacobian[hardest]
    if len(hardest) != columns.shape[1] + 1:
        return None
    signs = np.sign(_minors(columns[None])[0])
    if not signs.all():
        return None
    step, level = _met(columns, signs, errors[hardest])
    return step if np.abs(errors + jacobian.dot(step)).max() <= abs(level) * (1.0 + _NOUGHT) else None


def _met(columns: Array, signs: Array, errors: Array) -> tuple[Array, float]:
    """The step (k,) after which k + 1 places are left off by equally much, with the signs of their minors; how much."""
    solved = dgesv(np.concatenate((columns, -signs[:, None]), axis=1), -errors)[2]
    return solved[:-1], float(solved[-1])


def _met_anew(errors: Array, jacobian: Array) -> tuple[Array, NDArray[np.int64] | None]:
    """The same with nothing known of the places; the shortest step where several do as well.

    In an orthonormal basis of what the adjusters can reach (columns that hardly differ count as one) the least greatest
    error is the greatest of those of all choices of one place more than there are columns, each of which is met with
    errors of equal size (E. W. Cheney, Introduction to Approximation Theory, 1966, ch. 2; from memory).
    """
    basis, size, turn = _orthonormal(jacobian)
    kept = size > _ALIKE * size[0]
    basis, back = basis[:, kept], turn[kept].T / size[kept]
    plain = -basis.T @ errors
    left = errors + basis @ plain
    worst = float(np.abs(left).max())
    if not kept.any() or len(errors) <= basis.shape[1] or worst < _NOUGHT:
        return np.asarray(back @ plain), None
    rows = _choices(min(len(left), _MOST_PLACES), basis.shape[1] + 1)
    if len(left) > _MOST_PLACES:
        rows = np.argsort(-np.abs(left), kind="stable")[rows]
    uneven = left + 1e-9 * worst * np.cos(np.arange(len(left)))  # no choice is met without any error
    minors = _minors(basis[rows])
    uneven_by = (minors * uneven[rows]).sum(axis=1)
    sound = np.abs(uneven_by) > _SINGULAR * worst
    if not sound.any():
        return np.asarray(back @ plain), None
    rows, balance = rows[sound], minors[sound] / uneven_by[sound][:, None]
    hardest = int(np.abs(balance).sum(axis=1).argmin())
    own = rows[hardest]
    more, _ = _met(basis[own], np.sign(balance[hardest]), left[own])
    return np.asarray(back @ (plain + more)), own if kept.all() else None


def _orthonormal(jacobian: Array) -> tuple[Array, Array, Array]:
    """The singular value decomposition, at once where there is one column."""
    if jacobian.shape[1] == 1 and jacobian.any():
        length = math.sqrt(jacobian[:, 0].dot(jacobian[:, 0]))
        return jacobian / length, np.array([length]), np.ones((1, 1))
    basis, size, turn = np.linalg.svd(jacobian, full_matrices=False)
    return basis, size, turn


def _minors(columns: Array) -> Array:
    """What makes the k columns of each matrix (m, k + 1, k) cancel, (m, k + 1): its signed minors by rows."""
    count = columns.shape[2]
    if count == 1:
        return np.asarray(columns[:, ::-1, 0] * _TURNED)
    if count == 2:
        (a, b, c), (d, e, f) = columns[:, :, 0].T, columns[:, :, 1].T
        return np.array((b * f - c * e, c * d - a * f, a * e - b * d)).T
    signs = (-1.0) ** np.arange(count + 1)
    return np.stack([sign * np.linalg.det(np.delete(columns, n, axis=1)) for n, sign in enumerate(signs)], axis=1)


@lru_cache(maxsize=32)
def _choices(of: int, size: int) -> NDArray[np.int64]:
    return np.array(list(combinations(range(of), size)))


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
