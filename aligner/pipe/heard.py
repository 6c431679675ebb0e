"""What comes in: bytes to lines, lines to answers. Whatever is not exactly a known form is refused with AnswerError.

A line is first decoded as any JSON, then the one key that names its form is looked for (`reading`, `undo`, ...), and
then the line is held against that form: every key known, every value of its type. JSON has no NaN and no infinity, and
whole numbers beyond all measure are refused by the decoder; so every number that comes through is finite.
"""

import difflib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, BinaryIO, Final, Literal, get_args, get_origin

import msgspec

from aligner.engine.answers import (
    Answer,
    Cannot,
    Done,
    GoTo,
    Note,
    Reading,
    SetAside,
    SweepSeen,
    SwitchWay,
    Trend,
    Undo,
    WandSeen,
)
from aligner.errors import AnswerError
from aligner.text import clean

LONGEST_LINE: Final = 64 * 1024  # [bytes], without the line end
_BYTE_ORDER_MARK: Final = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True)
class Heard:
    """One answer. ask_id: the ask that it names; at_s [s]: when it was given, where it says so."""

    answer: Answer
    ask_id: int | None
    at_s: float | None


class _Form(msgspec.Struct, forbid_unknown_fields=True, kw_only=True):
    """What every form may carry."""

    id: int | None = None
    at_s: float | None = None


class _Done(_Form, kw_only=True, forbid_unknown_fields=True):
    id: int
    done: bool

    def answer(self) -> Answer:
        if not self.done:
            raise AnswerError('"done" can only be true; where it cannot be done, leave the ask open or set it aside')
        return Done()


class _Reading(_Form, kw_only=True, forbid_unknown_fields=True):
    id: int
    reading: float
    turns: float | None = None
    insist: bool = False

    def answer(self) -> Answer:
        return Reading(self.reading, self.turns, self.insist)


class _Wand(_Form, kw_only=True, forbid_unknown_fields=True):
    id: int
    ferrite: float | Trend
    brass: float | Trend
    none: float | None = None
    insist: bool = False

    def answer(self) -> Answer:
        if isinstance(self.ferrite, str) != isinstance(self.brass, str):
            raise AnswerError('"ferrite" and "brass" are both levels, or each "up", "down" or "same"')
        if self.none is None and not isinstance(self.ferrite, str):
            raise AnswerError('levels with the wand need the level without it as "none"')
        return WandSeen(self.ferrite, self.brass, self.none, self.insist)


class _Sweep(_Form, kw_only=True, forbid_unknown_fields=True):
    id: int
    points: Annotated[tuple[tuple[float, float], ...], msgspec.Meta(min_length=3, max_length=10_000)]
    insist: bool = False

    def answer(self) -> Answer:
        return SweepSeen(self.points, self.insist)


class _Cannot(_Form, kw_only=True, forbid_unknown_fields=True):
    id: int
    cannot: Literal["end-of-travel", "no-reading"]
    reading: float | None = None
    turns: float | None = None
    turned: bool = False

    def answer(self) -> Answer:
        if self.cannot == "no-reading" and (self.reading is not None or self.turns is not None):
            raise AnswerError('"reading" and "turns" go with "end-of-travel", not with "no-reading"')
        return Cannot(self.cannot, self.reading, self.turns, self.turned)


class _SetAside(_Form, kw_only=True, forbid_unknown_fields=True):
    id: int
    set_aside: str
    turned: bool = False

    def answer(self) -> Answer:
        return SetAside(_words(self.set_aside, "set_aside"), self.turned)


class _By(_Form, kw_only=True, forbid_unknown_fields=True):
    by: Literal["resonance", "level", "wand", "stage-voltage"]
    step: str | None = None
    turned: bool = False

    def answer(self) -> Answer:
        return SwitchWay(self.by, clean(self.step or ""), self.turned)


class _Go(_Form, kw_only=True, forbid_unknown_fields=True):
    go: str
    turned: bool = False

    def answer(self) -> Answer:
        return GoTo(clean(self.go), self.turned)


class _Undo(_Form, kw_only=True, forbid_unknown_fields=True):
    undo: bool
    moved: bool = True
    turned: bool = False

    def answer(self) -> Answer:
        if not self.undo:
            raise AnswerError('"undo" can only be true')
        return Undo(self.moved, self.turned)


class _Note(_Form, kw_only=True, forbid_unknown_fields=True):
    note: str

    def answer(self) -> Answer:
        return Note(_words(self.note, "note"))


_KnownForm = _Done | _Reading | _Wand | _Sweep | _Cannot | _SetAside | _By | _Go | _Undo | _Note
_FORMS: Final[dict[str, type[_KnownForm]]] = {
    "cannot": _Cannot,  # before "reading", which it may carry
    "done": _Done,
    "reading": _Reading,
    "ferrite": _Wand,
    "brass": _Wand,
    "points": _Sweep,
    "set_aside": _SetAside,
    "by": _By,
    "go": _Go,
    "undo": _Undo,
    "note": _Note,
}


def lines_of(source: BinaryIO) -> Iterator[bytes | None]:
    """The lines without their ends; None for one that is too long, of which no more than that length is ever held."""
    first = True
    while True:
        line = source.readline(LONGEST_LINE + 2)
        if not line:
            return
        if first:
            line, first = line.removeprefix(_BYTE_ORDER_MARK), False
        bare = line.removesuffix(b"\n").removesuffix(b"\r")
        if line.endswith(b"\n") or len(bare) <= LONGEST_LINE:
            yield bare if len(bare) <= LONGEST_LINE else None
            continue
        while line and not line.endswith(b"\n"):
            line = source.readline(LONGEST_LINE)
        yield None


def heard(line: bytes | None) -> Heard:
    """The answer that the line gives; AnswerError where it gives none."""
    if line is None:
        raise AnswerError(f"the line is longer than {LONGEST_LINE} bytes; send a sweep with fewer points or digits")
    plain = _decoded(line)
    if not isinstance(plain, dict):
        raise AnswerError('an answer is one JSON object on a line, as {"id": 1, "reading": 98412000.0}')
    form = _form_of(plain)
    try:
        said = msgspec.convert(plain, form)
    except msgspec.ValidationError as error:
        raise AnswerError(f"not understood: {clean(str(error))}{_meant(plain, form)}") from error
    return Heard(said.answer(), said.id, said.at_s)


def _decoded(line: bytes) -> object:
    try:
        plain: object = msgspec.json.decode(line)
        json.loads(line, object_pairs_hook=_demand_unique)
    except (msgspec.MsgspecError, UnicodeDecodeError) as error:
        raise AnswerError(f"not JSON: {clean(str(error))}") from error
    except RecursionError as error:
        raise AnswerError("not an answer: nested too deeply") from error
    return plain


def _demand_unique(pairs: list[tuple[str, object]]) -> None:
    """Which of two readings is meant, nobody can say; decoders silently take the last."""
    known: set[str] = set()
    for key, _ in pairs:
        if key in known:
            raise AnswerError(f'"{clean(key, 40)}" is given twice')
        known.add(key)


def _form_of(plain: dict[str, object]) -> type[_KnownForm]:
    for key, form in _FORMS.items():
        if key in plain:
            return form
    known = ", ".join(_FORMS)
    raise AnswerError(f"no answer: none of {known} is in it{_nearest(plain, tuple(_FORMS))}")


def _meant(plain: dict[str, object], form: type[_KnownForm]) -> str:
    known = tuple(form.__struct_fields__)
    for field in msgspec.structs.fields(form):
        choices = _choices(field.type)
        if choices and isinstance(plain.get(field.name), str) and plain[field.name] not in choices:
            return f"; known here: {', '.join(choices)}"
    return _nearest({key: None for key in plain if key not in known}, known) or f"; known here: {', '.join(known)}"


def _choices(form: object) -> tuple[str, ...]:
    """The words that a key may have for its value."""
    if get_origin(form) is Literal:
        return get_args(form)
    return tuple(word for part in get_args(form) for word in _choices(part))


def _nearest(plain: dict[str, object], known: tuple[str, ...]) -> str:
    for key in plain:
        for name in difflib.get_close_matches(key[:40], known, 1):
            return f'; is "{clean(key, 40)}" meant to be "{name}"?'
    return ""


def _words(text: str, key: str) -> str:
    words = clean(text, LONGEST_LINE, lines=True).strip()
    if not words:
        raise AnswerError(f'"{key}" needs words')
    return words
