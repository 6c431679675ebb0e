"""Axes: where a value stands on them, round ticks, and the unit that suits them."""

import math
from collections.abc import Callable
from dataclasses import dataclass

from aligner.engine.curve import Unit

_SCALES: dict[Unit, tuple[tuple[float, str, float], ...]] = {
    "Hz": ((1e6, "MHz", 1e6), (1e3, "kHz", 1e3), (0.0, "Hz", 1.0)),
    "s": ((600.0, "min", 60.0), (0.0, "s", 1.0)),
    "V": ((0.5, "V", 1.0), (0.0, "mV", 1e-3)),
    "turn": ((0.0, "turns", 1.0),),
}
"""From this size of the axis on: the unit that stands at it, and its size."""

COMPRESSED_FROM = 8.0
"""An axis that reaches so many tolerances is compressed beyond the tolerance, or the tolerance could not be seen."""

_BEYOND = 0.4
"""How much of the axis a factor of e beyond the tolerance takes, in tolerances."""


@dataclass(frozen=True, slots=True)
class Axis:
    """From `low` to `high`, in the curve's unit. `linear_to`: beyond it the axis is compressed (0: nowhere)."""

    low: float
    high: float
    unit: str
    factor: float
    linear_to: float = 0.0

    def share(self, value: float) -> float:
        """Where a value stands, 0 at the low end and 1 at the high end."""
        bent = self._bent()
        low, high = bent(self.low), bent(self.high)
        return (bent(value) - low) / (high - low)

    def ticks(self, most: int) -> tuple[float, ...]:
        """At most so many round values, in the curve's unit."""
        if self.linear_to:
            return self._decades(most)
        return tuple(step * self.factor for step in _round_steps(self.low / self.factor, self.high / self.factor, most))

    def label(self, value: float) -> str:
        """A tick's figures."""
        return f"{value / self.factor + 0.0:.10g}"

    def _bent(self) -> Callable[[float], float]:
        if not self.linear_to:
            return float
        return lambda value: _compressed(value / self.linear_to)

    def _decades(self, most: int) -> tuple[float, ...]:
        """Zero, the edges of the tolerance, and powers of ten beyond."""
        first = math.ceil(math.log10(2.0 * self.linear_to))
        last = math.floor(math.log10(max(abs(self.low), abs(self.high))) + 1e-9)
        sizes = [10.0**power for power in range(first, last + 1)]
        while 2 * len(sizes) + 3 > max(most, 5) and len(sizes) > 1:
            sizes = sizes[::-1][::2][::-1]
        sizes.insert(0, self.linear_to)
        signed = (*(-size for size in reversed(sizes)), 0.0, *sizes)
        return tuple(value for value in signed if self.low <= value <= self.high)


def _compressed(tolerances: float) -> float:
    """Straight within the tolerance, by the logarithm beyond."""
    size = abs(tolerances)
    return tolerances if size <= 1.0 else math.copysign(1.0 + _BEYOND * math.log(size), tolerances)


def axis(
    values: tuple[float, ...], unit: Unit, *, tolerance: float = 0.0, room: float = 0.05, least: float = 0.0
) -> Axis:
    """The axis for those values, with a little room at both ends; compressed where they pass the tolerance by far.

    least: how far it reaches at least, or what only plays about would fill it.
    """
    low, high = min(values), max(values)
    spread = max(0.0, least - (high - low)) / 2
    low, high = low - spread, high + spread
    if tolerance and max(-low, high) > COMPRESSED_FROM * tolerance:
        low, high, bend = min(1.5 * low, -2.0 * tolerance), max(1.5 * high, 2.0 * tolerance), tolerance
    else:
        spare = room * (high - low) or abs(high) * 1e-3 or 1.0
        low, high, bend = low - spare, high + spare, 0.0
    size = max(abs(low), abs(high))
    name, factor = next(((name, f) for least, name, f in _SCALES.get(unit, ((0.0, unit, 1.0),)) if size >= least))
    return Axis(low, high, name, factor, bend)


def _round_steps(low: float, high: float, most: int) -> tuple[float, ...]:
    rough = (high - low) / max(1, most)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(size * power for size in (1.0, 2.0, 5.0, 10.0) if size * power >= rough * (1 - 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return tuple(round(at * step, 12) for at in range(first, last + 1))
