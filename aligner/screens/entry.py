"""The entry line: editing it, and what was understood of it. No screen is needed for either."""

import re
from dataclasses import dataclass, replace

from aligner.engine.answers import Answer, Reading, Seen, SweepSeen, Trend, WandSeen
from aligner.engine.asks import Ask, Read, Single, Sweep, Wand
from aligner.errors import QuantityError
from aligner.quantity import parse, show
from aligner.screens.words import unit_of
from aligner.text import clean

LONGEST = 4000
"""A pasted sweep of a few hundred pairs fits; more belongs in a file."""

STARTERS = frozenset("0123456789.,+-=−½¼¾")
"""What begins a reading while the entry line is empty; every other key is a command."""

_TREND: dict[str, Trend] = {"+": "up", "-": "down", "=": "same"}
_NUMBER = r"[+\-−]?\d[\d.,]*(?:e[+-]?\d+)?"
_PAIR = re.compile(rf"\s*({_NUMBER}\s*[A-Za-z]*)\s*[ \t:]\s*({_NUMBER})\s*[A-Za-z]*\s*$")


@dataclass(frozen=True, slots=True)
class Line:
    """What has been typed, and where the cursor stands in it."""

    text: str = ""
    cursor: int = 0

    def typed(self, more: str) -> "Line":
        """The line with `more` at the cursor; what a terminal would obey is left out."""
        kept = clean(more, LONGEST - len(self.text))
        return Line(self.text[: self.cursor] + kept + self.text[self.cursor :], self.cursor + len(kept))

    def backspace(self) -> "Line":
        """Without the mark before the cursor."""
        if not self.cursor:
            return self
        return Line(self.text[: self.cursor - 1] + self.text[self.cursor :], self.cursor - 1)

    def moved(self, by: int) -> "Line":
        """With the cursor elsewhere, within the text."""
        return replace(self, cursor=max(0, min(len(self.text), self.cursor + by)))


@dataclass(frozen=True, slots=True)
class Understood:
    """An answer made of what was typed, and its text for the eye."""

    answer: Answer
    echo: str


def understood(text: str, ask: Ask, near: float | None = None, *, bare: str = "") -> Understood:
    """What was typed as an answer to the open ask; QuantityError where it is none.

    near: about what is expected, for units that were left out. bare: the unit on the screen, for a bare number.
    """
    if isinstance(ask, Wand):
        return _wand(text)
    if isinstance(ask, Sweep):
        return _sweep(text, ask)
    if isinstance(ask, Single):
        return _reading(text, ask, near, bare)
    raise QuantityError("Nothing is read here: do what is asked, then press Enter.")


def _reading(text: str, ask: Single, near: float | None, bare: str) -> Understood:
    unit = unit_of(ask)
    assert_unit = unit or "dB"
    value_text, turns_text = _parts(text)
    if turns_text and isinstance(ask, Read):
        raise QuantityError("This is a plain reading: give one value, and no turns.")
    value = parse(value_text, assert_unit, near, bare=bare)
    turns = parse(turns_text, "turn") if turns_text else None
    echo = f"{value.echo}, {turns.echo}" if turns else value.echo
    answer = Reading(value.value, turns.value if turns else None, seen=Seen(raw=clean(text, 80)))
    return Understood(answer, echo)


def _parts(text: str) -> tuple[str, str]:
    """The reading and the turns: apart by a semicolon, or by a comma and a space (a decimal comma has no space)."""
    value, mark, turns = text.partition(";")
    if not mark:
        value, mark, turns = text.partition(", ")
    return value.strip(), turns.strip()


def _wand(text: str) -> Understood:
    marks = re.sub(r"[\s,;/]", "", text).replace("−", "-")
    if len(marks) == 2 and set(marks) <= set(_TREND):
        ferrite, brass = _TREND[marks[0]], _TREND[marks[1]]
        return Understood(WandSeen(ferrite, brass), f"ferrite end: {ferrite}, brass end: {brass}")
    words = text.replace(";", " ").split()
    if len(words) != 3:
        raise QuantityError(
            "Give three levels: none, ferrite, brass (10.2 11.4 9.0), or two signs: + up, - down, = same."
        )
    none, ferrite_db, brass_db = (parse(word, "dB").value for word in words)
    echo = f"none {show(none, 'dB')}, ferrite {show(ferrite_db, 'dB')}, brass {show(brass_db, 'dB')}"
    return Understood(WandSeen(ferrite_db, brass_db, none), echo)


def _sweep(text: str, ask: Sweep) -> Understood:
    pairs = []
    for part in (part for part in re.split(r"[;\n]", text) if part.strip()):
        match = _PAIR.match(part)
        if match is None:
            raise QuantityError(
                f'"{clean(part.strip(), 40)}" is no pair: give frequency and value, as in 10.65 MHz -3;'
            )
        middle = (ask.from_hz + ask.to_hz) / 2
        unit = unit_of(ask) or "dB"
        pairs.append((parse(match[1], "Hz", middle).value, parse(match[2], unit).value))
    if len(pairs) < 3:
        raise QuantityError(f"{len(pairs)} of at least 3 pairs: frequency and value, pairs apart by semicolons.")
    low, high = min(pairs)[0], max(pairs)[0]
    return Understood(SweepSeen(tuple(pairs)), f"{len(pairs)} pairs from {show(low, 'Hz')} to {show(high, 'Hz')}")
