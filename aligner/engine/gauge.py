"""How far a live value is from the aim of the open ask, and which way it must go.

Drawn on a compressed scale: seen from two metres a straight scale shows nothing of the last hundredth of the way, which
is where the hand must slow down. With d the distance in half widths of the tolerance, and R the distance at which the
scale begins, a value stands at (d / R)^p of the half scale. The power p is such that the edge of the tolerance, d = 1,
lies at a tenth: so it is seen on every scale, and the first part of the way shows as well as the last. (A logarithm
would show next to nothing of the first half.)
"""

import math
from dataclasses import dataclass
from typing import Literal

from aligner.engine.asks import Aim, Ask, Peak, Touch

LEAST_SCALE = 20.0
"""The shortest scale, in half widths of the tolerance: a nearly right circuit must not look far off."""

EDGE = 0.1
"""Where the edge of the tolerance lies on the scale."""

LEAVES = 1.2
"""Once inside, a value has left only beyond so many half widths: at the edge it would flip with the last digit."""

Way = Literal["up", "down", "there"]
Turn = Literal["more", "less"]


@dataclass(frozen=True, slots=True)
class Gauge:
    """Where a live value stands against the aim, in the terms of the aim's quantity.

    off: value - aim. position: -1 (far below) to 1 (far above), 0 the aim, on the compressed scale.
    edge: where the edge of the tolerance lies on the same scale. fraction: how much of the way is behind, 0 to 1.
    way: where the reading must go. turn: what the adjuster must give, None where that is not known.
    """

    value: float
    aim: float
    within: float
    off: float
    position: float
    edge: float
    fraction: float
    way: Way
    turn: Turn | None
    inside: bool


@dataclass(frozen=True, slots=True)
class Unaimed:
    """There is nothing to aim at: a plain reading, a peak to be found, something to confirm."""

    value: float


def gauge(
    ask: Ask, live_value: float, start_value: float | None = None, *, was_inside: bool = False
) -> Gauge | Unaimed:
    """The gauge of `live_value`; `start_value` is what was read when the ask was shown, and sets the scale."""
    if not isinstance(ask, Touch) or not math.isfinite(live_value):
        return Unaimed(live_value)
    aim = ask.aim
    off = live_value - aim.value
    begun = live_value if start_value is None else start_value
    scale = _scale(aim, off, begun)
    position = math.copysign(_place(abs(off) / _half_width(aim), scale), off)
    inside = abs(off) <= aim.within * (LEAVES if was_inside else 1.0)
    way: Way = "there" if inside else "down" if off > 0 else "up"
    return Gauge(
        value=live_value,
        aim=aim.value,
        within=aim.within,
        off=off,
        position=position,
        edge=EDGE,
        fraction=1.0 if inside else 1.0 - abs(position),
        way=way,
        turn=_turn(ask, way, overshot=(begun - aim.value) * off < 0.0),
        inside=inside,
    )


_FLICKER = 3.0  # resolutions by which a reading may lie below the best while it still climbs
_ROUNDING = 1e-6  # of a resolution: decimals are no binary fractions


@dataclass(frozen=True, slots=True)
class Best:
    """The best value seen so far while peaking, and how far the newest has fallen from it (0 or more)."""

    value: float
    fallen: float
    here: bool


def best_of(ask: Peak, seen: tuple[float, ...], resolution: float) -> Best | None:
    """The peak (or dip, or the value nearest zero) seen so far; None before the first value."""
    values = [value for value in seen if math.isfinite(value)]
    if not values:
        return None
    merits = [merit(ask, value) for value in values]
    greatest = max(merits)
    best = values[merits.index(greatest)]
    fallen = greatest - merits[-1]
    return Best(value=best, fallen=fallen, here=fallen <= (_FLICKER + _ROUNDING) * resolution)


def merit(ask: Peak, value: float) -> float:
    """The greater, the nearer to what is looked for."""
    if ask.find == "null":
        return -abs(value)
    return value if ask.find == "max" else -value


def _half_width(aim: Aim) -> float:
    """The tolerance, never zero: an aim without width still has a scale, a millionth of its value wide."""
    return aim.within if aim.within > 0 else max(abs(aim.value) * 1e-6, 1e-12)


def _scale(aim: Aim, off: float, start_value: float) -> float:
    start = abs(start_value - aim.value) if math.isfinite(start_value) else abs(off)
    distance = max(start, abs(off)) / _half_width(aim)
    return max(LEAST_SCALE, distance)


def _place(distance: float, scale: float) -> float:
    power = -math.log(EDGE) / math.log(scale)
    return min(1.0, math.pow(distance / scale, power))


def _turn(ask: Touch, way: Way, *, overshot: bool) -> Turn | None:
    """More inductance or capacitance lowers every resonance; whatever else is read, back from beyond the aim."""
    if way == "there":
        return None
    if ask.aim.quantity in {"frequency", "resonance"}:
        return "more" if way == "down" else "less"
    if overshot and ask.direction is not None:
        return "less" if ask.direction == "more" else "more"
    return ask.direction
