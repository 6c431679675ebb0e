"""What a reading that cannot be right may have been meant to be: a slipped point, another unit, another harmonic."""

import math
from dataclasses import dataclass
from fractions import Fraction

from aligner.quantity.shown import show
from aligner.quantity.units import UnitName

_NEAR = 0.1
"""How far from what is expected, as a part of it, a likely meaning may lie; slips are factors of 2 and more apart."""
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
    found = [] if abs(value - near) <= reach else _scaled(value, near, unit, reach, prescaler)
    if not found:
        found = _swapped(value, near, min(reach, _SWAP_NEAR * abs(near)))
    found.sort(key=lambda pair: abs(pair[0] - near))
    return tuple(Slip(meant, f"{show(meant, unit)}: {how}") for meant, how in dict(found).items())


def _scaled(value: float, near: float, unit: UnitName, reach: float, prescaler: int) -> list[tuple[float, str]]:
    if abs(value) > _HUGE:
        return []
    rows = _FACTORS + (_HARMONICS if unit == "Hz" else ())
    if unit == "Hz" and prescaler > 1:
        rows += ((Fraction(1, prescaler), "what was typed is the oscillator itself, and this counter divides it"),)
    meant = [(float(Fraction(value) * factor), how) for factor, how in rows] + [
        (-value, "the sign was left out or added")
    ]
    return [(other, how) for other, how in meant if abs(other - near) <= reach]


def _swapped(value: float, near: float, reach: float) -> list[tuple[float, str]]:
    """Neighbouring digits the other way round, where that brings the value clearly nearer."""
    digits = f"{value:.12g}"
    if "e" in digits:
        return []
    nearest: list[tuple[float, str]] = []
    for at in range(len(digits) - 1):
        first, second = digits[at], digits[at + 1]
        if first == second or not (first + second).isdigit():
            continue
        other = float(digits[:at] + second + first + digits[at + 2 :])
        gain = abs(value - near) > _SWAP_GAIN * abs(other - near)
        if gain and abs(other - near) <= reach:
            nearest.append((other, f"{first}{second} typed for {second}{first}"))
    return sorted(nearest, key=lambda pair: abs(pair[0] - near))[:1]
