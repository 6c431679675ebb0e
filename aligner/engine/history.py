"""The history of a job: entries that are only ever added."""

import hashlib
from dataclasses import dataclass
from functools import cached_property

import msgspec

from aligner.engine.answers import Answer, Remark, Undo
from aligner.engine.asks import Ask

_ENCODER = msgspec.json.Encoder(order="deterministic")


class Entry(msgspec.Struct, frozen=True, omit_defaults=True):
    """One answer with the ask it answered, as it was shown (None where the job had no open ask).

    at_s [s] is the time since the job began. `doubt` is set on an answer that was questioned and not taken: the ask
    stays open, and only a second answer that agrees, or one that insists, is taken.
    """

    seq: int
    at_s: float
    version: str
    ask: Ask | None
    answer: Answer
    doubt: str = ""


@dataclass(frozen=True)
class History:
    """The entries of a job, oldest first."""

    entries: tuple[Entry, ...] = ()
    parent_digest: str = ""

    def __hash__(self) -> int:
        """By the digest, which is kept: the entries may be many."""
        return hash(self.digest)

    @cached_property
    def digest(self) -> str:
        """Chained over the entries, so that adding one costs one hash."""
        if not self.entries:
            return ""
        newest = _ENCODER.encode(self.entries[-1])
        return hashlib.sha256(self.parent_digest.encode() + newest).hexdigest()

    def with_entry(self, entry: Entry) -> "History":
        """This history and one entry more."""
        return History((*self.entries, entry), self.digest)

    def live(self) -> tuple[Entry, ...]:
        """The entries that are not taken back, without the undos themselves."""
        return live_entries(self.entries)


def live_entries(entries: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """Entries without those taken back: each undo takes the newest undoable one before it."""
    gone = undone(entries)
    return tuple(entry for entry in entries if entry.seq not in gone and not isinstance(entry.answer, Undo))


def undone(entries: tuple[Entry, ...]) -> dict[int, Undo]:
    """seq of each entry that was taken back, with the undo that did it."""
    gone: dict[int, Undo] = {}
    if not any(isinstance(entry.answer, Undo) for entry in entries):  # mostly, and it is asked for at every answer
        return gone
    stack: list[Entry] = []
    for entry in entries:
        if isinstance(entry.answer, Undo):
            if stack:
                gone[stack.pop().seq] = entry.answer
        elif undoable(entry):
            stack.append(entry)
    return gone


def undoable(entry: Entry) -> bool:
    """Whether an undo can take this entry back: everything that was taken, but no notes and no start of a sitting."""
    return not entry.doubt and not isinstance(entry.answer, Remark)


def answers_given(history: History) -> int:
    """How many answers were taken: while that stays the same, what is asked has stood open."""
    return sum(undoable(entry) for entry in history.entries)
