"""The linear minimax problem: the step within limits that makes the greatest of many errors least."""

from functools import lru_cache
from itertools import combinations

import numpy as np
import numpy.typing as npt
from scipy.optimize import linprog

Vector = npt.NDArray[np.float64]
_TRIED = 10
"""Of many places, those that plain least squares leave farthest off: among them are mostly those that limit."""
_SINGULAR = 1e-9
_EXACT = 1e-9


def balanced(here: Vector, slopes: Vector, low: Vector, high: Vector) -> Vector | None:
    """The step x within low and high that makes max |here + slopes x| least; None where there is none.

    Without limits it is met with equal errors, of turning sign, at one place more than there are unknowns (E. W.
    Cheney, Introduction to Approximation Theory, 1966, ch. 2; from memory). Where such a choice of places leaves no
    place farther off, and the step lies within the limits, it is the answer; else linear programming finds it.
    """
    free = _unlimited(here, slopes) if len(here) > slopes.shape[1] else _met(here, slopes)
    if free is not None and np.all(free >= low) and np.all(free <= high):
        return free
    return _by_programming(here, slopes, low, high)


def _met(here: Vector, slopes: Vector) -> Vector | None:
    """The step that leaves no error at as many places as there are unknowns; None where that is not certain."""
    if len(here) != slopes.shape[1] or np.linalg.matrix_rank(slopes) != len(here):
        return None
    step = np.asarray(np.linalg.solve(slopes, -here), dtype=np.float64)
    return step if np.max(np.abs(here + slopes @ step)) <= _EXACT * np.max(np.abs(here)) else None


def _unlimited(here: Vector, slopes: Vector) -> Vector | None:
    """The same without limits; None where it is not found, or not certain."""
    size = slopes.shape[1] + 1
    left = here + slopes @ np.linalg.lstsq(slopes, -here, rcond=None)[0]
    rows = np.argsort(-np.abs(left), kind="stable")[:_TRIED][_choices(min(len(here), _TRIED), size)]
    scale = float(np.abs(slopes).max(initial=0.0)) ** (size - 1)
    minors = _minors(slopes[rows])
    weight = np.abs(minors).sum(axis=1)
    sound = weight > _SINGULAR * scale
    if not sound.any():
        return None
    level = np.abs((minors * here[rows]).sum(axis=1)) / np.where(sound, weight, np.inf)
    hardest = int(level.argmax())
    own, minor = rows[hardest], minors[hardest]
    signs = np.sign(minor) * np.sign(float(minor @ here[own]))
    if not signs.all():
        return None
    step = np.linalg.solve(np.column_stack((slopes[own], -signs)), -here[own])[:-1]
    worst = float(np.abs(here + slopes @ step).max())
    return step if worst <= level[hardest] * (1 + _EXACT) else None


def _minors(slopes: Vector) -> Vector:
    """What makes the k slopes of each choice (m, k + 1, k) cancel, (m, k + 1): the signed minors of its rows."""
    size = slopes.shape[1]
    if size == 3:
        (a, b, c), (d, e, f) = slopes[:, :, 0].T, slopes[:, :, 1].T
        return np.array((b * f - c * e, c * d - a * f, a * e - b * d)).T
    others = [[other for other in range(size) if other != row] for row in range(size)]
    signs = [(-1) ** (row + size - 1) for row in range(size)]
    return np.stack([sign * np.linalg.det(slopes[:, rest]) for sign, rest in zip(signs, others, strict=True)], axis=1)


@lru_cache(maxsize=32)
def _choices(of: int, size: int) -> npt.NDArray[np.int64]:
    return np.array(list(combinations(range(of), size)))


def _by_programming(here: Vector, slopes: Vector, low: Vector, high: Vector) -> Vector | None:
    scale = max(float(np.max(np.abs(here))), 1e-300)
    ones = np.ones((len(here), 1))
    rows = np.vstack([np.hstack([slopes / scale, -ones]), np.hstack([-slopes / scale, -ones])])
    right = np.concatenate([-here, here]) / scale
    bounds = [*zip(low, high, strict=True), (0.0, None)]
    solved = linprog([0.0] * slopes.shape[1] + [1.0], A_ub=rows, b_ub=right, bounds=bounds, method="highs")
    return None if solved.x is None else np.asarray(solved.x)[:-1]
