"""The bar: it fills from the side on which the reading stands towards the aim in the middle."""

from dataclasses import dataclass

from aligner.engine.gauge import Gauge


@dataclass(frozen=True, slots=True)
class Marks:
    """What the bar is drawn with: filled, empty, the edges of the tolerance, the aim."""

    full: str
    empty: str
    left: str
    right: str
    aim: str


BLOCKS = Marks("█", "░", "▐", "▌", "┃")
PLAIN = Marks("#", ".", "[", "]", "|")


def bar(shown: Gauge, columns: int, marks: Marks = BLOCKS) -> str:
    """One row of `columns` cells: below the aim it fills from the left, above from the right, inside it is all full."""
    half = (columns - 1) // 2
    edge = max(1, round(shown.edge * half))
    reach = half if shown.inside else round((1.0 - abs(shown.position)) * half)
    if not shown.inside:
        reach = min(reach, half - edge - 1)
    low = shown.off < 0 or shown.inside
    high = shown.off > 0 or shown.inside
    left = _side(reach if low else 0, half, edge, marks, marks.left)
    right = _side(reach if high else 0, half, edge, marks, marks.right)
    return f"{left}{marks.aim}{right[::-1]}"


def _side(reach: int, half: int, edge: int, marks: Marks, edge_mark: str) -> str:
    cells = [marks.full] * reach + [marks.empty] * (half - reach)
    cells[half - edge - 1 if half > edge else 0] = edge_mark
    return "".join(cells)


def goal_bar(share: float, columns: int, marks: Marks = BLOCKS) -> str:
    """While peaking: it fills towards what is to be done next, and is full where nothing is left to do."""
    reach = round(max(0.0, min(1.0, share)) * (columns - 1))
    reach = min(reach, columns - 2) if share < 1.0 else reach
    return f"{marks.full * reach}{marks.empty * (columns - 1 - reach)}{marks.aim}"


def hold_bar(held: float, columns: int, marks: Marks = BLOCKS) -> str:
    """How much of the hold has passed before a reading is taken by itself."""
    reach = round(max(0.0, min(1.0, held)) * columns)
    return marks.full * reach + marks.empty * (columns - reach)
