"""The form of a job file: its marks, its tables and what guards them, and what is read of it as a whole."""

from dataclasses import dataclass
from typing import Final

APPLICATION_ID: Final = 0x416C676E  # "Algn"
VERSION: Final = 1

_JOB: Final = (
    "CREATE TABLE job (id INTEGER PRIMARY KEY CHECK (id = 1), name TEXT NOT NULL, procedure_name TEXT NOT NULL, "
    "title TEXT NOT NULL, procedure TEXT NOT NULL, created REAL NOT NULL, version TEXT NOT NULL, "
    "taught TEXT NOT NULL) STRICT"
)
_ENTRY: Final = (
    "CREATE TABLE entry (seq INTEGER PRIMARY KEY CHECK (seq > 0), at REAL NOT NULL, kind TEXT NOT NULL, "
    "body TEXT NOT NULL) STRICT"
)
_PROGRESS: Final = (
    "CREATE TABLE progress (number INTEGER PRIMARY KEY, seq INTEGER NOT NULL, step TEXT NOT NULL, "
    "finished INTEGER NOT NULL CHECK (finished IN (0, 1))) STRICT"
)
_GUARDS: Final = tuple(
    f"CREATE TRIGGER {table}_{event.lower()} BEFORE {event} ON {table} "
    f"BEGIN SELECT RAISE(ABORT, 'a journal is only added to'); END"
    for table in ("job", "entry", "progress")
    for event in ("UPDATE", "DELETE")
)
_NUMBERED: Final = (
    "CREATE TRIGGER entry_numbered BEFORE INSERT ON entry "
    "WHEN NEW.seq <> (SELECT COALESCE(MAX(seq), 0) + 1 FROM entry) "
    "BEGIN SELECT RAISE(ABORT, 'entries are numbered without gaps'); END"
)
SCHEMA: Final = (_JOB, _ENTRY, _PROGRESS, *_GUARDS, _NUMBERED)
"""Exactly what a sound file of this version holds."""


@dataclass(frozen=True, slots=True)
class Head:
    """What is fixed when a job begins. created [s] since 1970; taught: what other jobs taught, as JSON text."""

    name: str
    procedure_name: str
    title: str
    procedure: str
    created: float
    version: str
    taught: str = "{}"


@dataclass(frozen=True, slots=True)
class Glance:
    """What is known of a job without reading its entries. changed [s] since 1970."""

    head: Head
    entries: int
    changed: float
    step: str
    finished: bool
