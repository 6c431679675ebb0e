"""Reading a parsed TOML document value by value: each reader checks its value and notes a fault where it is wrong.

A faulty or absent value is None to whoever asked for it, so that reading goes on and all faults are found at once.
Keys that nobody asked for are unknown: asking is what makes a key known, so the form cannot differ from its reader.
"""

import re
from collections.abc import Sequence
from difflib import get_close_matches
from typing import TypeVar

from aligner.procedure.faults import Faults, Path, shown
from aligner.procedure.units import Misread, Unit, quantity
from aligner.text import clean

TEXT_LIMIT = 400
LIST_LIMIT = 200  # members are compared with each other, so a hostile file must not have very many
_ID_LIMIT = 64
_LARGEST = 1e12  # of plain numbers such as a Q: far more than makes sense, and safe to turn into a float
_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]*")
_T = TypeVar("_T", bound=str)


def nearest(wrong: str, known: Sequence[str]) -> str:
    """The known name that was most likely meant, or the list of all."""
    close = get_close_matches(wrong.strip().lower().replace("_", "-").replace(" ", "-"), known, 1, 0.6)
    if close:
        return f'did you mean "{close[0]}"?'
    return "known here: " + ", ".join(known) if known else "there is none to name here"


class Cell:
    """One value of the document, or (None, which TOML does not have) one that is absent or already at fault."""

    def __init__(self, value: object, path: Path, faults: Faults) -> None:
        self._value = value
        self.path = path
        self._faults = faults

    def __str__(self) -> str:
        return shown(self._value)

    @property
    def given(self) -> bool:
        """Whether there is a value."""
        return self._value is not None

    def fault(self, cure: str, found: str = "") -> None:
        """Notes a fault of this value."""
        self._faults.add(self.path, found or shown(self._value), cure)

    def text(self, limit: int = TEXT_LIMIT) -> str | None:
        """Text, cleaned; longer text than the limit is a fault."""
        if self._value is None:
            return None
        if not isinstance(self._value, str):
            self.fault("write text in quotation marks")
            return None
        if len(self._value) > limit:
            self.fault(f"write at most {limit} characters", f"text of {len(self._value)} characters")
            return None
        cleaned = clean(self._value, limit).strip()
        if not cleaned:
            self.fault("write some text", "empty text")
            return None
        return cleaned

    def identifier(self) -> str | None:
        """An id: letters, digits, - and _."""
        if self._value is None:
            return None
        if isinstance(self._value, str) and len(self._value) <= _ID_LIMIT and _ID.fullmatch(self._value):
            return self._value
        self.fault(f'write an id of letters, digits and "-", at most {_ID_LIMIT} of them, such as "antenna-coil"')
        return None

    def choice(self, choices: Sequence[_T]) -> _T | None:
        """One of a few words."""
        if self._value is None:
            return None
        for known in choices:
            if self._value == known:
                return known
        self.fault(nearest(self._value, choices) if isinstance(self._value, str) else nearest("", choices))
        return None

    def reference(self, known: Sequence[str], what: str) -> str | None:
        """The id of something that stands elsewhere in the file."""
        name = self.identifier()
        if name is None or name in known:
            return name
        self.fault(nearest(name, known), f"{shown(name)}, but there is no {what} of that id")
        return None

    def quantity(self, unit: Unit, *, signed: bool = False) -> float | None:
        """A quantity in that unit, more than zero unless it may have a sign."""
        measured = self.measured(unit, signed=signed)
        return measured[0] if measured else None

    def measured(self, *units: Unit, signed: bool = False) -> tuple[float, Unit] | None:
        """A quantity in one of several units, and in which."""
        if self._value is None:
            return None
        read = quantity(self._value, *units)
        if isinstance(read, Misread):
            self.fault(read.cure, read.found)
            return None
        if read[0] <= 0 and not signed:
            self.fault("write a value greater than zero")
            return None
        return read

    def whole(self, least: int) -> int | None:
        """A whole number of at least so much."""
        if self._value is None:
            return None
        if isinstance(self._value, int) and not isinstance(self._value, bool) and self._value >= least:
            return self._value
        self.fault(f"write a whole number of at least {least}, without quotation marks")
        return None

    def number(self) -> float | None:
        """A plain number greater than zero, for what has no unit."""
        if self._value is None:
            return None
        if isinstance(self._value, int | float) and self._value is not True and 0 < self._value < _LARGEST:
            return float(self._value)
        self.fault("write a plain number greater than zero, without quotation marks")
        return None

    def flag(self) -> bool | None:
        """true or false."""
        if self._value is None or isinstance(self._value, bool):
            return self._value
        self.fault("write true or false, without quotation marks")
        return None

    def rows(self, what: str) -> list["Cell"]:
        """The members of a list, which may not be empty; of a list that is far too long, the first."""
        if self._value is None:
            return []
        if not isinstance(self._value, list):
            self.fault(f"write {what}")
        elif not self._value:
            self.fault(f"write {what}", "an empty list")
        else:
            if len(self._value) > LIST_LIMIT:
                self.fault(f"write at most {LIST_LIMIT}", f"a list of {len(self._value)}")
            members = enumerate(self._value[:LIST_LIMIT])
            return [Cell(value, (*self.path, place), self._faults) for place, value in members]
        return []

    def pair(self, unit: Unit) -> tuple[float, float] | None:
        """Two quantities, the lower one first."""
        ends = self.rows(f"the two ends, such as {_PAIRS[unit]}")
        if not ends:
            return None
        if len(ends) != 2:
            self.fault(f"write the two ends, such as {_PAIRS[unit]}", f"a list of {len(ends)}")
            return None
        low, high = ends[0].quantity(unit), ends[1].quantity(unit)
        if low is None or high is None:
            return None
        if low >= high:
            self.fault("write the lower end first, then a higher one", f"a range from {ends[0]} to {ends[1]}")
            return None
        return low, high

    def table(self) -> "Table":
        """The keys of a table; of nothing where there is none, and then nothing is missing in it."""
        if self._value is not None and not isinstance(self._value, dict):
            self.fault("write a table: a [heading] with keys below, or { key = value }")
        return Table(self._value if isinstance(self._value, dict) else None, self.path, self._faults)


_PAIRS: dict[Unit, str] = {
    "Hz": '["87.5 MHz", "108 MHz"]',
    "V": '["2 V", "8 V"]',
    "dB": '["-3 dB", "3 dB"]',
    "H": '["70 nH", "95 nH"]',
    "F": '["12 pF", "365 pF"]',
    "s": '["1 s", "2 s"]',
}


class Table:
    """One table of the document. Close it when all keys that it may have were asked for."""

    def __init__(self, keys: dict[str, object] | None, path: Path, faults: Faults) -> None:
        self._keys = keys or {}
        self._absent = keys is None
        self._asked: list[str] = []
        self._missing: dict[str, str] = {}
        self.path = path
        self._faults = faults

    @property
    def absent(self) -> bool:
        """Whether there is no such table at all."""
        return self._absent

    def all_hold(self, key: str, inner: str, choices: Sequence[str]) -> bool:
        """Whether all tables of a list have one of those values under a key; a look ahead that finds no fault."""
        members = self._keys.get(key)
        if not isinstance(members, list) or not members:
            return False
        return all(isinstance(row, dict) and row.get(inner) in choices for row in members)

    def may(self, key: str) -> Cell:
        """The value of a key that may be left out."""
        self._asked.append(key)
        return Cell(self._keys.get(key), (*self.path, key), self._faults)

    def need(self, key: str, cure: str) -> Cell:
        """The value of a key that must be there; `cure` says what to write where it is not."""
        if key not in self._keys and not self._absent:
            self._missing[key] = cure
        return self.may(key)

    def fault(self, key: str, found: str, cure: str) -> None:
        """Notes a fault of one key, or (key empty) of the whole table."""
        self._faults.add((*self.path, key) if key else self.path, found, cure)

    def close(self) -> None:
        """Every key that was not asked for is unknown; what is only misspelt is not also missing."""
        known = sorted(set(self._asked))
        for key in self._keys:
            if key not in known:
                cure = nearest(key, known)
                self._missing = {name: row for name, row in self._missing.items() if f'"{name}"' not in cure}
                self.fault(key, "unknown key", cure)
        self.close_unjudged()

    def close_unjudged(self) -> None:
        """The end of a table whose other keys cannot be judged: only what is missing is a fault."""
        for key, cure in self._missing.items():
            self.fault(key, f'there is no "{key}"', cure)
