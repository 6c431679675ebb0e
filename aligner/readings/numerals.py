"""Digits as instruments and spreadsheets print them, to a value and the step of its last digit."""

import math
import re
from dataclasses import dataclass
from typing import Literal

DecimalMark = Literal["", ".", ","]
"""The decimal mark of a device or file; empty where it is to be found out from the digits."""

GROUP_SPACES = " \u00a0\u2009\u202f'\u2019"
"""What may stand between groups of three digits besides point and comma."""

LONGEST = 60

_SHAPE = re.compile(r"([+-]?)([0-9.,]*[0-9][0-9.,]*)(?:[eE]([+-]?[0-9]{1,3}))?")
_UNCLEAR = re.compile(r"[0-9]{1,3},[0-9]{3}")
_WITHOUT_SPACES = str.maketrans({**dict.fromkeys(GROUP_SPACES, ""), "\u2212": "-"})


@dataclass(frozen=True, slots=True)
class Numeral:
    """A number and the step of its last digit, both in the unit asked for."""

    value: float
    step: float


@dataclass(frozen=True, slots=True)
class NoNumeral:
    """Digits that are no number, and why."""

    why: str


def numeral(text: str, decimal: DecimalMark = "", *, power: int = 0, comma_unclear: bool = True) -> Numeral | NoNumeral:
    """The number times ten to the `power`; with `comma_unclear` a lone comma before three digits is not guessed at.

    The power is put into the digits before they are converted, so that 383.594 kHz is 383594 Hz to the last bit.
    """
    shape = _SHAPE.fullmatch(text.translate(_WITHOUT_SPACES))
    if shape is None or len(text) > LONGEST:
        return NoNumeral("is no number")
    sign, digits, exponent = shape[1], shape[2], int(shape[3] or 0) + power
    if comma_unclear and not decimal and shape[3] is None and _UNCLEAR.fullmatch(digits):
        either = f"{digits.replace(',', '.')} or {digits.replace(',', '')}"
        return NoNumeral(f"may mean {either}: say which the decimal mark is")
    parts = _parts(digits, decimal or _mark(digits))
    if parts is None:
        return NoNumeral("has its points and commas where no number has them")
    whole, fraction = parts
    value = float(f"{sign}{whole}.{fraction}e{exponent}")
    if not math.isfinite(value):
        return NoNumeral("is too great for any instrument")
    return Numeral(value, float(f"1e{exponent - len(fraction)}"))


def _mark(digits: str) -> str:
    """The decimal mark: of two kinds the later one; a kind that occurs twice groups digits."""
    if "," in digits and "." in digits:
        return max(",.", key=digits.rfind)
    if "," in digits:
        return "," if digits.count(",") == 1 else "."
    return "." if digits.count(".") <= 1 else ","


def _parts(digits: str, mark: str) -> tuple[str, str] | None:
    """Digits before and after the decimal mark, without grouping; None where the marks make no number."""
    group = "," if mark == "." else "."
    whole, _, fraction = digits.partition(mark)
    if group in fraction or mark in fraction:
        return None
    if group in whole and not re.fullmatch(rf"[0-9]{{1,3}}(?:{re.escape(group)}[0-9]{{3}})+", whole):
        return None
    return whole.replace(group, "") or "0", fraction
