"""Preferred values of the E series (IEC 60063): which capacitor to buy.

E48 and E96 are the geometric series rounded to three figures. E6, E12 and E24 are older: eight of E24's two-figure
values differ from rounding by one in the last place. All from memory of IEC 60063; compared once with eseries 1.2.1.
"""

import math
from typing import Literal

from aligner.errors import CircuitError

Series = Literal["E6", "E12", "E24", "E48", "E96"]

_E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)


def decade(series: Series) -> tuple[float, ...]:
    """The values of one decade, from 1 to below 10.

    Parameters
    ----------
    series : "E6", "E12", "E24", "E48" or "E96" [-]
        Which series.

    Returns
    -------
    tuple of float [1]
        Values, rising. Source: IEC 60063, from memory.
    """
    count = int(series[1:])
    if count <= len(_E24):
        return tuple(value / 10 for value in _E24[:: len(_E24) // count])
    return tuple(round(float(10 ** (step / count)), 2) for step in range(count))


def nearest_preferred(value: float, series: Series) -> float:
    """The preferred value nearest in ratio.

    Parameters
    ----------
    value : float [F, H or ohm]
        Value wanted, above zero.
    series : "E6", "E12", "E24", "E48" or "E96" [-]
        Which series.

    Returns
    -------
    float [as value]
        Preferred value. Source: IEC 60063; nearness by ratio because tolerances are ratios.
    """
    below, above = neighbours(value, series)
    return below if value / below <= above / value else above


def neighbours(value: float, series: Series) -> tuple[float, float]:
    """The preferred values at or below and at or above a value.

    Parameters
    ----------
    value : float [F, H or ohm]
        Value wanted, above zero.
    series : "E6", "E12", "E24", "E48" or "E96" [-]
        Which series.

    Returns
    -------
    (float, float) [as value]
        The two neighbours; both the same where the value is a preferred one. Source: IEC 60063.

    Raises
    ------
    CircuitError
        Where the value is not a number above zero.
    """
    if not 0 < value < math.inf:
        message = f"only values above zero have preferred neighbours, not {value:g}"
        raise CircuitError(message)
    power = math.floor(math.log10(value))
    ladder = [_scaled(step, power + shift) for shift in (-1, 0, 1) for step in decade(series)]
    same = [step for step in ladder if math.isclose(step, value, rel_tol=1e-9)]
    if same:
        return same[0], same[0]
    return max(step for step in ladder if step < value), min(step for step in ladder if step > value)


def _scaled(step: float, power: int) -> float:
    return float(f"{step:g}e{power}")  # through text, so that 4.7e-12 is the number that 4.7e-12 is
