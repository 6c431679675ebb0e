"""The entry line: editing, and what is understood of what was typed."""

import unicodedata
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.engine.answers import Reading, SweepSeen, WandSeen
from aligner.engine.asks import Point, Sweep, Wand
from aligner.errors import QuantityError
from aligner.screens.entry import Line, understood
from aligner.screens.paint import entry_row, note_row
from tests.screens.scripted import CONFIRM, PEAK, READ, TOUCH, desk_with

WAND = Wand(id=6, step="antenna", text="Wand.", circuit="antenna", point=Point(received=98e6))
SWEEP = Sweep(id=7, step="if", text="Sweep.", quantity="level", from_hz=10.5e6, to_hz=10.9e6, count=5)


def test_a_bare_number_is_read_in_the_unit_on_the_screen() -> None:
    got = understood("385,62", TOUCH, 385_620.0, bare="kHz")
    assert isinstance(got.answer, Reading)
    assert got.answer.value == pytest.approx(385_620.0)
    assert got.echo == "385.62 kHz"


@pytest.mark.parametrize(
    ("typed", "turns"), [("-12.3 dB, 1 1/4", 1.25), ("-12.3; -1/4 turn", -0.25), ("-12,3, 1/2", 0.5), ("-12.3", None)]
)
def test_a_peak_may_carry_the_turns(typed: str, turns: float | None) -> None:
    got = understood(typed, PEAK)
    assert isinstance(got.answer, Reading)
    assert got.answer.value == pytest.approx(-12.3)
    assert got.answer.turns == turns


def test_a_plain_reading_takes_no_turns() -> None:
    with pytest.raises(QuantityError, match="no turns"):
        understood("385.62 kHz, 1/4", READ)


def test_nonsense_gets_a_message_and_no_answer() -> None:
    with pytest.raises(QuantityError):
        understood("3..4 bananas", READ)


def test_a_confirmation_takes_no_number() -> None:
    with pytest.raises(QuantityError, match="press Enter"):
        understood("12", CONFIRM)


def test_the_wand_takes_three_levels_or_two_signs() -> None:
    assert understood("-12 -10.5 -14", WAND).answer == WandSeen(-10.5, -14.0, -12.0)
    assert understood("+-", WAND).answer == WandSeen("up", "down")
    assert understood("= −", WAND).answer == WandSeen("same", "down")
    assert understood("+, =", WAND).answer == WandSeen("up", "same")
    assert understood("-;-", WAND).answer == WandSeen("down", "down")
    with pytest.raises(QuantityError, match="three levels"):
        understood("12 13", WAND)


def test_a_sweep_is_pairs_apart_by_semicolons() -> None:
    got = understood("10.6 MHz -6; 10.7 MHz 0; 10.8 MHz -5.5", SWEEP)
    assert got.answer == SweepSeen(((10.6e6, -6.0), (10.7e6, 0.0), (10.8e6, -5.5)))
    with pytest.raises(QuantityError, match="2 of at least 3"):
        understood("10.6 MHz -6; 10.7 MHz 0", SWEEP)
    with pytest.raises(QuantityError, match="no pair"):
        understood("10.6 MHz; x; y", SWEEP)


def test_the_line_is_edited_where_the_cursor_stands() -> None:
    line = Line().typed("9842").moved(-2).typed(".")
    assert (line.text, line.cursor) == ("98.42", 3)
    assert line.backspace().text == "9842"
    assert Line().backspace() == Line()
    assert line.moved(99).cursor == 5


@given(st.text(max_size=60), st.integers(-70, 70))
def test_no_text_puts_a_control_into_the_line_or_the_cursor_outside(text: str, by: int) -> None:
    line = Line().typed(text).moved(by).typed("\x1b]0;x\x07").backspace()
    assert not [mark for mark in line.text if unicodedata.category(mark) in {"Cc", "Cf", "Cs"}]
    assert 0 <= line.cursor <= len(line.text)


@given(st.text(max_size=40))
def test_any_text_gives_an_answer_or_a_message(text: str) -> None:
    for ask in (READ, TOUCH, PEAK, WAND, SWEEP, CONFIRM):
        with suppress(QuantityError):
            assert understood(text, ask, 385_620.0).echo


def test_why_something_is_not_understood_is_told_whole_below_where_the_line_has_no_room() -> None:
    desk = desk_with(READ)
    desk.line = Line().typed("412 kk")
    why = desk.echo()[1]
    assert '"kk" is no unit of' in why
    assert entry_row(desk, 80) == " > 412 kk_   ? see below"
    assert note_row(desk, "", 80) == why
    assert why in entry_row(desk, 300)
    assert not note_row(desk, "", 300)


def test_of_a_long_line_the_part_about_the_cursor_is_seen() -> None:
    desk = desk_with(READ)
    desk.writing = "note"
    desk.line = Line().typed("0123456789" * 12 + "end")
    assert entry_row(desk, 80).endswith("89end_")
    desk.line = desk.line.moved(-500)
    assert entry_row(desk, 80).startswith(" note: _0123")
    assert len(entry_row(desk, 80)) == 80


def test_what_is_typed_for_a_wand_test_is_told_whole_on_80_columns() -> None:
    row = entry_row(desk_with(WAND), 80)
    assert row == " > type 3 levels: none ferrite brass; or 2 signs, far poorer: + up - down = same"
    assert len(row) == 80
