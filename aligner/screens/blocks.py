"""Digits large enough to read from two metres, drawn in whole character cells.

Three sizes. The tall one is five rows of full blocks with strokes two cells wide, so that a stroke is about as wide as
it is high. The huge one is twice that. The low one is the same figures at half the height, two rows of dots to a cell.
Where a terminal has no block characters, number signs stand for blocks and the low size is drawn tall.
"""

from typing import Literal

Size = Literal["huge", "tall", "low"]

# Five rows of three dots. Any two figures differ by three dots at least, for one that differs by a corner is misread
# from two metres: the 8 has a waist, 6 and 9 have open ends, the 5 a notch.
_FIGURES: dict[str, tuple[str, str, str, str, str]] = {
    "0": ("###", "# #", "# #", "# #", "###"),
    "1": (" # ", "## ", " # ", " # ", "###"),
    "2": ("###", "  #", "###", "#  ", "###"),
    "3": ("###", "  #", " ##", "  #", "###"),
    "4": ("# #", "# #", "###", "  #", "  #"),
    "5": ("###", "#  ", "## ", "  #", "###"),
    "6": (" ##", "#  ", "###", "# #", "###"),
    "7": ("###", "  #", "  #", " # ", " # "),
    "8": ("###", "# #", " # ", "# #", "###"),
    "9": ("###", "# #", "###", "  #", "## "),
    "-": ("   ", "   ", "###", "   ", "   "),
    "+": ("   ", " # ", "###", " # ", "   "),
    "/": ("  #", "  #", " # ", "#  ", "#  "),
    "?": ("###", "  #", " ##", "   ", " # "),
    ".": (" ", " ", " ", " ", "#"),
    " ": (" ", " ", " ", " ", " "),
}

_HALVES = {("#", "#"): "█", ("#", " "): "▀", (" ", "#"): "▄", (" ", " "): " "}


def blocks(text: str, size: Size = "tall", *, ascii_only: bool = False) -> tuple[str, ...]:
    """The rows of `text` drawn large: ten, five or three by the size; a strange character is left out."""
    figures = [_FIGURES[mark] for mark in text if mark in _FIGURES]
    if size != "low" or ascii_only:
        stroke = 4 if size == "huge" else 2
        return tuple(row for row in _drawn(figures, stroke, "#" if ascii_only else "█") for _ in range(stroke // 2))
    rows = [" ".join(figure[row] for figure in figures) for row in range(5)]
    rows.append(" " * len(rows[0]))
    pairs = ((rows[top], rows[top + 1]) for top in (0, 2, 4))
    return tuple("".join(_HALVES[pair] for pair in zip(upper, lower, strict=True)) for upper, lower in pairs)


def width(text: str, size: Size) -> int:
    """How many columns `text` takes when it is drawn that large."""
    return len(blocks(text, size)[0])


def enlarged(rows: tuple[str, ...], times: int) -> tuple[str, ...]:
    """Any drawing so many times as wide and as high."""
    return tuple("".join(mark * times for mark in row) for row in rows for _ in range(times))


def _drawn(figures: list[tuple[str, str, str, str, str]], stroke: int, ink: str) -> tuple[str, ...]:
    gap = " " * (stroke // 2)
    return tuple(
        gap.join("".join((ink if dot == "#" else " ") * stroke for dot in figure[row]) for figure in figures)
        for row in range(5)
    )
