"""What is said beside STOP, after an aim was taken by itself, of where the adjuster sits, and in the last line."""

import pytest

from aligner.engine.answers import Reading
from aligner.engine.asks import Ask, Touch
from aligner.engine.capture import Sample
from aligner.screens.desk import TOLD_S, Desk, Send
from aligner.screens.glance import Paper, glance
from aligner.screens.keys import press
from aligner.screens.paint import foot_row, note_row, room_for
from aligner.screens.sources import EVERYTHING
from tests.screens.scripted import CONFIRM, CORE, PEAK, READ, TOUCH, desk_with, told


def looked(desk: Desk, *values: float, from_s: float = 10.0) -> None:
    """Looks at the source, eight a second."""
    for at, value in enumerate(values):
        desk.sample((Sample(from_s + at / 8, value),))


@pytest.mark.parametrize(("turned", "said"), [(0.25, "turned 1/4 turn clockwise"), (0.0, "not turned yet")])
def test_beside_stop_nothing_asks_to_go_on(turned: float, said: str) -> None:
    desk = desk_with(CORE, serves=EVERYTHING, turnable=True)
    assert desk.stream is not None
    looked(desk, -1.0)
    desk.stream.turned = turned
    desk.sample((Sample(20.0, -6.0),))
    shown = glance(desk, Paper(80))
    assert "STOP" in shown.hand
    assert shown.amount == said


def test_at_a_bench_an_aim_that_is_reached_leaves_no_turns_to_go() -> None:
    desk = desk_with(CORE, serves=EVERYTHING)
    looked(desk, -1.0)
    assert "about 3/4 turn" in glance(desk, Paper(80)).amount
    looked(desk, -6.0, from_s=20.0)
    assert glance(desk, Paper(80)).amount == ""


def taken_by_itself(then: Ask) -> Desk:
    """A desk in front of that ask, after the touch before was taken by itself."""
    desk = desk_with(TOUCH, serves=EVERYTHING, turnable=True)
    looked(desk, 386_000.0)
    effects = []
    for at in range(20):
        effects += desk.sample((Sample(20.0 + at / 8, 385_620.0),))
        if effects:
            break
    assert isinstance(effects[0], Send)
    assert isinstance(effects[0].answer, Reading)
    told(desk, effects[0].answer, asks=(TOUCH, then))
    return desk


def test_what_was_taken_by_itself_is_told_on_the_new_ask_for_some_seconds() -> None:
    desk = taken_by_itself(READ)
    words = "Taken by itself: oscillator-coil at 385.62 kHz."
    assert note_row(desk, "") == words
    looked(desk, 463_000.0, 463_000.0, from_s=30.0)
    assert note_row(desk, "") == words
    looked(desk, 463_000.0, from_s=31.0 + TOLD_S)
    assert note_row(desk, "") == ""


def test_arrow_keys_that_came_too_late_hear_what_was_taken_by_itself() -> None:
    desk = taken_by_itself(CORE)
    desk.quiet_s = 40.0
    assert press(desk, "right", None, 40.2) == []
    assert desk.message.startswith("Taken by itself: oscillator-coil at 385.62 kHz. New: antenna-coil.")
    desk = taken_by_itself(READ)
    press(desk, "right", None, 40.2)
    assert desk.message.startswith("Taken by itself: ")


def test_what_was_taken_by_enter_is_not_told() -> None:
    desk = desk_with(TOUCH, serves=EVERYTHING, turnable=True)
    told(desk, Reading(385_620.0), asks=(TOUCH, READ))
    assert note_row(desk, "") == ""


def test_where_the_adjuster_sits_is_a_sentence_of_its_own() -> None:
    desk = desk_with(CORE)
    assert room_for(desk, 160, 40).place == "set at 91.1 MHz. The adjuster: the core nearest the aerial socket."


@pytest.mark.parametrize("ask", [CONFIRM, READ, TOUCH, PEAK])
@pytest.mark.parametrize("columns", [80, 100])
def test_undo_and_note_stand_in_the_last_line(ask: Ask, columns: int) -> None:
    foot = foot_row(desk_with(ask), columns)
    assert "u undo  n note  ? help  q close" in foot
    if isinstance(ask, Touch) and columns == 100:
        assert foot.endswith("c curves  p place")


def test_near_the_aim_the_reading_leads_and_no_turns_are_told_that_are_still_to_go() -> None:
    desk = desk_with(CORE, serves=EVERYTHING, turnable=True)
    assert desk.stream is not None
    within = desk.ask.aim.within if isinstance(desk.ask, Touch) else 0.0
    looked(desk, -1.0)
    desk.stream.turned = 0.25
    looked(desk, -3.0, from_s=20.0)
    assert "; still" in glance(desk, Paper(80)).amount
    looked(desk, -6.0 + 2.0 * within, from_s=30.0)
    assert glance(desk, Paper(80)).amount == "turned 1/4 turn clockwise"


def test_less_than_can_be_told_is_not_still_to_go() -> None:
    desk = desk_with(CORE, serves=EVERYTHING, turnable=True)
    assert desk.stream is not None
    looked(desk, -1.0)
    desk.stream.turned = 0.72
    looked(desk, -3.0, from_s=20.0)
    assert "still" not in glance(desk, Paper(80)).amount
