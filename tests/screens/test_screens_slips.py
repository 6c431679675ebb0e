"""Slips of the finger at the guide: what Enter, a bounce or a wrong value must not do."""

import pytest

from aligner.engine.answers import Answer, Cannot, Reading, Undo
from aligner.screens.desk import Send
from aligner.screens.keys import press
from aligner.screens.paint import foot_row, note_row, room_for
from tests.screens.scripted import CORE, COUNTER, READ, TOUCH, desk_with, told
from tests.screens.test_screens_keys import samples, typed


def reading_of(effects: list[object]) -> Reading:
    (sent,) = effects
    assert isinstance(sent, Send)
    assert isinstance(sent.answer, Reading)
    return sent.answer


def test_enter_does_not_answer_a_question_that_stands_open() -> None:
    desk = desk_with(READ, serves=COUNTER)
    told(desk, Reading(3_836_000.0), asks=(READ, TOUCH), doubts_from=1e6)
    desk.sample(samples(*[3_836_100.0] * 8))
    assert press(desk, "enter", None) == []
    assert note_row(desk, "").startswith("Enter does not answer this. Questioned: ")
    desk.sample(samples(*[383_600.0] * 8, first_s=20.0))
    assert reading_of([*press(desk, "enter", None)]).value == 383_600.0


def test_a_question_is_put_away_by_escape_and_comes_back_when_the_same_is_taken_again() -> None:
    desk = desk_with(READ, serves=COUNTER)
    told(desk, Reading(3_836_000.0), asks=(READ, TOUCH), doubts_from=1e6)
    assert "Esc: put this away" in note_row(desk, "")
    assert not room_for(desk, 80, 24).why
    assert "q close" in foot_row(desk, 80)
    assert press(desk, "escape", None) == []
    assert desk.doubt is None
    assert desk.ask == READ
    assert "Put away" in note_row(desk, "")
    desk.sample(samples(*[3_836_000.0] * 8))
    assert press(desk, "enter", None) == []
    assert desk.doubt is not None


def test_a_touch_where_nothing_was_turned_is_taken_at_the_second_enter_only() -> None:
    desk = desk_with(TOUCH, serves=COUNTER)
    desk.sample(samples(*[390_000.0, 390_010.0] * 4))
    assert press(desk, "enter", None, 5.0) == []
    assert desk.message.startswith("Nothing was turned yet")
    assert press(desk, "enter", None, 5.1) == []
    assert reading_of([*press(desk, "enter", None, 6.0)]).value == pytest.approx(390_000.0, abs=20.0)


def test_a_touch_that_was_turned_is_taken_at_the_first_enter_also_outside_of_the_aim() -> None:
    desk = desk_with(TOUCH, serves=COUNTER)
    desk.sample(samples(390_000.0, *[386_000.0] * 8))
    assert reading_of([*press(desk, "enter", None)]).value == 386_000.0


@pytest.mark.parametrize(("key", "value"), [("y", 383_600.0), ("i", 38_000.0)])
def test_what_is_typed_far_from_the_live_reading_is_asked_about(key: str, value: float) -> None:
    desk = desk_with(READ, serves=COUNTER)
    desk.sample(samples(*[383_600.0] * 8))
    typed(desk, "38")
    assert press(desk, "enter", None) == []
    assert "38 kHz was typed, and NOW shows 383.6 kHz." in note_row(desk, "")
    assert reading_of([*press(desk, key, key)]).value == value


def test_what_is_typed_near_the_live_reading_is_taken_and_escape_leaves_the_line_to_be_mended() -> None:
    desk = desk_with(READ, serves=COUNTER)
    desk.sample(samples(*[383_600.0] * 8))
    typed(desk, "38")
    press(desk, "enter", None)
    press(desk, "escape", None)
    typed(desk, "3.5")
    assert reading_of([*press(desk, "enter", None)]).value == pytest.approx(383_500.0)


@pytest.mark.parametrize(
    ("key", "answer"), [("x", Cannot("no-reading")), ("e", Cannot("end-of-travel")), ("u", Undo())]
)
def test_a_bounce_confirms_nothing_and_y_is_yes_everywhere(key: str, answer: Answer) -> None:
    desk = desk_with(CORE)
    told(desk, Reading(383_600.0), asks=(READ, CORE))
    press(desk, key, key, 5.0)
    assert desk.question is not None
    assert press(desk, key, key, 5.1) == []
    assert press(desk, key, key, 5.2) == []
    assert desk.question is not None
    assert press(desk, "y", "y", 5.3) == [Send(answer)]


def test_a_key_that_answers_nothing_shows_the_choices_again() -> None:
    desk = desk_with(READ)
    press(desk, "x", "x")
    assert press(desk, "j", "j") == []
    assert note_row(desk, "").startswith("One of these keys answers: Nothing can be read here?")


def test_the_oscillator_itself_typed_for_a_divided_counter_is_offered_as_it_would_show() -> None:
    desk = desk_with(READ)
    told(desk, Reading(383_600.0 * 256), asks=(READ, TOUCH), doubts_from=1e6)
    assert "y: I meant 383.6 kHz" in note_row(desk, "")
    desk = desk_with(READ, serves=COUNTER)
    desk.sample(samples(*[383_600.0] * 8))
    typed(desk, "98.2 MHz")
    press(desk, "enter", None)
    assert "Perhaps 383.59375 kHz: what was typed is the oscillator itself" in note_row(desk, "")
