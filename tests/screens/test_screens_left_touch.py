"""Leaving a touch in the middle: what is said and asked then, and what becomes of a half-turned adjuster."""

from pathlib import Path

import msgspec
import pytest

from aligner.engine.answers import Answer, Cannot, GoTo, Reading, SetAside, Sitting, SwitchWay, Undo
from aligner.engine.asks import Ask, Read, Touch
from aligner.engine.capture import Sample
from aligner.screens.app import AlignerApp
from aligner.screens.desk import Desk, Send, Turn
from aligner.screens.guide import Guide
from aligner.screens.keys import press
from aligner.screens.paint import entry_row, foot_row, note_row
from aligner.screens.reading_pages import Pages
from aligner.screens.sources import AT_STOP, EVERYTHING
from tests.screens.driving import kept, rested, shown_guide, until, words_on
from tests.screens.scripted import CONFIRM, COUNTER, PEAK, READ, TOUCH, desk_with, procedure, told
from tests.screens.test_screens_journey import answer as honest
from tests.screens.test_screens_keys import samples, typed


def open_ask(desk: Desk) -> Ask | None:
    return desk.ask


def at_a_touch(*, turnable: bool = False) -> Desk:
    desk = desk_with(READ, serves=EVERYTHING if turnable else COUNTER, turnable=turnable)
    told(desk, Reading(383_600.0), asks=(READ, TOUCH))
    return desk


@pytest.mark.parametrize(("key", "sent"), [("y", Undo(turned=True)), ("n", Undo())])
def test_undo_in_the_middle_of_a_touch_says_what_it_does_and_asks_what_was_turned(key: str, sent: Answer) -> None:
    desk = at_a_touch()
    press(desk, "u", "u")
    said = note_row(desk, "")
    assert said.startswith(
        "First of two questions: take back oscillator at 2 V: 383.6 kHz? Nothing is turned back by that."
    )
    assert press(desk, "u", "u") == []
    assert (
        "Second of two questions: you leave oscillator-coil, which was to be turned now. Did you turn it"
        in note_row(desk, "")
    )
    assert press(desk, key, key) == [Send(sent)]


def test_escape_at_either_question_leaves_the_touch_open() -> None:
    desk = at_a_touch()
    press(desk, "u", "u")
    press(desk, "u", "u")
    assert press(desk, "escape", None) == []
    assert desk.question is None
    assert not desk.waiting
    assert desk.ask == TOUCH


@pytest.mark.parametrize(
    ("keys", "sent"),
    [("uu", Undo(turned=True)), ("g1", GoTo("interstage", turned=True)), ("xx", Cannot("no-reading", turned=True))],
)
def test_the_virtual_set_knows_by_itself_that_it_was_turned(keys: str, sent: Answer) -> None:
    desk = at_a_touch(turnable=True)
    press(desk, "left", None)
    press(desk, "right", None)  # back where it stood, but for the play of the thread
    press(desk, keys[0], keys[0])
    assert "u" not in keys or "oscillator-coil was turned meanwhile and stays so." in note_row(desk, "")
    assert press(desk, keys[1], keys[1]) == [Send(sent)]


def test_the_virtual_set_knows_by_itself_that_nothing_was_turned() -> None:
    desk = at_a_touch(turnable=True)
    press(desk, "u", "u")
    assert press(desk, "u", "u") == [Send(Undo())]


def test_of_a_touch_that_was_open_when_the_job_was_opened_only_the_person_knows_what_was_turned() -> None:
    desk = desk_with(TOUCH, serves=EVERYTHING, turnable=True)
    press(desk, "g", "g")
    assert press(desk, "1", "1") == []
    assert press(desk, "y", "y") == [Send(GoTo("interstage", turned=True))]


@pytest.mark.parametrize("newest", [Reading(383_600.0), Reading(385_620.0)])
def test_after_a_break_undo_asks_for_the_open_adjuster_however_its_touch_is_worded_then(newest: Reading) -> None:
    touched = newest.value == 385_620.0
    trimmer = msgspec.structs.replace(TOUCH, id=4, adjuster="oscillator-trimmer", text="Turn it. It has no stops.")
    asks = (READ, TOUCH, trimmer) if touched else (READ, trimmer)
    answers = (Reading(383_600.0), newest) if touched else (newest,)
    desk = Desk(procedure(), EVERYTHING, turnable=True)
    told(desk, *answers, asks=asks)
    anew = (*asks[:-1], msgspec.structs.replace(trimmer, text="Turn it."))
    told(desk, *answers, Sitting(), asks=anew)
    assert not desk.counted
    press(desk, "u", "u")
    assert note_row(desk, "").startswith("First of two questions: take back ")
    assert press(desk, "y", "y") == []
    assert note_row(desk, "").startswith(
        "Second of two questions: you leave oscillator-trimmer, which was to be turned"
    )
    assert press(desk, "y", "y") == [Send(Undo(turned=True))]


def test_once_something_was_answered_after_a_break_the_virtual_set_knows_again_what_was_turned() -> None:
    desk = desk_with(READ, serves=EVERYTHING, turnable=True)
    told(desk, Sitting(), Reading(383_600.0), asks=(READ, TOUCH))
    press(desk, "u", "u")
    assert press(desk, "u", "u") == [Send(Undo())]


async def test_a_trimmer_left_half_turned_by_quitting_is_asked_about_and_its_readings_are_taken_anew(
    tmp_path: Path,
) -> None:
    app = AlignerApp(tmp_path, demo=True)
    async with app.run_test(size=(80, 24)) as pilot:
        _, desk = await shown_guide(pilot)
        while not any(isinstance(entry.ask, Touch) for entry in desk.history.entries):
            ask = open_ask(desk)
            assert ask is not None
            await honest(pilot, desk, ask)
        await until(pilot, lambda: desk.stream is not None and desk.stream.live is not None)
        rested(desk)
        await pilot.press(*["right"] * 3)
        left = desk.ask
        assert isinstance(left, Touch)
        await pilot.press("q")
        await until(pilot, lambda: not isinstance(app.screen, Guide))
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, Pages))
        while isinstance(app.screen, Pages):
            await pilot.press("enter")
            await pilot.pause()
        _, desk = await shown_guide(pilot)
        await until(pilot, lambda: isinstance(desk.history.entries[-1].answer, Sitting))
        assert open_ask(desk) == left
        await until(pilot, lambda: "what was turned before the break is not counted" in words_on(app))
        await pilot.press("u")
        assert "First of two questions: take back " in words_on(app)
        await kept(pilot, desk, "y", "y")
        assert desk.history.entries[-1].answer == Undo(turned=True)
        assert desk.survey is not None
        assert "0 of 2 points read" in words_on(app)


def test_setting_a_step_aside_in_the_middle_of_a_touch_asks_the_same() -> None:
    desk = at_a_touch()
    press(desk, "s", "s")
    typed(desk, "stuck")
    assert press(desk, "enter", None) == []
    assert press(desk, "y", "y") == [Send(SetAside("stuck", turned=True))]


def test_another_way_of_seeing_in_the_middle_of_a_peak_asks_the_same() -> None:
    desk = desk_with(PEAK)
    press(desk, "w", "w")
    press(desk, "2", "2")
    assert press(desk, "y", "y") == [Send(SwitchWay("level", turned=True))]


def test_where_nothing_is_to_be_turned_undo_asks_nothing_more() -> None:
    desk = desk_with(CONFIRM)
    told(desk, Reading(383_600.0), asks=(READ, READ))
    press(desk, "u", "u")
    assert press(desk, "y", "y") == [Send(Undo())]


def test_the_log_says_that_an_adjuster_had_been_turned() -> None:
    desk = desk_with(READ)
    told(desk, Reading(383_600.0), Undo(turned=True), asks=(READ, TOUCH))
    assert desk.seen is not None
    assert str(desk.seen.log[-1]) == "  2 undo; oscillator-coil half turned counts as a touch"


def test_while_a_question_stands_open_entry_line_and_key_bar_show_only_what_works() -> None:
    desk = at_a_touch()
    press(desk, "u", "u")
    assert entry_row(desk, 80) == " > first the question below"
    assert foot_row(desk, 80) == "u, y, Esc: as the question says"


def test_while_a_reading_stands_questioned_entry_line_and_key_bar_show_what_works() -> None:
    desk = desk_with(READ, serves=COUNTER)
    told(desk, Reading(3_836_000.0), asks=(READ, TOUCH), doubts_from=1e6)
    assert foot_row(desk, 80).startswith("y I meant that  i it is right  Esc put away  u undo")
    desk.sample(samples(*[3_836_000.0] * 8))
    assert "Enter: take" not in entry_row(desk, 80)
    assert foot_row(desk, 80).startswith("i it is right  Esc put away  u undo")
    desk.sample(samples(*[383_600.0] * 8, first_s=20.0))
    assert "Enter: take the reading" in entry_row(desk, 80)


async def test_a_touch_left_half_turned_by_undo_ends_aligned_with_nothing_questioned(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path, demo=True)
    async with app.run_test(size=(80, 24)) as pilot:
        _, desk = await shown_guide(pilot)
        while (touch := desk.ask) is not None and not isinstance(touch, Touch):
            await honest(pilot, desk, touch)
        assert touch is not None
        adjuster = touch.adjuster
        await until(pilot, lambda: desk.stream is not None and desk.stream.live is not None)
        await pilot.press(*["ctrl+left"] * 3)
        await kept(pilot, desk, "u", "u")
        assert desk.history.entries[-1].answer == Undo(turned=True)
        assert isinstance(open_ask(desk), Read)
        assert f"undo; {adjuster} half turned" in words_on(app)
        while (ask := open_ask(desk)) is not None:
            await honest(pilot, desk, ask)
        assert [entry.doubt for entry in desk.history.entries if entry.doubt] == []
        assert desk.survey is not None
        assert desk.survey.aligned
        assert desk.survey.touches <= 13  # a journey without slips may need twelve
        assert "Aligned: every step is held" in words_on(app)


def turned_on_the_set(desk: Desk, key: str, stands: float, reading: float, at_s: float) -> None:
    """An arrow key, where the adjuster then stands, and what is read there."""
    [turn] = press(desk, key, None)
    assert isinstance(turn, Turn)
    assert desk.stream is not None
    desk.stream.stands(stands, turn.turns)
    desk.sample((Sample(at_s, reading),))


def test_the_end_of_travel_away_from_the_aim_says_where_the_aim_lies_and_can_be_insisted_on() -> None:
    desk = at_a_touch(turnable=True)
    desk.sample((Sample(10.0, 390_000.0),))
    turned_on_the_set(desk, "left", -1 / 16, 391_000.0, 11.0)
    turned_on_the_set(desk, "left", -1 / 16, 391_000.0, 12.0)
    assert note_row(desk, AT_STOP) == "This is the end away from the aim: turn back with Right."
    press(desk, "e", "e")
    assert "But the aim lies the other way." in note_row(desk, "")
    [sent] = press(desk, "y", "y")
    assert isinstance(sent, Send)
    assert isinstance(sent.answer, Cannot)


@pytest.mark.parametrize(("key", "other"), [("left", "Right"), ("right", "Left")])
def test_an_adjuster_that_never_moved_is_tried_the_other_way_before_it_is_said_to_be_at_its_end(
    key: str, other: str
) -> None:
    desk = at_a_touch(turnable=True)
    desk.sample((Sample(10.0, 390_000.0),))
    turned_on_the_set(desk, key, 0.0, 390_000.0, 11.0)
    assert note_row(desk, AT_STOP) == f"It no longer turns that way: try {other}."


def test_the_end_of_travel_towards_the_aim_is_asked_about_as_before() -> None:
    desk = at_a_touch(turnable=True)
    desk.sample((Sample(10.0, 390_000.0),))
    turned_on_the_set(desk, "left", -1 / 16, 389_000.0, 11.0)
    turned_on_the_set(desk, "left", -1 / 16, 389_000.0, 12.0)
    assert note_row(desk, AT_STOP) == AT_STOP
    press(desk, "e", "e")
    assert "But" not in note_row(desk, "")


def test_no_end_of_travel_is_believed_unasked_while_the_last_press_moved_the_reading() -> None:
    desk = at_a_touch(turnable=True)
    desk.sample((Sample(10.0, 390_000.0),))
    turned_on_the_set(desk, "left", -1 / 16, 389_000.0, 11.0)
    press(desk, "e", "e")
    assert "But it moved with your last press." in note_row(desk, "")


def test_a_counter_that_went_away_from_the_aim_tells_that_the_aim_lies_the_other_way() -> None:
    desk = at_a_touch()
    desk.sample(samples(390_000.0, 391_000.0, *[392_000.0] * 30))
    assert note_row(desk, "") == "The reading went away from the aim: turn the other way."
    press(desk, "e", "e")
    assert "But the aim lies the other way." in note_row(desk, "")
