"""Turns: their sense of rotation in words, seen from the tool, and fractions of a turn as people say them."""

import re

_SENSES = {
    1: ("clockwise", "cw", "right"),
    -1: ("anticlockwise", "anti-clockwise", "counterclockwise", "counter-clockwise", "ccw", "acw", "left"),
}
_WORDS = (
    (r"three[- ]quarters?( of)?( a)?", "3/4"),
    (r"a? ?half( a)?", "1/2"),
    (r"(a|one)? ?quarter( of)?( a)?", "1/4"),
)
_EIGHTHS = {0: "", 1: "1/8", 2: "1/4", 3: "3/8", 4: "1/2", 5: "5/8", 6: "3/4", 7: "7/8"}


def directed(typed: str) -> tuple[int, str]:
    """The sense (+1 clockwise, -1 anticlockwise, 0 not said), and what is left, with words for fractions as digits."""
    left = typed.casefold()
    for words, digits in _WORDS:
        left = re.sub(rf"^{words}(?=\s|$)", digits, left).strip()
    for sense, names in _SENSES.items():
        for name in names:
            for pattern in (rf"(?<![a-z-])(to the )?{name}$", rf"^{name}(?![a-z-])"):
                shorter = re.sub(pattern, "", left).strip(" ,")
                if shorter != left:
                    return sense, shorter
    return 0, left


def turns(size: float, decimals: int | None = None) -> str:
    """An unsigned number of turns: in eighths where it is so, otherwise in decimals."""
    eighths = size * 8
    whole = int(eighths) // 8
    if eighths == int(eighths):
        part = _EIGHTHS[int(eighths) % 8]
        number = " ".join(piece for piece in (str(whole) if whole or not part else "", part) if piece)
        return f"{number} turn" if 0 < size <= 1 else f"{number} turns"
    number = f"{size:.12g}" if decimals is None else f"{size:.{decimals}f}"
    return f"{number} turn"


def spoken(value: float) -> str:
    """A signed number of turns with its sense in words."""
    sense = " clockwise" if value > 0 else " anticlockwise" if value < 0 else ""
    return turns(abs(value)) + sense
