"""Written numbers: decimal point or comma, grouped digits, and what is honestly ambiguous.

A numeral may have two meanings ("1,234"); which is meant is for the caller to settle, who knows the unit and what is
expected.
"""

import re
from dataclasses import dataclass
from fractions import Fraction

_GROUPING = " '_"
_WHOLE = re.compile(r"\d{1,3}(?P<mark>[ '_.,])\d{3}(?:(?P=mark)\d{3})*")
_PART = re.compile(r"\d{3}(?P<mark>[ '_])(?:\d{3}(?P=mark))*\d{1,3}")
_DIGITS = re.compile(r"[0-9]*")


@dataclass(frozen=True, slots=True)
class Numeral:
    """What a numeral can mean, the likelier first; `settled` where the first is what the writing says by custom."""

    values: tuple[Fraction, ...]
    settled: bool = True


def read_numeral(text: str) -> Numeral | None:
    """What an unsigned numeral can mean, None where it is none ("98..2", "1,23,4")."""
    points = [mark for mark in text if mark in ".,"]
    if not any(mark.isdigit() for mark in text):
        return None
    if len(points) == 1:
        return _one_point(text, points[0])
    if len(set(points)) == 2:
        # The last is the decimal mark, the other groups: 1.234,5 and 1,234.5.
        return _one_point(text, points[-1]) if points.count(points[-1]) == 1 else None
    return _no_point(text)


def _no_point(text: str) -> Numeral | None:
    """Digits, grouped or not; "98.412.345" on a counter's display may also be 98.412345."""
    if text.isdigit():
        return Numeral((Fraction(text),))
    if not _WHOLE.fullmatch(text):
        return None
    first, *rest = re.split(r"[^0-9]", text)
    return Numeral((Fraction(first + "".join(rest)), Fraction(f"{first}.{''.join(rest)}")))


def _one_point(text: str, point: str) -> Numeral | None:
    """One decimal mark; "1,234" may be grouped as well, and "1.234" is so only if nothing else can be meant."""
    before, _, after = text.rpartition(point)
    whole, part = _ungrouped(before, _WHOLE), _ungrouped(after, _PART)
    if whole is None or part is None:
        return None
    decimal = Fraction(f"{whole or '0'}.{part or '0'}")
    if before.isdigit() and len(before) <= 3 and before[0] != "0" and re.fullmatch(r"\d{3}", after):
        return Numeral((decimal, Fraction(before + after)), settled=point == ".")
    return Numeral((decimal,))


def _ungrouped(text: str, grouped: re.Pattern[str]) -> str | None:
    """The digits alone, None where they are not grouped by threes."""
    if _DIGITS.fullmatch(text):
        return text
    return re.sub(r"[^0-9]", "", text) if grouped.fullmatch(text) else None
