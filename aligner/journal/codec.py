"""Entries as JSON text and back, with every text cleaned and every number finite.

What joins a history is always what `decoded` gives, also when it has just been written: so that a history in memory
and the same history read back cannot differ.
"""

import math
from typing import Final

import msgspec

from aligner.engine.history import Entry
from aligner.errors import AnswerError
from aligner.text import clean

LONGEST_TEXT: Final = 65_536
"""Characters that one text of an entry may have; a line of the pipe cannot carry more."""

_ENCODER: Final = msgspec.json.Encoder(order="deterministic")


def encoded(entry: Entry) -> str:
    """The entry as JSON text; AnswerError where a number is not finite (JSON would make it null)."""
    plain = _clean(msgspec.to_builtins(entry))
    return _ENCODER.encode(plain).decode()


def decoded(body: str) -> Entry:
    """The entry of that JSON text; msgspec.MsgspecError (a ValueError) where it is none."""
    return msgspec.convert(_clean(msgspec.json.decode(body)), Entry)


def kind_of(entry: Entry) -> str:
    """What sort of answer the entry holds, as a word."""
    return str(type(entry.answer).__struct_config__.tag)


def _clean(plain: object) -> object:
    """The same lists and objects with clean texts; AnswerError at a number that is not finite."""
    if isinstance(plain, str):
        return clean(plain, LONGEST_TEXT, lines=True)
    if isinstance(plain, float) and not math.isfinite(plain):
        raise AnswerError(f"a reading must be a finite number, not {plain}")
    if isinstance(plain, dict):
        return {key: _clean(value) for key, value in plain.items()}
    if isinstance(plain, list | tuple):
        return [_clean(value) for value in plain]
    return plain
