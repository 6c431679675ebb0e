"""What a reading that cannot be right may have been meant to be: a slipped point, another unit, another harmonic."""

import math
from dataclasses import dataclass
from fractions import Fraction

from aligner.quantity.shown import show
from aligner.quantity.units import UnitName

_NEAR = 0.1
"""How far from what is expected, as a part of it, a likely meaning may lie; slips are factors of 2 and more apart."""
_UNIT_NEAR = 0.4
"""The same for a unit a thousand times off, which nothing else is mistaken for."""
_SWAP_NEAR = 0.02
"""The same for swapped digits, of which there are many, so that chance could bring one near."""
_SWAP_GAIN = 5.0
"""By how much nearer swapped digits must bring it, or a good reading a little off would be doubted for nothing."""

_FACTORS: tuple[tuple[Fraction, str], ...] = (
    (Fraction(10), "the point slipped by one place"),
    (Fraction(1, 10), "the point slipped by one place"),
    (Fraction(1000), "the unit a thousand times larger"),
    (Fraction(1, 1000), "the unit a thousand times smaller"),
    (Fraction(1_000_000), "the unit a million times larger"),
    (Fraction(1, 1_000_000), "the unit a million times smaller"),
    (Fraction(100), "the point slipped by two places"),
    (Fraction(1, 100), "the point slipped by two places"),
)
_UNITS = {Fraction(1000), Fraction(1, 1000), Fraction(1_000_000), Fraction(1, 1_000_000)}
_HUGE = 1e290  # nothing was slipped into this; it is nonsense
_HARMONICS: tuple[tuple[Fraction, str], ...] = (
    (Fraction(1, 2), "the second harmonic was read"),
    (Fraction(1, 3), "the third harmonic was read"),
    (Fraction(2), "half of the frequency was read"),
)


@dataclass(frozen=True, slots=True)
class Slip:
    """A likely meaning: its value in the unit asked about, and what would have gone wrong."""

    value: float
    text: str


def slips(
    value: float, near: float, unit: UnitName = "Hz", within: float | None = None, *, prescaler: int = 1
) -> tuple[Slip, ...]:
    """Likely meanings of a value where about `near` was expected, the nearest first; none where the value is near.

    within: how far from `near` a meaning may lie, in the same unit; a tenth of `near` unless given.
    prescaler: what the counter divides by, where it shows the divided frequency.
    """
    reach = _NEAR * abs(near) if within is None else within
    if not (math.isfinite(value) and math.isfinite(near)) or abs(value - near) <= min(reach, _SWAP_NEAR * abs(near)):
        return ()
    unit_reach = _UNIT_NEAR * abs(near) if within is None else within
    found = [] if abs(value - near) <= reach else _scaled(value, near, unit, (reach, unit_reach), prescaler)
    if not found:
        found = _swapped(value, near, min(reach, _SWAP_NEAR * abs(near)))
    found.sort(key=lambda pair: abs(pair[0] - near))
    return tuple(_slip(meant, how, unit) for meant, how in dict(found).items())


def slip_named(value: float, words: str, unit: UnitName = "Hz", *, prescaler: int = 1) -> Slip | None:
    """The likely meaning of a value that was named in those words; None where they name none."""
    if not math.isfinite(value) or abs(value) > _HUGE:
        return None
    meant = [(other, how) for other, how, _ in _meanings(value, unit, prescaler)] + _swaps(value)
    return next((slip for slip in (_slip(*row, unit) for row in meant) if f"perhaps {slip.text}" in words), None)


def _slip(meant: float, how: str, unit: UnitName) -> Slip:
    return Slip(meant, f"{show(meant, unit)}: {how}")


def _scaled(
    value: float, near: float, unit: UnitName, reach: tuple[float, float], prescaler: int
) -> list[tuple[float, str]]:
    """Meanings within the first reach, or by another unit alone within the second."""
    if abs(value) > _HUGE:
        return []
    meant = _meanings(value, unit, prescaler)
    return [(other, how) for other, how, factor in meant if abs(other - near) <= reach[factor in _UNITS]]


def _meanings(value: float, unit: UnitName, prescaler: int) -> list[tuple[float, str, Fraction]]:
    rows = _FACTORS + (_HARMONICS if unit == "Hz" else ())
    if unit == "Hz" and prescaler > 1:
        own = "what was typed is the oscillator itself"
        rows += (
            (Fraction(1, prescaler), f"{own}, and this counter divides it"),
            (Fraction(1000, prescaler), f"{own}, in a unit a thousand times larger, and this counter divides it"),
        )
    rows += ((Fraction(-1), "the sign was left out or added"),)
    return [(float(Fraction(value) * factor), how, factor) for factor, how in rows]


def _swapped(value: float, near: float, reach: float) -> list[tuple[float, str]]:
    """Neighbouring digits the other way round, where that brings the value clearly nearer."""
    nearest = [
        (other, how)
        for other, how in _swaps(value)
        if abs(value - near) > _SWAP_GAIN * abs(other - near) and abs(other - near) <= reach
    ]
    return sorted(nearest, key=lambda pair: abs(pair[0] - near))[:1]


def _swaps(value: float) -> list[tuple[float, str]]:
    digits = f"{value:.12g}"
    if "e" in digits:
        return []
    found: list[tuple[float, str]] = []
    for at in range(len(digits) - 1):
        first, second = digits[at], digits[at + 1]
        if first != second and (first + second).isdigit():
            other = float(digits[:at] + second + first + digits[at + 2 :])
            found.append((other, f"{first}{second} typed for {second}{first}"))
    return found
