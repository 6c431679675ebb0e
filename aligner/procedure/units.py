"""Quantities as they stand in files: a number with a decimal point, one SI prefix, one unit. Nothing is guessed.

Files are written once and read by machines, so there is one form only; what people type at the bench, with all its
freedoms, is another matter and not understood here.
"""

import re
from dataclasses import dataclass
from typing import Literal

from aligner.procedure.faults import shown

Unit = Literal["Hz", "V", "dB", "H", "F", "s"]

_PREFIXES: dict[Unit, dict[str, int]] = {
    "Hz": {"": 0, "k": 3, "M": 6, "G": 9},
    "V": {"": 0, "m": -3, "u": -6, "k": 3},
    "dB": {"": 0},
    "H": {"": 0, "m": -3, "u": -6, "n": -9},
    "F": {"": 0, "u": -6, "n": -9, "p": -12},
    "s": {"": 0, "m": -3, "u": -6},
}
_NAMES: dict[Unit, tuple[str, str]] = {
    "Hz": ("a frequency", "98.2 MHz"),
    "V": ("a voltage", "2.5 V"),
    "dB": ("a ratio in decibels", "0.3 dB"),
    "H": ("an inductance", "75 nH"),
    "F": ("a capacitance", "12 pF"),
    "s": ("a time", "100 ms"),
}
_FORM = re.compile(r"([+-]?[0-9]{1,15}(?:\.[0-9]{1,15})?) ?([A-Za-z]+)")
_SPELLINGS = {
    prefix + unit: (unit, exponent) for unit, prefixes in _PREFIXES.items() for prefix, exponent in prefixes.items()
}


@dataclass(frozen=True, slots=True)
class Misread:
    """Why something is not the quantity that is meant, and what would be."""

    found: str
    cure: str


def quantity(value: object, *units: Unit) -> tuple[float, Unit] | Misread:
    """The value in SI units (levels in dB) and which of the units it has, or why it is none of them."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return Misread(f"a number without a unit, {shown(value)}", f"write it as text with its unit: {_meant(units)}")
    if not isinstance(value, str):
        return Misread(f"{shown(value)}", f"write {_meant(units)}")
    form = _FORM.fullmatch(value.strip().replace("\N{MICRO SIGN}", "u").replace("\N{GREEK SMALL LETTER MU}", "u"))
    if form is None:
        return Misread(f"{shown(value)}, which is no quantity", f"write {_meant(units)}")
    number, spelling = form.groups()
    if spelling not in _SPELLINGS:
        return Misread(f'{shown(value)} with the unknown unit "{spelling}"', _respelt(number, spelling, units))
    unit, exponent = _SPELLINGS[spelling]
    if unit not in units:
        return Misread(f"{shown(value)}, {_NAMES[unit][0]}", f"write {_meant(units)}")
    return float(f"{number}e{exponent}"), unit


def _meant(units: tuple[Unit, ...]) -> str:
    return " or ".join(f'{_NAMES[unit][0]} such as "{_NAMES[unit][1]}"' for unit in units)


def _respelt(number: str, spelling: str, units: tuple[Unit, ...]) -> str:
    """The same number with the unit that was likely meant: only the case of its letters is wrong."""
    for right, (unit, _) in _SPELLINGS.items():
        if unit in units and right.lower() == spelling.lower():
            return f'did you mean "{number} {right}"?'
    return f"write {_meant(units)}"
