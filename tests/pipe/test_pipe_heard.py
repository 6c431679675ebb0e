import io
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

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
    Undo,
    WandSeen,
)
from aligner.errors import AnswerError
from aligner.pipe.heard import LONGEST_LINE, Heard, heard, lines_of


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ('{"id": 1, "done": true}', Done()),
        ('{"id": 1, "reading": 98412000.0}', Reading(98412000.0)),
        ('{"id": 1, "reading": 98412000}', Reading(98412000.0)),
        ('{"id": 1, "reading": -3.5e-2, "turns": -0.25}', Reading(-0.035, -0.25)),
        ('{"id": 1, "reading": 5, "turns": null, "insist": true}', Reading(5.0, insist=True)),
        ('{"id": 1, "none": -20, "ferrite": -19.5, "brass": -21}', WandSeen(-19.5, -21.0, -20.0)),
        ('{"id": 1, "ferrite": "up", "brass": "same"}', WandSeen("up", "same")),
        ('{"id": 1, "points": [[1, 2], [3, 4], [2, 5.5]]}', SweepSeen(((1.0, 2.0), (3.0, 4.0), (2.0, 5.5)))),
        ('{"id": 1, "cannot": "no-reading"}', Cannot("no-reading")),
        ('{"id": 1, "cannot": "end-of-travel"}', Cannot("end-of-travel")),
        ('{"id": 1, "cannot": "end-of-travel", "reading": 9, "turns": 2}', Cannot("end-of-travel", 9.0, 2.0)),
        ('{"id": 1, "set_aside": "the core is stuck"}', SetAside("the core is stuck")),
        ('{"by": "level"}', SwitchWay("level")),
        ('{"by": "stage-voltage", "step": "antenna"}', SwitchWay("stage-voltage", "antenna")),
        ('{"undo": true}', Undo()),
        ('{"undo": true, "moved": false}', Undo(moved=False)),
        ('{"undo": true, "turned": true}', Undo(turned=True)),
        ('{"go": "antenna", "turned": true}', GoTo("antenna", turned=True)),
        ('{"id": 1, "set_aside": "later", "turned": true}', SetAside("later", turned=True)),
        ('{"by": "level", "turned": true}', SwitchWay("level", turned=True)),
        ('{"id": 1, "cannot": "no-reading", "turned": true}', Cannot("no-reading", turned=True)),
        ('{"note": "h\\u00e9\\nb"}', Note("hé\nb")),
    ],
)
def test_every_form_of_input_is_understood(line: str, expected: Answer) -> None:
    said = heard(line.encode())
    assert said.answer == expected
    assert said.ask_id == (1 if '"id"' in line else None)
    with_time = json.loads(line) | {"at_s": 12}
    assert heard(json.dumps(with_time).encode()) == Heard(expected, said.ask_id, 12.0)


@pytest.mark.parametrize(
    "line",
    [
        b"",
        b" ",
        b"{",
        b"hello",
        b"[]",
        b"7",
        b"null",
        b'"done"',
        b"{}",
        b'{"id": 1}',
        b'{"id": 1, "done": true} {"id": 1, "done": true}',
        b'{"id": 1, "done": false}',
        b'{"id": 1, "done": 1}',
        b'{"id": 1, "done": "true"}',
        b'{"done": true}',
        b'{"reading": 5}',
        b'{"id": "1", "reading": 5}',
        b'{"id": 1.5, "reading": 5}',
        b'{"id": true, "reading": 5}',
        b'{"id": null, "reading": 5}',
        b'{"id": [1], "reading": 5}',
        b'{"id": 1, "reading": true}',
        b'{"id": 1, "reading": "5"}',
        b'{"id": 1, "reading": null}',
        b'{"id": 1, "reading": NaN}',
        b'{"id": 1, "reading": Infinity}',
        b'{"id": 1, "reading": -Infinity}',
        b'{"id": 1, "reading": 1e999}',
        b'{"id": 1, "reading": 1' + b"0" * 400 + b"}",
        b'{"id": 1, "reading": 5, "turns": true}',
        b'{"id": 1, "reading": 5, "turns": "1/4"}',
        b'{"id": 1, "reading": 5, "insist": 1}',
        b'{"id": 1, "reading": 5, "at_s": "now"}',
        b'{"id": 1, "reading": 5, "at_s": true}',
        b'{"id": 1, "reading": 5, "done": true}',
        b'{"id": 1, "reading": 5, "note": "x"}',
        b'{"id": 1, "reading": 5, "turn": 1}',
        b'{"id": 1, "reading": 5, "reading": 6}',
        b'{"id": 1, "id": 1, "reading": 5}',
        b'{"id": 1, "ferrite": 1}',
        b'{"id": 1, "ferrite": 1, "brass": 2}',
        b'{"id": 1, "none": 0, "ferrite": 1, "brass": "up"}',
        b'{"id": 1, "ferrite": "left", "brass": "up"}',
        b'{"id": 1, "points": []}',
        b'{"id": 1, "points": [[1, 2], [2, 3]]}',
        b'{"id": 1, "points": [[1, 2], [2, 3], [3]]}',
        b'{"id": 1, "points": [[1, 2], [2, 3], [3, 4, 5]]}',
        b'{"id": 1, "points": [[1, 2], [2, 3], [3, true]]}',
        b'{"id": 1, "points": [' + b",".join([b"[1,1]"] * 10_001) + b"]}",
        b'{"id": 1, "cannot": "be bothered"}',
        b'{"id": 1, "cannot": "no-reading", "reading": 5}',
        b'{"cannot": "no-reading"}',
        b'{"id": 1, "set_aside": ""}',
        b'{"id": 1, "set_aside": " \\u001b "}',
        b'{"set_aside": "why"}',
        b'{"by": "ear"}',
        b'{"by": "level", "step": 3}',
        b'{"undo": false}',
        b'{"undo": true, "moved": 0}',
        b'{"note": ""}',
        b'{"note": 5}',
        b'{"note": "\xff"}',
        b'{"note": "\\ud800"}',
        b"\xff\xfe{}",
        b"[" * 60_000,
        b'{"a":' * 12_000,
        b'{"id": 1, "reading": ' + b"[" * 60_000,
        None,
    ],
)
def test_whatever_is_malformed_is_refused_with_a_reason(line: bytes | None) -> None:
    with pytest.raises(AnswerError) as refusal:
        heard(line)
    assert str(refusal.value)


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ('{"id": 1, "readng": 5}', 'is "readng" meant to be "reading"?'),
        ('{"id": 1, "reading": 5, "insit": true}', 'is "insit" meant to be "insist"?'),
        ('{"id": true, "reading": 5}', "$.id"),
        ('{"id": 1, "reading": 5, "done": true}', "`reading`"),
    ],
)
def test_a_refusal_names_what_is_wrong_and_what_may_be_meant(line: str, expected: str) -> None:
    with pytest.raises(AnswerError) as refusal:
        heard(line.encode())
    assert expected in str(refusal.value)


def test_a_refusal_repeats_no_terminal_code() -> None:
    with pytest.raises(AnswerError) as refusal:
        heard(b'{"id": 1, "reading": 5, "\\u001b]0;t\\u0007insis": true}')
    assert "\x1b" not in str(refusal.value)
    assert "\x07" not in str(refusal.value)


def refusal_of(line: bytes) -> str | None:
    try:
        heard(line)
    except AnswerError as refusal:
        return str(refusal)
    return None


@given(st.binary(max_size=300))
def test_any_bytes_are_an_answer_or_a_refusal(line: bytes) -> None:
    refusal = refusal_of(line)
    assert refusal is None or refusal.isprintable()


_json = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=4),
    max_leaves=12,
)
_keys = st.sampled_from(["id", "at_s", "done", "reading", "turns", "insist", "none", "ferrite", "brass", "points"])
_other_keys = st.sampled_from(["cannot", "set_aside", "by", "step", "undo", "moved", "note", "x"])


@given(st.dictionaries(_keys | _other_keys, _json | st.just(1) | st.just(value=True), max_size=5))
def test_any_object_is_an_answer_or_a_refusal(plain: dict[str, object]) -> None:
    assert refusal_of(json.dumps(plain).encode()) != ""


class Hose(io.RawIOBase):
    """A source without a line end for so many bytes, which remembers how much was asked of it at once."""

    def __init__(self, size: int, then: bytes) -> None:
        self.left = size
        self.then = then
        self.most = 0

    def readline(self, size: int | None = -1, /) -> bytes:
        assert size is not None
        assert size > 0
        self.most = max(self.most, size)
        taken = min(size, self.left)
        self.left -= taken
        if taken < size:
            rest, self.then = self.then, b""
            return b"x" * taken + rest
        return b"x" * taken


def test_a_line_without_end_is_never_held_whole_and_is_one_problem() -> None:
    hose = Hose(50_000_000, b"\n")
    assert list(lines_of(hose)) == [None]  # type: ignore[arg-type]
    assert hose.most <= LONGEST_LINE + 2


@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
def test_a_line_of_64_kib_is_heard_and_one_byte_more_is_not(end: bytes) -> None:
    longest, longer = b"x" * LONGEST_LINE, b"x" * (LONGEST_LINE + 1)
    source = io.BytesIO(longest + end + longer + end + longest + end + b"last" + end)
    assert list(lines_of(source)) == [longest, None, longest, b"last"]


@pytest.mark.parametrize("size", [LONGEST_LINE + extra for extra in range(-1, 5)])
def test_the_last_line_needs_no_end(size: int) -> None:
    expected = b"x" * size if size <= LONGEST_LINE else None
    assert list(lines_of(io.BytesIO(b"a\n" + b"x" * size))) == [b"a", expected]


@given(st.lists(st.binary(max_size=20).filter(lambda line: b"\n" not in line and not line.endswith(b"\r"))))
def test_each_line_is_heard_once(said: list[bytes]) -> None:
    heard_lines = list(lines_of(io.BytesIO(b"".join(line + b"\n" for line in said))))
    assert heard_lines == ([said[0].removeprefix(b"\xef\xbb\xbf"), *said[1:]] if said else [])


def test_a_byte_order_mark_before_the_first_line_is_no_part_of_it() -> None:
    assert list(lines_of(io.BytesIO(b"\xef\xbb\xbf{}\r\n\xef\xbb\xbf{}\n"))) == [b"{}", b"\xef\xbb\xbf{}"]


@pytest.mark.parametrize(
    ("line", "known"),
    [
        (b'{"id": 1, "cannot": "be bothered"}', "end-of-travel, no-reading"),
        (b'{"by": "ear"}', "resonance, level, wand, stage-voltage"),
        (b'{"id": 1, "ferrite": "left", "brass": "up"}', "up, down, same"),
    ],
)
def test_a_word_that_is_none_of_those_known_is_answered_by_those(line: bytes, known: str) -> None:
    with pytest.raises(AnswerError) as refused:
        heard(line)
    assert str(refused.value).endswith(f"; known here: {known}")
