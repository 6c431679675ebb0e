"""From what a person typed to a number in SI units, or to a message that shows what would be understood.

Nothing is guessed in silence: what was understood comes back as text, to be shown before it is used; and where a text
has two meanings, only the expected value may settle it.
"""

import math
import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from aligner.errors import QuantityError
from aligner.quantity.numerals import read_numeral
from aligner.quantity.shown import show
from aligner.quantity.turning import directed, spoken
from aligner.quantity.units import Unit, UnitName, unit_named
from aligner.text import clean

_LONGEST = 60
_SAME = 1.5
"""Within this factor of the expected value something is taken to be what was expected."""
_OTHER = 30.0
"""Two meanings of one numeral lie a factor of 1000 apart; the nearer one is within its root of what is expected."""

_MARKS = {
    **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212\uff0d\ufe63", "-"),
    **dict.fromkeys("\u2019\u02bc\u2032\uff07", "'"),
    **dict.fromkeys("\u03bc", "µ"),
    **dict.fromkeys("\u2126", "Ω"),
    **dict.fromkeys("\u00d7\u00b7\u22c5", "*"),
    **dict.fromkeys("\u2044\u2215", "/"),
    **dict.fromkeys("\u02da\u00ba", "°"),
    "\uff0e": ".",
    "\uff0c": ",",
    "\uff0b": "+",
}
_RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺", "0123456789-+")

_TIMES_TEN = re.compile(r"\s*[x*]\s*10\s*(?:\^|\*\*)\s*([-+]?\d{1,3})(?!\d)")
_NUMBER = re.compile(r"(?P<core>[.,]?\d[\d.,'_ ]*?)\s*(?:[eE](?P<power>[-+]?\d{1,3}))?\s*(?P<unit>[^\W\d_][^\d]*|°)?")
_MIXED = re.compile(
    r"(?:(?P<whole>\d{1,3})(?:\s+|\s*-\s*))?(?P<over>\d{1,3})\s*/\s*(?P<under>\d{1,3})\s*(?P<unit>[^\d]*)"
)
_LETTER_FOR_POINT = re.compile(r"(?P<whole>\d{1,4})(?P<letter>[^\W\d_])(?P<part>\d{1,4})\s*(?P<unit>[^\W\d_]*)")
_CLOCK = re.compile(r"(?:(?P<hours>\d{1,2}):)?(?P<minutes>\d{1,3}):(?P<seconds>[0-5]\d(?:[.,]\d{1,3})?)")


@dataclass(frozen=True, slots=True)
class Understood:
    """A quantity in its SI unit (levels in dB, turns in turns, positive clockwise), and its text for the eye."""

    value: float
    unit: UnitName
    echo: str


@dataclass(frozen=True, slots=True)
class _Meanings:
    """What was typed can be one of these, the likelier first; `settled` where the first needs no confirmation."""

    values: tuple[Fraction, ...]
    settled: bool = True


def parse(text: str, unit: UnitName, near: float | None = None, *, bare: str = "") -> Understood:
    """What was typed, as a number in SI units; QuantityError with a helpful message where it is none.

    A bare number is in the unit `bare` ("MHz"; the SI unit unless given). `near` is the value expected, in SI units: it
    settles what else would be asked ("1,234 kHz"), and never changes what is plain.
    """
    kind, factor = unit_named(unit, bare)
    refuse = _refusal(text, kind, bare)
    typed = _plain(text)
    if not typed:
        raise refuse("nothing was typed" if not text.strip() else "it is too long")
    sign, size = _signed(typed, kind, refuse)
    meanings = _read(size, kind, factor, refuse, near)
    value = float(sign * _settled(meanings, kind, near, refuse))
    return Understood(value, unit, spoken(value) if unit == "turn" else show(value, unit))


def _plain(text: str) -> str:
    """The text with one sort of minus, space, apostrophe, digit and fraction; empty where it is too long."""
    kept = clean(text, _LONGEST + 1).strip()
    if len(kept) > _LONGEST:
        return ""
    kept = re.sub("10([⁰¹²³⁴-⁹⁻⁺]+)", lambda raised: "10^" + raised[1].translate(_RAISED), kept)
    plain = "".join(_plain_mark(mark) for mark in kept)
    return " ".join(_TIMES_TEN.sub(r"e\1", plain).split()).lstrip("~≈ ")


def _plain_mark(mark: str) -> str:
    if mark in _MARKS:
        return _MARKS[mark]
    if unicodedata.category(mark) == "Zs":
        return " "
    if unicodedata.category(mark) == "Nd":
        return str(unicodedata.decimal(mark))
    parts = unicodedata.decomposition(mark).split()
    if parts[:1] == ["<fraction>"]:
        # 1½ must become 1 1/2; the usual normal form makes eleven halves of it.
        return " " + "".join(chr(int(part, 16)) for part in parts[1:]).replace("\u2044", "/")
    return mark


def _refusal(text: str, kind: Unit, bare: str) -> Callable[[str], QuantityError]:
    """What makes the message of a refusal from its reason."""
    shown = clean(text, 40).strip()
    examples = ", ".join(kind.examples)
    number = f", or a bare number in {bare}" if bare else ""

    def refuse(reason: str) -> QuantityError:
        start = f'"{shown}" is not understood as {kind.noun}: ' if shown else ""
        return QuantityError(f"{start}{reason}. Understood would be, for example: {examples}{number}.")

    return refuse


def _signed(typed: str, kind: Unit, refuse: Callable[[str], QuantityError]) -> tuple[int, str]:
    """The sign, and what is left without it; of turns also the sense of rotation in words."""
    sense = 0
    if kind.name == "turn":
        sense, typed = directed(typed)
    mark = typed[0] if typed[:1] in {"-", "+"} else ""
    size = typed.removeprefix(mark).lstrip()
    if sense and mark:
        raise refuse("it has a sign and a sense of rotation; one of them is enough")
    return sense or (-1 if mark == "-" else 1), size


def _read(
    size: str, kind: Unit, factor: Fraction, refuse: Callable[[str], QuantityError], near: float | None
) -> _Meanings:
    """Everything that an unsigned text can mean in SI units."""
    if kind.name == "s" and (time := _time(size, kind)) is not None:
        return _Meanings((time,))
    if kind.fractions and (fraction := _MIXED.fullmatch(size)):
        return _mixed(fraction, kind, factor, refuse)
    if letter := _LETTER_FOR_POINT.fullmatch(size):
        return _letter_for_point(letter, kind, refuse)
    number = _NUMBER.fullmatch(size)
    numeral = read_numeral(number["core"]) if number else None
    if number is None or numeral is None:
        raise refuse("it is no number with a unit")
    power = Fraction(10) ** int(number["power"] or 0)
    spelling = (number["unit"] or "").strip(" .").replace(" ", "")
    scale = power * (_factor(spelling, kind, refuse) if spelling else factor)
    values = tuple(value * scale for value in numeral.values)
    if not spelling and near:
        values += _other_units(values[0] / factor, kind, near)
    return _Meanings(values, numeral.settled)


def _factor(spelling: str, kind: Unit, refuse: Callable[[str], QuantityError]) -> Fraction:
    if reason := kind.asks.get(spelling.casefold()):
        raise refuse(f'"{spelling}" is not plain: {reason}')
    factor = kind.factor(spelling)
    if factor is None:
        raise refuse(f'"{spelling}" is no unit of {kind.noun}')
    return factor


def _other_units(number: Fraction, kind: Unit, near: float) -> tuple[Fraction, ...]:
    """A bare number in the other units that are shown on instruments, where that is just what is expected."""
    factors: Mapping[str, Fraction] = {name: kind.spelled[name] for _, name in kind.ladder if name in kind.spelled}
    return tuple(number * factor for factor in factors.values() if _apart(number * factor, near) < _SAME)


def _mixed(fraction: re.Match[str], kind: Unit, factor: Fraction, refuse: Callable[[str], QuantityError]) -> _Meanings:
    """1/4, 1 1/4, 1-1/4 (a minus between a whole number and a fraction is a hyphen)."""
    if int(fraction["under"]) == 0:
        raise refuse("nothing can be divided by 0")
    spelling = fraction["unit"].strip(" .")
    part = Fraction(int(fraction["over"]), int(fraction["under"]))
    return _Meanings(
        ((int(fraction["whole"] or 0) + part) * (_factor(spelling, kind, refuse) if spelling else factor),)
    )


def _letter_for_point(match: re.Match[str], kind: Unit, refuse: Callable[[str], QuantityError]) -> _Meanings:
    """4k7, 3p3, 0R5, 10M7: the letter stands where the point would (the code of IEC 60062)."""
    letter, word = match["letter"], match["unit"]
    if kind.name in {"dB", "turn", "s"} or (word and kind.factor(word) != 1):
        raise refuse("it is no number with a unit")
    factor = _factor(letter, kind, refuse)
    return _Meanings((Fraction(f"{match['whole']}.{match['part']}") * factor,))


def _time(size: str, kind: Unit) -> Fraction | None:
    """1:30, 1:02:30, or several parts: 2 min 30 s; None where it is neither."""
    if clock := _CLOCK.fullmatch(size):
        seconds = Fraction(clock["seconds"].replace(",", "."))
        return 3600 * int(clock["hours"] or 0) + 60 * int(clock["minutes"]) + seconds
    parts = re.findall(r"(\d+(?:[.,]\d+)?)\s*([a-z]+)", size.casefold())
    if len(parts) < 2 or "".join(number + name for number, name in parts) != size.casefold().replace(" ", ""):
        return None
    factors = [Fraction(60) if name == "m" else kind.factor(name) or Fraction(0) for _, name in parts]
    if factors != sorted(set(factors), reverse=True) or not factors[-1]:
        return None
    return sum(
        (Fraction(number.replace(",", ".")) * factor for (number, _), factor in zip(parts, factors, strict=True)),
        start=Fraction(0),
    )


def _settled(meanings: _Meanings, kind: Unit, near: float | None, refuse: Callable[[str], QuantityError]) -> Fraction:
    """The one meaning, by what can be on a bench and by what is expected; a refusal where that leaves two."""
    possible = tuple(dict.fromkeys(value for value in meanings.values if kind.possible(value)))
    if not possible:
        raise refuse("no such value occurs on a bench")
    if len(possible) == 1:
        return possible[0]
    if near:
        best = min(possible, key=lambda value: _apart(value, near))
        if _apart(best, near) < (_SAME if meanings.settled else _OTHER):
            return best
    if meanings.settled:
        return possible[0]
    either = " or ".join(show(float(value), kind.name) for value in possible)
    raise refuse(f"it may be {either}; type the one that is meant as it stands here")


def _apart(value: Fraction, near: float) -> float:
    """The factor, 1 or more, between two sizes."""
    if value == 0:
        return math.inf
    ratio = float(abs(value)) / abs(near)
    return max(ratio, 1 / ratio)
