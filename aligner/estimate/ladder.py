"""The scaled circuit: ln y of its four settings and the tuning element, with analytic derivatives."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

COIL, INNER, OUTER, SERIES = range(4)
"""Columns of a circuit's settings: ln inductance, trimmer across the tuning element or the coil, padder."""

_LEAST = 1e-3  # y cannot reach nought; a wild step of the solver is stopped here


@dataclass(frozen=True, slots=True)
class LadderValue:
    """ln y [1] of n places, and its derivatives to the four settings (n, 4)."""

    lny: Array
    by_setting: Array


def ladder(u: Array, settings: Array) -> LadderValue:
    """ln y = l + ln( v / (1 + s v) + b ), v = u + a.

    Parameters
    ----------
    u : Array [1]
        tuning element, shape (n,) [1]
    settings : Array [1]
        l, a, b, s, shape (n, 4) or (4,) [1]

    Returns
    -------
    LadderValue
        ln y and derivatives [1]

    Notes
    -----
    Derived: a padder P in series with the tuning element and its trimmer (c + t) gives P (c + t) / (P + c + t); divide
    by the mid-band capacitance and write s for its ratio to P. Valid for y > 0; below 1e-3 the value is held there.
    """
    v, shrink, whole = _capacitances(u, settings)
    by_v = shrink * shrink / whole
    by_setting = np.empty((u.shape[0], 4))
    by_setting[:, COIL] = 1.0
    by_setting[:, INNER] = by_v
    by_setting[:, OUTER] = 1.0 / whole
    by_setting[:, SERIES] = -v * v * by_v
    return LadderValue(np.asarray(settings.T[COIL] + np.log(whole)), by_setting)


def ladder_lny(u: Array, settings: Array) -> Array:
    """ln y of `ladder` alone, where nobody asks for its derivatives.

    Parameters
    ----------
    u : Array [1]
        tuning element, shape (n,) [1]
    settings : Array [1]
        l, a, b, s, shape (n, 4) or (4,) [1]

    Returns
    -------
    Array
        ln y [1], shape (n,)
    """
    return np.asarray(settings.T[COIL] + np.log(_capacitances(u, settings)[2]))


def _capacitances(u: Array, settings: Array) -> tuple[Array, Array, Array]:
    """v, 1 / (1 + s v), and v / (1 + s v) + b."""
    _, inner, outer, series = settings.T
    v = u + inner
    shrink = 1.0 / np.maximum(1.0 + series * v, _LEAST)
    return v, shrink, np.maximum(v * shrink + outer, _LEAST)
