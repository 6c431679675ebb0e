"""The scaled circuit: ln y of its four settings and the tuning element, with analytic derivatives."""

import msgspec
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

COIL, INNER, OUTER, SERIES = range(4)
"""Columns of a circuit's settings: ln inductance, trimmer across the tuning element or the coil, padder."""

_LEAST = 1e-3  # y cannot reach nought; a wild step of the solver is stopped here


class LadderValue(msgspec.Struct, frozen=True, eq=False):  # many are made: a struct is there sooner than a dataclass
    """ln y [1] of n places, and what its derivatives to the four settings are made of: v, 1 / (1 + s v), their sum."""

    lny: Array
    v: Array
    shrink: Array | float
    whole: Array

    @property
    def by_inner(self) -> Array:
        """Derivative of ln y to the trimmer across the tuning element, (n,) [1]."""
        return np.asarray(self.shrink * self.shrink / self.whole)

    @property
    def by_outer(self) -> Array:
        """Derivative of ln y to the trimmer across the coil, (n,) [1]."""
        return 1.0 / self.whole

    @property
    def by_series(self) -> Array:
        """Derivative of ln y to the padder, (n,) [1]."""
        return -self.v * self.v * self.by_inner

    @property
    def by_setting(self) -> Array:
        """Derivatives of ln y to the four settings, (n, 4) [1]."""
        by_setting = np.empty((self.v.shape[0], 4))
        by_setting[:, COIL] = 1.0
        by_setting[:, INNER] = self.by_inner
        by_setting[:, OUTER] = self.by_outer
        by_setting[:, SERIES] = self.by_series
        return by_setting


def ladder(u: Array, settings: Array, *, padded: bool = True) -> LadderValue:
    """ln y = l + ln( v / (1 + s v) + b ), v = u + a.

    Parameters
    ----------
    u : Array [1]
        tuning element, shape (n,) [1]
    settings : Array [1]
        l, a, b, s, shape (n, 4) or (4,) [1]
    padded : bool [1]
        False where b and s are nought: then there is less to work out, and settings may end with a

    Returns
    -------
    LadderValue
        ln y and derivatives [1]

    Notes
    -----
    Derived: a padder P in series with the tuning element and its trimmer (c + t) gives P (c + t) / (P + c + t); divide
    by the mid-band capacitance and write s for its ratio to P. Valid for y > 0; below 1e-3 the value is held there.
    """
    there = settings.T
    coil, v = there[COIL], u + there[INNER]
    if not padded:
        alone = np.maximum(v, _LEAST)
        return LadderValue(np.asarray(coil + np.log(alone)), v, 1.0, alone)
    shrink = 1.0 / np.maximum(1.0 + there[SERIES] * v, _LEAST)
    whole = np.maximum(v * shrink + there[OUTER], _LEAST)
    return LadderValue(np.asarray(coil + np.log(whole)), v, shrink, whole)
