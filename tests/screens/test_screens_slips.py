"""Slips of the finger at the guide: what Enter, a bounce or a wrong value must not do."""

import msgspec
import pytest

from aligner.engine.answers import Answer, Cannot, Reading, Undo
from aligner.engine.asks import Point
from aligner.screens.desk import Send
from aligner.screens.keys import press
from aligner.screens.paint import AT_REST, foot_row, note_row, room_for
from aligner.screens.questions import about_doubt
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


@pytest.mark.parametrize(("key", "value"), [("y", 380_000.0), ("n", 383_600.0), ("i", 38_000.0)])
def test_what_is_typed_far_from_the_live_reading_is_asked_about(key: str, value: float) -> None:
    desk = desk_with(READ, serves=COUNTER)
    desk.sample(samples(*[383_600.0] * 8))
    typed(desk, "38")
    assert press(desk, "enter", None) == []
    said = note_row(desk, "")
    assert "38 kHz was typed, and NOW shows 383.6 kHz. Perhaps 380 kHz: the point slipped by one place." in said
    assert "y: I meant 380 kHz   n: take NOW, 383.6 kHz   i: 38 kHz is right" in said
    assert reading_of([*press(desk, key, key)]).value == value


@pytest.mark.parametrize("key", ["y", "n"])
def test_where_no_slip_explains_what_was_typed_the_live_reading_is_what_is_offered(key: str) -> None:
    desk = desk_with(READ, serves=COUNTER)
    desk.sample(samples(*[383_600.0] * 8))
    typed(desk, "350")
    press(desk, "enter", None)
    assert "Perhaps" not in note_row(desk, "")
    assert "y or n: take NOW, 383.6 kHz" in note_row(desk, "")
    assert reading_of([*press(desk, key, key)]).value == 383_600.0


def test_what_is_typed_near_the_live_reading_is_taken_and_escape_empties_the_line() -> None:
    desk = desk_with(READ, serves=COUNTER)
    desk.sample(samples(*[383_600.0] * 8))
    typed(desk, "38")
    press(desk, "enter", None)
    press(desk, "escape", None)
    assert desk.line.text == ""
    typed(desk, "383.5")
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
    sent = press(desk, "y", "y", 5.3)
    if desk.question is not None:  # it leaves a touch: what the hand has turned for that is asked apart
        sent = press(desk, "n", "n", 5.4)
    assert sent == [Send(answer)]


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


def test_the_likely_meaning_that_is_taken_is_the_one_that_the_doubt_has_named() -> None:
    words = (
        "it should lie near 409.2 kHz, and 4.1 kHz is far from that; perhaps 410 kHz: the point slipped by two places"
    )
    question = about_doubt(Reading(4_100.0), 40_000.0, "Hz", 256, words)
    assert question is not None
    assert question.keys["y"] == Reading(410_000.0)
    assert "y: I meant 410 kHz" in question.text
    other = about_doubt(Reading(4_100.0), 40_000.0, "Hz", 256)
    assert other is not None
    assert other.keys["y"] == Reading(41_000.0)


def test_the_guide_says_on_which_questioned_reading_the_plan_rests_and_how_to_take_it_back() -> None:
    desk = desk_with(READ)
    insisted = Reading(430_000.0, insist=True)
    told(desk, Reading(383_600.0), asks=(READ, TOUCH))
    assert "rests on" not in room_for(desk, 80, 24).why
    told(desk, Reading(430_000.0), insisted, asks=(READ, TOUCH), doubts_from=4e5)
    why = room_for(desk, 120, 40).why.replace("\n", " ")
    assert why.startswith(
        "This rests on oscillator at 2 V: 430 kHz (insisted), which was questioned: u takes it back. Why: It stands"
    )
    high = msgspec.structs.replace(READ, id=9, point=Point(volts=8.0))
    told(desk, Reading(430_000.0), insisted, Reading(3e5), asks=(READ, high, TOUCH), doubts_from=4e5)
    assert "r, then 2, says it anew" in room_for(desk, 120, 40).why.replace("\n", " ")
    told(desk, Reading(430_000.0), insisted, Reading(3e5), asks=(READ, READ, TOUCH), doubts_from=4e5)
    assert "rests on" not in room_for(desk, 120, 40).why


def test_at_rest_outside_of_the_aim_a_real_counter_brings_the_hint_of_an_end_of_travel() -> None:
    desk = desk_with(TOUCH, serves=COUNTER)
    desk.sample(samples(*[390_000.0] * 40))
    assert AT_REST not in note_row(desk, "")  # nothing was turned yet
    desk.sample(samples(*[387_000.0 - 100.0 * at for at in range(8)], first_s=21.0))
    assert AT_REST not in note_row(desk, "")
    desk.sample(samples(*[386_300.0] * 32, first_s=23.0))
    assert note_row(desk, "") == AT_REST
    desk.sample(samples(385_620.0, first_s=31.0))
    assert AT_REST not in note_row(desk, "")
