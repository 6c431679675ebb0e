"""What is let through of text that somebody else wrote."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.text import clean

HOSTILE = st.text(
    st.one_of(
        st.characters(),
        st.characters(categories=["Cc", "Cf", "Cs"]),
        st.sampled_from("\x1b\x9b\x9d\x9c\x07[]\\;m0123\r\n\t\u202e\u2066\ud800"),
    ),
    max_size=600,
)


@pytest.mark.parametrize(
    ("hostile", "left"),
    [
        ("\x1b]0;evil title\x07name", "name"),
        ("\x1b]52;c;ZXZpbA==\x1b\\name", "name"),
        ("\x9d0;evil title\x9cname", "name"),
        ("\x1bPq#0;2;0;0;0\x1b\\name", "name"),
        ("\x1b[31mred\x1b[0m", "red"),
        ("\x9b31mred\x9b0m", "red"),
        ("\x1b[?1049lname", "name"),
        ("\x1b(0name", "name"),
        ("\x1bcname", "name"),
        ("a\x00b\x08c\x7fd", "abcd"),
        ("abc\u202edef\u2066ghi\u200fj\u061ck", "abcdefghijk"),
        ("half \ud83d character", "half  character"),
        ("\x1b\x1b[m[31m", "[31m"),
    ],
)
def test_what_a_terminal_would_obey_is_taken_out(hostile: str, left: str) -> None:
    assert clean(hostile) == left


def test_a_string_sequence_without_an_end_loses_its_start_but_not_the_text_after_it() -> None:
    assert clean("\x1b]98.412 MHz") == "98.412 MHz"


def test_an_ordinary_line_stays_as_it_is_in_any_script() -> None:
    line = "Übertrager, 4,7 µH ±5 % [ohm 5] ½ turn − Ω приёмник 受信機"
    assert clean(line) == line


def test_line_ends_and_tabs_become_spaces_unless_asked_for() -> None:
    assert clean("a\r\nb\rc\td\u2028e") == "a b c d e"
    assert clean("a\r\nb\rc\td\u2028e", lines=True) == "a\nb\nc\td\ne"


def test_a_long_text_is_cut_and_shows_that_it_was() -> None:
    assert clean("x" * 500, 10) == "x" * 9 + "…"
    assert clean("x" * 10, 10) == "x" * 10
    assert clean("x", 0) == ""


@given(HOSTILE, st.integers(0, 100), st.booleans())
def test_nothing_is_left_that_a_terminal_obeys(text: str, limit: int, lines: bool) -> None:
    kept = clean(text, limit, lines=lines)
    assert len(kept) <= limit
    allowed = "\n\t" if lines else ""
    assert all(mark in allowed or unicodedata.category(mark) not in {"Cc", "Cf", "Cs"} for mark in kept)
    assert kept.encode("utf-8").decode("utf-8") == kept


@given(HOSTILE, st.integers(0, 100), st.booleans())
def test_cleaning_twice_is_cleaning_once(text: str, limit: int, lines: bool) -> None:
    once = clean(text, limit, lines=lines)
    assert clean(once, limit, lines=lines) == once


@given(st.text(st.characters(categories=["L", "N", "P", "S", "Zs"]), max_size=400))
def test_text_that_can_be_read_is_never_changed(text: str) -> None:
    assert clean(text) == text


@pytest.mark.parametrize("piece", ["\x1b]", "\x9d", "\x9b0;", "\x1b[", "\x1bP"])
def test_a_flood_of_unfinished_sequences_is_cleaned_in_one_pass(piece: str) -> None:
    # Quadratic time would take minutes here; the suite would show it.
    assert "\x1b" not in clean(piece * 200_000)
