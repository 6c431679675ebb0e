"""The door between the engine and a virtual set: asks out as plain dictionaries, answers back, as over the pipe."""

from collections.abc import Mapping

import msgspec

from aligner.engine.answers import Answer, Cannot, Done, Reading, SweepSeen, WandSeen
from aligner.engine.asks import Ask

_FORMS: dict[str, tuple[type[Answer], dict[str, str]]] = {
    # key that names the form: the answer's type, and keys that are named otherwise there
    "cannot": (Cannot, {"cannot": "why"}),  # before "reading", which it may carry
    "done": (Done, {"done": ""}),
    "reading": (Reading, {"reading": "value"}),
    "ferrite": (WandSeen, {}),
    "points": (SweepSeen, {}),
}


def asked(ask: Ask) -> dict[str, object]:
    """The ask as the pipe would print it."""
    plain: dict[str, object] = msgspec.to_builtins(ask)
    return plain


def answered(said: Mapping[str, object]) -> Answer:
    """The answer that those plain values mean."""
    form, names = next(form for key, form in _FORMS.items() if key in said)
    fields = {names.get(key, key): value for key, value in said.items() if key != "id"}
    if form is Cannot and "value" not in fields:
        fields = {key: value for key, value in fields.items() if key in ("why", "reading", "turns")}
    fields.pop("", None)
    made: Answer = msgspec.convert({**fields, "answer": _tag(form)}, form)
    return made


def _tag(form: type[Answer]) -> str:
    tag = form.__struct_config__.tag
    return str(tag)
