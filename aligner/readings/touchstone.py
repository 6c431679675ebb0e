"""Touchstone files, versions 1 and 2 (IBIS Open Forum): scattering parameters to a level over frequency.

What is not read is refused and not guessed at: other parameters than S, mixed modes, and a file without its option
line, whose frequencies could be anything.
"""

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from aligner.readings.imported import ImportedSweep, checked, sweep_error
from aligner.text import clean

GREATEST_PORTS = 32
_UNITS = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_KEYWORD = re.compile(r"\[([^\]]{1,60})\]\s*(.*)")
_SUFFIX = re.compile(r"\.s([0-9]{1,2})p$", re.IGNORECASE)
_AFTER_DATA = frozenset({"noise data", "end"})
_IGNORED = frozenset({"reference", "number of noise frequencies"})


def _from_magnitude(first: float, second: float) -> float:  # noqa: ARG001 - the angle says nothing of the level
    return 20 * math.log10(first) if first > 0 else -math.inf


def _from_db(first: float, second: float) -> float:  # noqa: ARG001 - the angle says nothing of the level
    return first


def _from_real_imaginary(first: float, second: float) -> float:
    return _from_magnitude(math.hypot(first, second), 0.0)


_FORMATS: dict[str, Callable[[float, float], float]] = {
    "ma": _from_magnitude,
    "db": _from_db,
    "ri": _from_real_imaginary,
}


@dataclass(slots=True)
class _Header:
    """What a file says before its data."""

    ports: int
    version: int = 1
    hz: float = 0.0  # 0 while there was no option line
    level: Callable[[float, float], float] = _from_magnitude
    matrix: str = "full"
    order: str = "21_12"
    frequencies: int | None = None


@dataclass(slots=True)
class _Body:
    """The numbers of the network data, each with its line."""

    numbers: list[tuple[int, float]] = field(default_factory=list)


def parse_touchstone(text: str, name: str, parameter: tuple[int, int] | None = None) -> ImportedSweep:
    """The level of one parameter, (2, 1) being S21; without choice S21, and S11 of a one-port."""
    suffix = _SUFFIX.search(name)
    header = _Header(ports=int(suffix[1]) if suffix else 0)
    body = _Body()
    _read(text, name, header, body)
    if not header.hz:
        raise sweep_error(name, 0, "has no option line such as # MHz S DB R 50, so its unit is not known")
    if not 1 <= header.ports <= GREATEST_PORTS:
        raise sweep_error(name, 0, f"must say 1 to {GREATEST_PORTS} ports, by its ending (.s2p) or [Number of Ports]")
    out, into = parameter or ((2, 1) if header.ports > 1 else (1, 1))
    if not (1 <= out <= header.ports and 1 <= into <= header.ports):
        raise sweep_error(name, 0, f"has {header.ports} ports and no S{out}{into}")
    rows = list(_rows(name, header, body))
    if header.frequencies not in {None, len(rows)}:
        raise sweep_error(name, 0, f"says {header.frequencies} frequencies and has {len(rows)}")
    place = 1 + 2 * _place(header, out - 1, into - 1)
    points = [(row[0] * header.hz, header.level(row[place], row[place + 1])) for row in rows]
    kept = tuple(point for point in points if point[0] > 0 and math.isfinite(point[1]))
    return checked(name, ImportedSweep(kept, "dB", f"S{out}{into}", len(points) - len(kept)))


def _read(text: str, name: str, header: _Header, body: _Body) -> None:
    """Sort the lines into header and body."""
    skipping = ""  # the keyword whose lines are passed over
    for number, full in enumerate(text.splitlines(), start=1):
        line = full.partition("!")[0].strip()
        keyword = _KEYWORD.fullmatch(line)
        if keyword is not None:
            word = " ".join(keyword[1].casefold().split())
            if word in _AFTER_DATA:
                return
            if skipping != "begin information" or word == "end information":
                skipping = word if word in _IGNORED or word == "begin information" else ""
                _take_keyword(name, number, header, word, keyword[2].strip())
        elif not line or skipping:
            continue
        elif line.startswith("#"):
            if not header.hz:  # a second option line is to be ignored
                _take_options(name, number, header, line[1:].split())
        else:
            body.numbers.extend((number, _number(name, number, word)) for word in line.split())


def _number(name: str, line: int, word: str) -> float:
    if not _NUMBER.fullmatch(word):
        raise sweep_error(name, line, f"{clean(word, 40)!r} is no number")
    return float(word)


def _take_options(name: str, line: int, header: _Header, words: list[str]) -> None:
    """The option line; what it leaves out is GHz, S, magnitude and angle."""
    header.hz = _UNITS["ghz"]
    for word in words:
        folded = word.casefold()
        if folded in _UNITS:
            header.hz = _UNITS[folded]
        elif folded in _FORMATS:
            header.level = _FORMATS[folded]
        elif folded in {"y", "z", "g", "h"}:
            raise sweep_error(name, line, f"has {word} parameters; a level is in S parameters only: export those")
        elif folded not in {"s", "r"} and not _NUMBER.fullmatch(word):
            raise sweep_error(name, line, f"{clean(word, 40)!r} has no place on an option line")


def _take_keyword(name: str, line: int, header: _Header, word: str, value: str) -> None:
    folded = value.casefold()
    if word == "version":
        header.version = 2
        if not re.fullmatch(r"2\.[0-9]+", value):
            raise sweep_error(name, line, f"version {clean(value, 20)!r} is not known; 1 and 2 are")
    elif word in {"number of ports", "number of frequencies"}:
        if not re.fullmatch(r"[0-9]{1,6}", value):
            raise sweep_error(name, line, f"[{word}] wants a whole number")
        if word == "number of ports":
            header.ports = int(value)
        else:
            header.frequencies = int(value)
    elif word == "two-port data order" and folded in {"12_21", "21_12"}:
        header.order = folded
    elif word == "matrix format" and folded in {"full", "lower", "upper"}:
        header.matrix = folded
    elif word not in _IGNORED | {"network data", "begin information", "end information"}:
        raise sweep_error(name, line, f"[{clean(word, 40)}] {clean(value, 40)} is not understood")


def _rows(name: str, header: _Header, body: _Body) -> Iterator[list[float]]:
    """The numbers of one frequency at a time. Noise data behind a two-port of version 1 begin again at a low one."""
    pairs = header.ports**2 if header.matrix == "full" else header.ports * (header.ports + 1) // 2
    width = 1 + 2 * pairs
    last = -math.inf
    for start in range(0, len(body.numbers), width):
        line, frequency = body.numbers[start]
        if frequency <= last:
            if header.ports == 2 and header.version == 1:
                return
            raise sweep_error(name, line, "the frequencies must rise from row to row")
        row = [value for _, value in body.numbers[start : start + width]]
        if len(row) < width:
            raise sweep_error(name, line, f"the row has {len(row)} numbers; {header.ports} ports make {width}")
        last = frequency
        yield row


def _place(header: _Header, out: int, into: int) -> int:
    """Which pair of a row holds the parameter, all counted from 0."""
    low, high = min(out, into), max(out, into)
    if header.matrix == "lower":  # triangles stand for symmetric matrices
        return high * (high + 1) // 2 + low
    if header.matrix == "upper":
        return low * header.ports - low * (low - 1) // 2 + high - low
    if header.ports == 2 and header.order == "21_12":
        return into * 2 + out
    return out * header.ports + into
