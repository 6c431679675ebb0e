"""A curve drawn in character cells: axes with round ticks, lines told apart by their dashes, read points as signs."""

import textwrap
from dataclasses import dataclass

from aligner.engine.curve import Curve, Line
from aligner.screens.axis import Axis, axis
from aligner.screens.dots import ACROSS, DOWN, Canvas, Role

_DASHES: dict[Role, tuple[int, int]] = {"now": (1, 1), "before": (1, 4), "after": (4, 8), "limit": (1, 2)}
_KEYS: dict[Role, tuple[str, str]] = {
    "before": ("· ·", ". ."), "now": ("──", "**"), "after": ("- -", "+ +"), "limit": ("····", "----"),
}  # fmt: skip
"""What a line looks like, for the legend: with braille and without."""

_STICKS = "\xa0"
"""A space at which no line is broken."""

LEAST_ROWS, LEAST_COLUMNS = 6, 30
Cells = tuple[tuple[str, Role], ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The room for one plot in cells, and whether there is braille."""

    columns: int
    rows: int
    plain: bool = False


def plotted(curve: Curve, sheet: Sheet) -> tuple[Cells, ...]:
    """The plot, row by row; without rows where there is no room or nothing to draw."""
    every = [*(row for line in curve.lines for row in line.points), *curve.read]
    if not every or sheet.rows < LEAST_ROWS or sheet.columns < LEAST_COLUMNS:
        return ()
    y_axis = _y_axis(curve)
    x_axis = axis(tuple(x for x, _ in every), curve.x_unit, room=0.02)
    rows = sheet.rows - 2
    ticks = {_row(y_axis, value, rows): y_axis.label(value) for value in y_axis.ticks(max(3, rows // 3))}
    if ticks:
        ticks[min(ticks)] += f" {y_axis.unit}".rstrip()
    margin = max(0, *(len(label) for label in ticks.values())) + 1
    canvas = Canvas(sheet.columns - margin - 1, rows, sheet.plain)
    _draw(canvas, curve, x_axis, y_axis)
    edge, tick = ("|", "+") if sheet.plain else ("│", "┤")
    body = [
        (*_cells(f"{ticks.get(row, ''):>{margin}}{tick if row in ticks else edge}"), *canvas.cells(row))
        for row in range(rows)
    ]
    return (*body, _marks_row(curve, x_axis, canvas, margin, sheet), _x_labels(x_axis, canvas, margin))


def _y_axis(curve: Curve) -> Axis:
    every = [*(row for line in curve.lines for row in line.points), *curve.read]
    limit = max((abs(y) for line in curve.lines if line.role == "limit" for _, y in line.points), default=0.0)
    return axis(tuple(y for _, y in every), curve.y_unit, tolerance=limit, least=curve.least_y)


def legend(curve: Curve, columns: int, *, plain: bool) -> str:
    """Which line is which, once each, in as many rows as that needs."""
    names: dict[Role, str] = {line.role: line.label for line in curve.lines}
    roles = [role for role in _KEYS if role in names]
    parts = [f"{_KEYS[role][int(plain)]} {names[role]}" for role in roles]
    if any(line.points for line in curve.lines) and _y_axis(curve).linear_to:
        parts[-1] += ", axis squeezed beyond it"  # the tolerance is the last
    if curve.read:
        parts.append(f"{'o' if plain else '●'} read")
    rows = textwrap.wrap("   ".join(part.replace(" ", _STICKS) for part in parts), columns)
    return "\n".join(rows).replace(_STICKS, " ")


def _draw(canvas: Canvas, curve: Curve, x_axis: Axis, y_axis: Axis) -> None:
    def at(point: tuple[float, float]) -> tuple[float, float]:
        return (
            x_axis.share(point[0]) * (canvas.width - 1),
            (1.0 - y_axis.share(point[1])) * (canvas.height - 1),
        )

    if y_axis.low < 0.0 < y_axis.high:
        level = at((x_axis.low, 0.0))[1]
        canvas.stroke((0, level), (canvas.width - 1, level), "zero", (1, 4))
    for line in sorted(curve.lines, key=_order):
        for begin, end in zip(line.points, line.points[1:], strict=False):
            canvas.stroke(at(begin), at(end), line.role, _DASHES[line.role])
    for point in curve.read:
        canvas.sign(*at(point), "o" if canvas.plain else "●", "read")


def _order(line: Line) -> int:
    return ("limit", "before", "after", "now").index(line.role)


def _row(y_axis: Axis, value: float, rows: int) -> int:
    """The row of cells of a value: by the same dot that a line through it is drawn with."""
    return round((1.0 - y_axis.share(value)) * (rows * DOWN - 1)) // DOWN


def _column(x_axis: Axis, value: float, canvas: Canvas) -> int:
    return round(x_axis.share(value) * (canvas.width - 1)) // ACROSS


def _marks_row(curve: Curve, x_axis: Axis, canvas: Canvas, margin: int, sheet: Sheet) -> Cells:
    """The x axis, with ticks, and places of note by a triangle with its word."""
    line, corner, tick, triangle = ("-", "+", "+", "^") if sheet.plain else ("─", "└", "┴", "▲")
    row = [line] * canvas.columns
    for value in x_axis.ticks(_most_ticks(canvas)):
        row[_column(x_axis, value, canvas)] = tick
    for value, word in curve.marks:
        at = _column(x_axis, value, canvas)
        if 0 <= at < canvas.columns:
            row[at] = triangle
            if word and at + 1 + len(word) <= canvas.columns and all(sign == line for sign in row[at + 1 : at + 2]):
                row[at + 1 : at + 1 + len(word)] = list(word)
    return _cells(" " * margin + corner + "".join(row))


def _x_labels(x_axis: Axis, canvas: Canvas, margin: int) -> Cells:
    row = [" "] * (canvas.columns + 1)
    for value in x_axis.ticks(_most_ticks(canvas)):
        label = x_axis.label(value)
        first = max(0, _column(x_axis, value, canvas) + 1 - len(label) // 2)
        if first + len(label) < len(row) - len(x_axis.unit) and all(sign == " " for sign in row[first - 1 : first]):
            row[first : first + len(label)] = list(label)
    row[len(row) - len(x_axis.unit) :] = list(x_axis.unit)
    return _cells(" " * margin + "".join(row))


def _most_ticks(canvas: Canvas) -> int:
    return max(2, canvas.columns // 12)


def _cells(text: str) -> Cells:
    return tuple((sign, "axis") for sign in text)
