"""The log: each entry of the history in one line, oldest first."""

import math
import re
import textwrap
from dataclasses import dataclass

from aligner.engine.answers import (
    Cannot,
    Done,
    GoTo,
    Note,
    Reading,
    Result,
    SetAside,
    Sitting,
    SweepSeen,
    SwitchWay,
    Undo,
    WandSeen,
)
from aligner.engine.asks import Ask, Confirm, Turning
from aligner.engine.history import Entry, History, undone
from aligner.procedure.model import Procedure
from aligner.quantity import show
from aligner.screens.words import point_words, resolution_of, turns_words, unit_of

_STICKS = "\xa0"
"""A space at which no line is broken."""

_HELD = re.compile(r"(?<=\d) (?=[A-Za-z%])|(?<=±) (?=\d)|(?<=%:) (?=±)")
"""Before a unit, and about a spread."""

MOVED_SINCE = "moved since"
"""The mark of a reading after which an adjuster of its circuit was turned: that place is read anew."""

_PLACES = ((3e6, 1e3), (1e3, 10.0), (0.0, 0.1))
"""A resonance [Hz] from that on is told to so much [Hz]: three places of a megahertz, two of a kilohertz."""

_FIGURES = 7
"""So many say all of a middle where nobody knows what its instrument can show."""

_LEAST_ABOUT = 8
"""What is left at least of what an entry is about: its number and a few letters."""


@dataclass(frozen=True, slots=True)
class LogLine:
    """One entry for the eye. `mark` says what became of it: "", "taken back", "questioned", "moved since"."""

    seq: int
    text: str
    mark: str = ""

    def __str__(self) -> str:
        return f"{self.seq:>3} {self.text}" + (f"  ({self.mark})" if self.mark else "")


def log_lines(
    history: History, stale: frozenset[int] = frozenset(), procedure: Procedure | None = None
) -> tuple[LogLine, ...]:
    """All entries, oldest first; what was taken back stays, and says so. stale: the numbers of what no longer holds.

    procedure: tells what its instruments can show, so that what they showed stands in even columns.
    """
    gone = undone(history.entries)
    return tuple(
        LogLine(
            entry.seq,
            entry_words(entry, procedure),
            _mark(entry, taken_back=entry.seq in gone, stale=entry.seq in stale),
        )
        for entry in history.entries
    )


def fitted(line: str, columns: int) -> str:
    """The line in its room; what is said is kept whole where that can be, for half a number is a wrong one."""
    if len(line) <= columns:
        return line
    about, colon, said = line.partition(": ")
    room = max(_LEAST_ABOUT, columns - len(said) - len("...: "))
    if colon and len(about) > room:
        line = f"{about[:room]}...: {said}"
    return line if len(line) <= columns else f"{line[: max(0, columns - 3)]}..."


def whole(parts: tuple[str, ...], columns: int, between: str) -> str:
    """As many of those parts as fit in a row, the first at least: half a one says something else."""
    for count in range(len(parts), 1, -1):
        row = between.join(parts[:count])
        if len(row) <= columns:
            return row
    return parts[0][:columns]


def broken(text: str, columns: int, indent: str = "") -> list[str]:
    """The text in lines of that width, no number parted from its unit."""
    held = _HELD.sub(_STICKS, text)
    return [
        line.replace(_STICKS, " ")
        for line in textwrap.wrap(held, columns, subsequent_indent=indent, break_on_hyphens=False)
    ] or [text]


def entry_words(entry: Entry, procedure: Procedure | None = None) -> str:
    """What was said, and to what."""
    ask, answer = entry.ask, entry.answer
    said = (
        _seen_words(ask, answer, procedure)
        if isinstance(answer, Reading | WandSeen | SweepSeen)
        else _said_words(ask, answer)
    )
    return f"{_about(ask)}: {said}" if ask is not None and _about(ask) and not _speaks_alone(answer) else said


def turned_something(entry: Entry) -> bool:
    """Whether a hand was on an adjuster for that entry, so that undo must ask what became of it."""
    turned = isinstance(entry.answer, Result) or getattr(entry.answer, "turned", False)
    return isinstance(entry.ask, Turning) and turned


def _mark(entry: Entry, *, taken_back: bool, stale: bool) -> str:
    if taken_back:
        return "taken back"
    return "questioned" if entry.doubt else MOVED_SINCE if stale else ""


def _speaks_alone(answer: object) -> bool:
    return isinstance(answer, Note | Undo | Sitting | SwitchWay | GoTo | SetAside | Done)


def _about(ask: Ask | None) -> str:
    if isinstance(ask, Turning):
        return f"{ask.adjuster} at {point_words(ask.point)}"
    if ask is None or isinstance(ask, Confirm):
        return ""
    return " at ".join(part for part in (ask.circuit or ask.step, point_words(ask.point)) if part)


def _seen_words(ask: Ask | None, answer: Reading | WandSeen | SweepSeen, procedure: Procedure | None) -> str:
    if isinstance(answer, SweepSeen):
        return f"sweep of {len(answer.points)} points"
    if isinstance(answer, WandSeen):
        ends = f"ferrite {_end(answer.ferrite)}, brass {_end(answer.brass)}"
        return ends if answer.none is None else f"none {_end(answer.none)}, {ends}"
    unit = unit_of(ask) if ask is not None else None
    value = show(answer.value, unit, _grain(ask, answer, procedure)) if unit and ask else f"{answer.value:g}"
    turns = "" if answer.turns is None else f", {_turns_words(answer.turns)}"
    return value + turns + (" (insisted)" if answer.insist else "")


def _turns_words(turns: float) -> str:
    """The turns as an ask would say them."""
    return turns_words(turns) if turns else "not turned"


def _grain(ask: Ask, answer: Reading, procedure: Procedure | None) -> float | None:
    """What the middle of many live values is told to; what was typed is shown as it was typed."""
    if answer.seen is None or answer.seen.n < 2 or not answer.value:
        return None
    shown = resolution_of(procedure, ask) if procedure is not None else None
    if unit_of(ask) == "Hz" and shown is None:
        shown = next(grain for least, grain in _PLACES if abs(answer.value) >= least)
    return shown or 10.0 ** (math.floor(math.log10(abs(answer.value))) - _FIGURES + 1)


def _end(level: float | str) -> str:
    return level if isinstance(level, str) else show(level, "dB")


def _said_words(ask: Ask | None, answer: object) -> str:
    step = ask.step if ask is not None else ""
    said = "a new sitting: cautions confirmed"
    left = (
        f"; {ask.adjuster} half turned counts as a touch"
        if isinstance(ask, Turning) and getattr(answer, "turned", False)
        else ""
    )
    match answer:
        case Done():
            said = f"done: {ask.text}" if ask is not None else "done"
        case Cannot(why=why):
            said = why.replace("-", " ")
        case SetAside(reason=reason):
            said = f"step {step} set aside: {reason}"
        case SwitchWay(way=way, step=only):
            said = f"seen by {way}" + (f" in {only}" if only else "")
        case GoTo(step=other):
            said = f"first {other}" if ask is not None else f"{other} taken up again"
        case Undo(moved=moved):
            said = "undo" if moved else "undo: nothing was turned"
        case Note(text=text):
            said = f"note: {text}"
    return said + left
