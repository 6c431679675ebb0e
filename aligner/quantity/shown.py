"""From a number in SI units to text, with as many digits as the reading deserves."""

import math
from decimal import ROUND_HALF_EVEN, Context, Decimal

from aligner.quantity.turning import turns
from aligner.quantity.units import UNITS, Unit, UnitName

_EXACT = Context(prec=1500, rounding=ROUND_HALF_EVEN)
"""Holds every float to its last digit."""
_DIGITS = 12
"""Shown where no resolution is given: more than any reading has, fewer than would show the machine's rounding."""


def show(value: float, unit: UnitName, resolution: float | None = None, beside: float = 0.0) -> str:
    """The value in the unit that people use for its size; the last digit is worth at most one `resolution` (SI).

    With a resolution final noughts are kept, for they have been read; without one every digit that tells is shown.
    Beside a greater value (SI) it takes the unit of that.
    """
    if not math.isfinite(value):
        raise ValueError(f"{value} is no value to show")
    if resolution is not None and not 0 < resolution < math.inf:
        raise ValueError(f"{resolution} is no resolution")
    kind = UNITS[unit]
    size = _rounded(abs(value), kind, resolution)
    sign = "-" if value < 0 and size else ""
    return sign + (_turning(size, resolution) if unit == "turn" else _size(size, kind, resolution, abs(beside)))


def _rounded(size: float, kind: Unit, resolution: float | None) -> float:
    """Rounded to the digit worth showing, before the unit is chosen: 1 999 999 Hz to 100 Hz is 2 MHz."""
    if resolution is None:
        return float(f"{size:.{_DIGITS}g}")
    if kind.name == "turn" and resolution in {0.5, 0.25, 0.125}:
        return round(size / resolution) * resolution
    place = Decimal(1).scaleb(math.floor(math.log10(resolution)), _EXACT)
    return float(Decimal(size).quantize(place, context=_EXACT))


def _size(size: float, kind: Unit, resolution: float | None, beside: float) -> str:
    most = max(size, _rounded(beside, kind, resolution))
    name = [spelling for least, spelling in kind.ladder if most >= least][-1] if most else kind.ladder[0][1]
    if not most and kind.name in kind.spelled:
        name = "Ω" if kind.name == "ohm" else kind.name
    factor = float(kind.factor(name) or 1)
    if name == "min":
        return _minutes(size, resolution)
    if resolution is None:
        return f"{_plain(size / factor)} {name}"
    return f"{size / factor:.{_decimals(resolution / factor)}f} {name}"


def _plain(number: float) -> str:
    """All digits that tell, without an exponent."""
    return f"{Decimal(f'{number:.{_DIGITS}g}'):f}"


def _minutes(size: float, resolution: float | None) -> str:
    decimals = 6 if resolution is None else _decimals(resolution)
    minutes, seconds = divmod(Decimal(f"{size:.{decimals}f}"), 60)
    if seconds == 0:
        return f"{minutes:f} min"
    return f"{minutes:f} min {seconds.normalize() if resolution is None else seconds:f} s"


def _decimals(resolution: float) -> int:
    """Decimals of which the last is worth at most one resolution; the small part forgives what log10 rounds."""
    return max(0, -math.floor(math.log10(resolution) + 1e-9))


def _turning(size: float, resolution: float | None) -> str:
    if resolution is None:
        return turns(size)
    return turns(size, _decimals(resolution))
