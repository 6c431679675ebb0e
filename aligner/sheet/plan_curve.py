"""A small curve of plain characters: what every printer and terminal shows alike."""

from collections.abc import Sequence

from aligner.quantity import show

_WIDTH, _HEIGHT = 57, 9
_MARGIN = 14


def curve_lines(points: Sequence[tuple[float, float]], marks_hz: Sequence[float]) -> list[str]:
    """The error [Hz] over the frequency [Hz] as lines of at most 80 columns; `o` on the axis marks tracking points.

    Where several fall on one column the greatest counts.
    """
    low, high = min(hz for hz, _ in points), max(hz for hz, _ in points)
    top = max(abs(error) for _, error in points) or 1.0
    grid = [[" "] * _WIDTH for _ in range(_HEIGHT)]
    middle = _HEIGHT // 2
    grid[middle] = ["-"] * _WIDTH
    for hz in marks_hz:
        if low <= hz <= high:
            grid[middle][_column(hz, low, high)] = "o"
    for column, error in _by_column(points, low, high).items():
        row = round(middle - error / top * middle)
        if not (row == middle and grid[row][column] == "o"):
            grid[row][column] = "*"
    labels = {0: f"+{show(top, 'Hz', top / 100)}", middle: "0", _HEIGHT - 1: f"-{show(top, 'Hz', top / 100)}"}
    body = [f"{labels.get(row, ''):>{_MARGIN}} |{''.join(cells).rstrip()}" for row, cells in enumerate(grid)]
    left, right = show(low, "Hz", low / 1e3), show(high, "Hz", high / 1e3)
    return [*body, f"{'':{_MARGIN}}  {left}{right:>{_WIDTH - len(left)}}"]


def _column(hz: float, low: float, high: float) -> int:
    return round((hz - low) / (high - low) * (_WIDTH - 1))


def _by_column(points: Sequence[tuple[float, float]], low: float, high: float) -> dict[int, float]:
    found: dict[int, float] = {}
    for hz, error in points:
        column = _column(hz, low, high)
        if abs(error) >= abs(found.get(column, 0.0)):
            found[column] = error
    return found
