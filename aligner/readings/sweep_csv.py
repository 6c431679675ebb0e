"""Sweeps as tables of text: comma, semicolon, tab or spaces between the columns, decimal point or comma.

The columns are told by their headings, else they are the first two. A heading or a cell may give the unit. Nothing is
guessed that would change a value: where a comma may divide or group, or where no unit is said and the numbers are too
small for hertz, the file is refused with what to write in it.
"""

import csv
import re
from dataclasses import dataclass
from typing import Literal

from aligner.readings.imported import ImportedSweep, checked, sweep_error
from aligner.readings.numerals import NoNumeral, numeral
from aligner.readings.units import Printed, printed_unit
from aligner.text import clean

LONGEST_LINE = 2000
LEAST_HZ = 10e3
"""Below it no circuit of a receiver is swept: numbers without unit that are smaller are not in Hz."""

_DATA = re.compile(r"""\s*["']?[+\-\u2212]?[.,]?[0-9]""")
_CELL = re.compile(r"([+\-\u2212]?[0-9.,' \u00a0\u202f]*[0-9.](?:[eE][+-]?[0-9]+)?)\s*([^\W\d_]+|%)?")
_COMMENT = ("#", "!", "%", "//")
_FREQUENCY = re.compile(r"\b(f|fr?e?q\w*|fr[eé]\w+|[kmg]?hz)\b", re.IGNORECASE)
_LEVEL = re.compile(
    r"\b(level|lvl|db\w*|mag\w*|gain|ampl\w*|power|pegel|volts?|voltage|m?v|s[0-9]{2})\b", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class _Column:
    """A column: where it stands, its heading, and the unit that the heading says."""

    place: int
    heading: str
    printed: Printed | None


@dataclass(frozen=True, slots=True)
class _Table:
    """The rows with numbers, each with its line, and the columns to take of them."""

    rows: tuple[tuple[int, tuple[str, ...]], ...]
    separator: str
    frequency: _Column
    level: _Column


def parse_csv(text: str, name: str, *, column: str | None = None) -> ImportedSweep:
    """The sweep of a table; `column` is the heading of the level to take where there are several."""
    table = _table(text, name, column)
    points: list[tuple[float, float]] = []
    units: set[Literal["dB", "V"]] = set()
    said = False
    for line, cells in table.rows:
        hz, hz_printed = _cell(name, line, cells, table, table.frequency)
        value, printed = _cell(name, line, cells, table, table.level)
        if hz_printed is not None and hz_printed.unit != "Hz":
            raise sweep_error(name, line, "the frequency is not in Hz, kHz, MHz or GHz")
        units.add(_level_unit(name, line, printed))
        said = said or hz_printed is not None
        points.append((hz, value))
    if len(units) > 1:
        raise sweep_error(name, 0, "has some levels in dB and others in V")
    if not said and points and max(hz for hz, _ in points) < LEAST_HZ:
        raise sweep_error(name, 0, "says no unit of frequency; write it into the heading: Frequency (kHz)")
    kept = tuple(point for point in points if point[0] > 0)
    taken = f"{table.frequency.heading or 'column 1'}, {table.level.heading or 'column 2'}"
    unit = units.pop() if units else "dB"
    return checked(name, ImportedSweep(kept, unit, taken, len(points) - len(kept)))


def _table(text: str, name: str, column: str | None) -> _Table:
    lines = [(number, line) for number, line in enumerate(text.splitlines(), start=1) if line.strip()]
    for number, line in lines:
        if len(line) > LONGEST_LINE:
            raise sweep_error(name, number, f"the line is longer than {LONGEST_LINE} characters")
    first = next((place for place, (_, line) in enumerate(lines) if _DATA.match(line)), None)
    if first is None:
        raise sweep_error(name, 0, "has no row that begins with a number")
    separator = _separator(lines[first][1])
    headings = _cells(lines[first - 1][1].lstrip("#!%/ "), separator) if first else ()
    frequency, level = _columns(name, headings, column)
    rows = tuple(
        (number, _cells(line, separator)) for number, line in lines[first:] if not line.lstrip().startswith(_COMMENT)
    )
    return _Table(rows, separator, frequency, level)


def _separator(row: str) -> str:
    """What stands between the columns; a comma only where nothing else does, for it may be a decimal mark."""
    for mark in "\t;":
        if mark in row:
            return mark
    return "," if "," in row and not re.search(r"[0-9]\s+[+\-\u2212]?[0-9]", row) else " "


def _cells(line: str, separator: str) -> tuple[str, ...]:
    if separator == " ":
        return tuple(line.split())
    try:
        (cells,) = csv.reader([line], delimiter=separator, skipinitialspace=True)
    except (csv.Error, ValueError):
        return (line,)
    return tuple(cell.strip() for cell in cells)


def _columns(name: str, headings: tuple[str, ...], column: str | None) -> tuple[_Column, _Column]:
    found = [_Column(place, clean(heading, 40), _heading_unit(heading)) for place, heading in enumerate(headings)]
    frequencies = [one for one in found if _FREQUENCY.search(one.heading)]
    frequency = frequencies[0] if frequencies else _at(found, 0)
    others = [one for one in found if one.place != frequency.place]
    if column is None:
        levels = [one for one in others if _LEVEL.search(one.heading)]
        return frequency, levels[0] if levels else _at(found, 1 if frequency.place == 0 else 0)
    chosen = [one for one in others if one.heading.casefold() == column.casefold()]
    if not chosen:
        known = ", ".join(one.heading for one in others) or "none"
        raise sweep_error(name, 0, f"has no column {clean(column, 40)!r}; columns there are: {known}")
    return frequency, chosen[0]


def _at(found: list[_Column], place: int) -> _Column:
    return found[place] if place < len(found) else _Column(place, "", None)


def _heading_unit(heading: str) -> Printed | None:
    """The unit in a heading: the last word that is one of ours."""
    units = [printed_unit(word) for word in re.findall(r"[^\W\d_]+", heading)]
    return next((unit for unit in reversed(units) if unit is not None and unit.unit), None)


def _cell(name: str, line: int, cells: tuple[str, ...], table: _Table, column: _Column) -> tuple[float, Printed | None]:
    """The number of a cell in its unit, and that unit, the cell's own or the heading's."""
    if column.place >= len(cells):
        raise sweep_error(name, line, f"has {len(cells)} columns; column {column.place + 1} is wanted")
    match = _CELL.fullmatch(cells[column.place])
    own = printed_unit(match[2]) if match and match[2] else None
    if match is None or (match[2] and own is None):
        raise sweep_error(name, line, f"{clean(cells[column.place], 40)!r} is no number with or without unit")
    printed = own or column.printed
    power = printed.power if printed else 0
    wary = power == 0 and column.place == table.frequency.place  # of whole hertz the thousands are often grouped
    number = numeral(match[1], "." if table.separator == "," else "", power=power, comma_unclear=wary)
    if isinstance(number, NoNumeral):
        raise sweep_error(name, line, f"{clean(match[1], 40)!r} {number.why}")
    return number.value, printed


def _level_unit(name: str, line: int, printed: Printed | None) -> Literal["dB", "V"]:
    """The unit of a level; dB where none is said."""
    if printed is None or printed.unit == "dB":
        return "dB"
    if printed.unit == "V":
        return "V"
    raise sweep_error(name, line, "the level is neither in dB nor in V")
