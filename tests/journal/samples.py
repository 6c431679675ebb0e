"""Heads and entries for tests of the journal."""

from aligner.engine.answers import Note, Reading, Seen
from aligner.engine.asks import Point, Read
from aligner.engine.history import Entry
from aligner.journal.form import Head

HEAD = Head("Kitchen radio", "fm", "An FM front end", "format = 1\n", 1_700_000_000.0, "0.1.0", '{"a": 1}')


def reading(seq: int, value: float = 98_412_000.0) -> Entry:
    ask = Read(id=seq, step="coverage", text="Read it.", quantity="frequency", point=Point(volts=2.0))
    return Entry(seq, 1.5 * seq, "0.1.0", ask, Reading(value, seen=Seen(5, 2.5, "F=98412")))


def note(seq: int, text: str) -> Entry:
    return Entry(seq, 1.5 * seq, "0.1.0", None, Note(text))
