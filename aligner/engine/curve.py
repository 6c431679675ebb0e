"""One thing to draw: lines, read points, a band of tolerance, places of note, and what it says in words."""

from dataclasses import dataclass
from typing import Literal

Unit = Literal["Hz", "s", "dB", "V", "turn", ""]


@dataclass(frozen=True, slots=True)
class Line:
    """One line through points (x, y), in the units of its curve. `role`: how much it matters to the eye."""

    label: str
    points: tuple[tuple[float, float], ...]
    role: Literal["now", "before", "after", "limit"] = "now"


@dataclass(frozen=True, slots=True)
class Curve:
    """A picture of one relation.

    name: short, to choose it by. read: points that were read. marks: x of places of note, with a word each.
    words: what it says, in full sentences or short facts. least_y: how far the y axis reaches at least, in its unit.
    """

    name: str
    title: str
    x_unit: Unit
    y_unit: Unit
    lines: tuple[Line, ...]
    read: tuple[tuple[float, float], ...] = ()
    marks: tuple[tuple[float, str], ...] = ()
    words: tuple[str, ...] = ()
    least_y: float = 0.0
