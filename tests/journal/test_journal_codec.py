import math

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.engine.answers import Cannot, Reading, SweepSeen, WandSeen
from aligner.engine.history import Entry
from aligner.errors import AnswerError
from aligner.journal.codec import decoded, encoded, kind_of
from tests.journal.samples import note, reading

_finite = st.floats(allow_nan=False, allow_infinity=False)


@given(_finite, st.none() | _finite, st.booleans())
def test_every_finite_reading_comes_back_as_it_was(value: float, turns: float | None, insist: bool) -> None:
    entry = Entry(1, 0.0, "1", None, Reading(value, turns, insist))
    assert decoded(encoded(entry)) == entry


@given(st.text())
def test_a_note_of_any_text_can_be_kept_and_what_is_read_back_stays_the_same(text: str) -> None:
    once = decoded(encoded(note(1, text)))
    assert decoded(encoded(once)) == once


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_numbers_that_are_not_finite_are_refused_wherever_they_stand(bad: float) -> None:
    for answer in (
        Reading(bad),
        Reading(1.0, bad),
        Cannot("end-of-travel", bad),
        WandSeen(1.0, bad, 2.0),
        SweepSeen(((1.0, 2.0), (2.0, bad), (3.0, 1.0))),
    ):
        with pytest.raises(AnswerError, match="finite"):
            encoded(Entry(1, 0.0, "1", None, answer))
    with pytest.raises(AnswerError, match="finite"):
        encoded(Entry(1, bad, "1", None, Reading(1.0)))


def test_terminal_codes_do_not_get_in_and_do_not_come_back_out() -> None:
    assert "\x1b" not in encoded(note(1, "a\x1b]0;title\x07b"))
    smuggled = msgspec.json.encode(note(1, "a\x1b[2Jb")).decode()
    assert decoded(smuggled) == note(1, "ab")


def test_a_note_keeps_its_lines() -> None:
    assert decoded(encoded(note(1, "one\ntwo"))) == note(1, "one\ntwo")


@pytest.mark.parametrize("body", ["", "{", "[]", "{}", '{"seq": 1}', "null", "[" * 100_000])
def test_what_is_no_entry_is_an_error_and_no_crash(body: str) -> None:
    with pytest.raises((msgspec.MsgspecError, RecursionError)):
        decoded(body)


def test_the_kind_is_the_tag_of_the_answer() -> None:
    assert (kind_of(note(1, "x")), kind_of(reading(1))) == ("note", "reading")
