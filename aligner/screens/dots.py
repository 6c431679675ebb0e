"""A canvas of character cells with two by four dots each (braille), or one sign a cell where there is no braille."""

import math
from dataclasses import dataclass, field

Role = str
"""What a cell shows, for its colour: "now", "before", "after", "limit", "zero", "read", "axis" or ""."""

ACROSS, DOWN = 2, 4
"""Dots of one cell."""

_BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
_BLANK = 0x2800
_PLAIN: dict[Role, str] = {"now": "*", "before": ".", "after": "+", "limit": "-", "zero": "-", "read": "o"}
_RANK: dict[Role, int] = {"": 0, "zero": 1, "limit": 2, "before": 3, "after": 4, "now": 5, "read": 6}


@dataclass(slots=True)
class Canvas:
    """`columns` by `rows` cells; (0, 0) is the dot at the upper left. A later line never rubs out an earlier one."""

    columns: int
    rows: int
    plain: bool = False
    _bits: dict[tuple[int, int], int] = field(default_factory=dict)
    _role: dict[tuple[int, int], Role] = field(default_factory=dict)
    _sign: dict[tuple[int, int], str] = field(default_factory=dict)

    @property
    def width(self) -> int:
        """Dots across."""
        return self.columns * ACROSS

    @property
    def height(self) -> int:
        """Dots down."""
        return self.rows * DOWN

    def dot(self, x: int, y: int, role: Role) -> None:
        """One dot; what lies outside is left out."""
        if not (0 <= x < self.width and 0 <= y < self.height):
            return
        cell = x // ACROSS, y // DOWN
        self._bits[cell] = self._bits.get(cell, 0) | _BITS[y % DOWN][x % ACROSS]
        if _RANK[role] >= _RANK[self._role.get(cell, "")]:
            self._role[cell] = role

    def stroke(self, begin: tuple[float, float], end: tuple[float, float], role: Role, dash: tuple[int, int]) -> None:
        """A line between two dots; of every `dash[1]` dots along x the first `dash[0]` are drawn."""
        steps = max(1, math.ceil(max(abs(end[0] - begin[0]), abs(end[1] - begin[1]))))
        if steps > 4 * (self.width + self.height):
            return
        for step in range(steps + 1):
            x = round(begin[0] + (end[0] - begin[0]) * step / steps)
            y = round(begin[1] + (end[1] - begin[1]) * step / steps)
            if x % dash[1] < dash[0]:
                self.dot(x, y, role)

    def sign(self, x: float, y: float, sign: str, role: Role) -> None:
        """A whole sign in the cell of that dot."""
        cell = round(x) // ACROSS, round(y) // DOWN
        if 0 <= cell[0] < self.columns and 0 <= cell[1] < self.rows:
            self._sign[cell], self._role[cell] = sign, role

    def cells(self, row: int) -> tuple[tuple[str, Role], ...]:
        """The signs of one row of cells, each with what it shows."""
        return tuple(self._cell((column, row)) for column in range(self.columns))

    def _cell(self, cell: tuple[int, int]) -> tuple[str, Role]:
        role = self._role.get(cell, "")
        if cell in self._sign:
            return self._sign[cell], role
        if cell not in self._bits:
            return " ", ""
        return (_PLAIN[role] if self.plain else chr(_BLANK + self._bits[cell])), role
