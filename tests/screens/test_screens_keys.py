"""What keys do on the guide, without a screen."""

import pytest

from aligner.engine.answers import Cannot, Done, Note, Reading, SetAside, SwitchWay, Undo
from aligner.engine.capture import Sample
from aligner.engine.history import History
from aligner.screens.commands import GUIDE, footer, help_lines
from aligner.screens.desk import Desk, Do, Send, Turn
from aligner.screens.keys import paste, press
from aligner.screens.paint import entry_row, foot_row, note_row
from aligner.screens.questions import Question, about_way
from aligner.screens.sources import EVERYTHING
from aligner.screens.stream import thinned
from tests.screens.scripted import CAUTION, CONFIRM, CORE, COUNTER, PEAK, READ, TOUCH, ScriptedEngine, desk_with, told


def typed(desk: Desk, text: str) -> None:
    for mark in text:
        press(desk, mark, mark)


def samples(*values: float, first_s: float = 10.0) -> tuple[Sample, ...]:
    return tuple(Sample(first_s + 0.25 * at, value, f"{value:g}") for at, value in enumerate(values))


def test_enter_confirms() -> None:
    assert press(desk_with(CONFIRM), "enter", None) == [Send(Done())]


def test_a_digit_begins_a_reading_and_the_echo_shows_what_is_understood() -> None:
    desk = desk_with(READ)
    typed(desk, "383.6")
    assert desk.echo() == (True, "383.6 kHz")
    (sent,) = press(desk, "enter", None)
    assert isinstance(sent, Send)
    assert isinstance(sent.answer, Reading)
    assert sent.answer.value == pytest.approx(383_600.0)


def test_letters_are_commands_only_while_the_line_is_empty() -> None:
    desk = desk_with(READ)
    typed(desk, "383 kHz")
    assert desk.line.text == "383 kHz"
    press(desk, "escape", None)
    press(desk, "n", "n")
    assert desk.writing == "note"


def test_nothing_is_taken_twice_while_an_answer_is_being_kept() -> None:
    desk = desk_with(CONFIRM)
    press(desk, "enter", None)
    assert press(desk, "enter", None) == []
    assert press(desk, "q", "q") == [Do("leave")]


def test_a_refused_answer_leaves_what_was_typed() -> None:
    desk = desk_with(READ)
    typed(desk, "383.6")
    press(desk, "enter", None)
    desk.refuse("it does not fit")
    assert (desk.line.text, desk.message, desk.waiting) == ("383.6", "it does not fit", False)


def test_a_misunderstood_reading_is_not_sent() -> None:
    desk = desk_with(READ)
    typed(desk, "383..6")
    assert not desk.echo()[0]
    assert press(desk, "enter", None) == []
    assert desk.message


def test_a_note_and_a_reason_are_written_in_the_same_line() -> None:
    desk = desk_with(READ)
    press(desk, "n", "n")
    typed(desk, "core is loose")
    assert press(desk, "enter", None) == [Send(Note("core is loose"))]
    desk = desk_with(READ)
    press(desk, "s", "s")
    typed(desk, "no core")
    assert press(desk, "enter", None) == [Send(SetAside("no core"))]


def test_an_empty_note_is_none() -> None:
    desk = desk_with(READ)
    press(desk, "n", "n")
    assert press(desk, "enter", None) == []
    assert not desk.writing


def test_cautions_cannot_be_set_aside() -> None:
    desk = desk_with(CAUTION)
    press(desk, "s", "s")
    assert not desk.writing
    assert desk.message == "Cautions cannot be set aside."


def test_undo_asks_back_and_an_adjuster_may_not_have_been_turned() -> None:
    desk = desk_with(TOUCH)
    told(desk, Reading(385_620.0), asks=(TOUCH, READ))
    assert press(desk, "u", "u") == []
    assert desk.question is not None
    assert "Take back oscillator-coil at 2 V: 385.62 kHz" in desk.question.text
    assert press(desk, "0", "0") == [Send(Undo(moved=False))]


def test_undo_goes_back_any_number_of_steps() -> None:
    desk = desk_with(READ)
    told(desk, Reading(383_600.0), Reading(463_600.0), Undo(), asks=(READ, READ, READ))
    press(desk, "u", "u")
    assert desk.question is not None
    assert "383.6 kHz" in desk.question.text
    told(desk, Reading(383_600.0), Reading(463_600.0), Undo(), Undo(), asks=(READ, READ, READ))
    press(desk, "u", "u")
    assert desk.question is None


def test_any_other_key_drops_a_question() -> None:
    desk = desk_with(READ)
    told(desk, Reading(383_600.0), asks=(READ, TOUCH))
    press(desk, "u", "u")
    assert press(desk, "escape", None) == []
    assert desk.question is None


def test_there_may_be_nothing_to_take_back() -> None:
    desk = desk_with(READ)
    press(desk, "u", "u")
    assert desk.message == "There is nothing to take back."


def test_end_of_travel_carries_the_reading_and_the_counted_turns() -> None:
    desk = desk_with(CORE, serves=EVERYTHING, turnable=True)
    desk.sample(samples(-2.0))
    assert desk.stream is not None
    desk.stream.turned = 0.5
    press(desk, "e", "e")
    assert press(desk, "e", "e") == [Send(Cannot("end-of-travel", -2.0, 0.5))]


def test_a_plain_reading_has_no_end_of_travel_but_may_be_impossible() -> None:
    desk = desk_with(READ)
    press(desk, "e", "e")
    assert desk.question is None
    assert "End of travel" in desk.message
    press(desk, "x", "x")
    assert press(desk, "x", "x") == [Send(Cannot("no-reading"))]


def test_the_way_of_seeing_is_chosen_from_those_of_the_step() -> None:
    desk = desk_with(PEAK)
    press(desk, "w", "w")
    assert press(desk, "2", "2") == []
    assert press(desk, "n", "n") == [Send(SwitchWay("level"))]
    desk = desk_with(READ)
    press(desk, "w", "w")
    assert "only one way" in desk.message
    assert "Interstage circuit follows, Antenna circuit follows" in desk.message


def test_before_a_wand_is_chosen_its_decibels_are_recommended_where_the_meter_has_a_law() -> None:
    known = about_way(("level", "wand"))
    unknown = about_way(("level", "wand"), law_known=False)
    without = about_way(("resonance", "level"))
    assert isinstance(known, Question)
    assert isinstance(unknown, Question)
    assert isinstance(without, Question)
    assert known.text.endswith("2 wand   Esc: as before (by wand: levels in dB; + and - alone need many more touches)")
    assert unknown.text.endswith("2 wand   Esc: as before")
    assert without.text.endswith("2 level   Esc: as before")


def test_another_way_of_seeing_stands_in_the_foot_where_there_is_one() -> None:
    assert "w other way" in foot_row(desk_with(PEAK), 80)
    assert "w other way" in foot_row(desk_with(CORE, serves=EVERYTHING), 80)
    assert "other way" not in foot_row(desk_with(READ), 200)


def test_a_questioned_reading_offers_its_likely_meaning_on_one_key() -> None:
    desk = desk_with(READ)
    told(desk, Reading(3_836_000.0), asks=(READ, TOUCH), doubts_from=1e6)
    assert desk.doubt is not None
    assert "y: I meant 383.6 kHz" in desk.doubt.text
    (sent,) = press(desk, "y", "y")
    assert isinstance(sent, Send)
    assert isinstance(sent.answer, Reading)
    assert sent.answer.value == pytest.approx(383_600.0)


def test_a_person_may_insist_on_a_questioned_reading() -> None:
    desk = desk_with(READ)
    told(desk, Reading(3_836_000.0), asks=(READ, TOUCH), doubts_from=1e6)
    (sent,) = press(desk, "i", "i")
    assert sent == Send(Reading(3_836_000.0, insist=True))
    assert press(desk_with(READ), "i", "i") == []


def test_arrow_keys_turn_the_virtual_set_only_where_an_adjuster_is_asked_for() -> None:
    desk = desk_with(TOUCH, serves=EVERYTHING, turnable=True)
    assert press(desk, "right", None) == [Turn("oscillator-coil", 1 / 16)]
    assert press(desk, "shift+right", None) == [Turn("oscillator-coil", 1 / 128)]
    assert press(desk, "left", None) == [Turn("oscillator-coil", -1 / 64)]
    other = desk_with(READ, serves=EVERYTHING, turnable=True)
    assert press(other, "right", None) == []
    assert "arrow keys" in other.message


def test_enter_takes_a_settled_reading_and_at_the_second_press_any() -> None:
    desk = desk_with(READ, serves=COUNTER)
    desk.sample(samples(383_600.0))
    assert press(desk, "enter", None) == []
    (sent,) = press(desk, "enter", None)
    assert isinstance(sent, Send)
    assert isinstance(sent.answer, Reading)
    assert (sent.answer.value, sent.answer.seen.n if sent.answer.seen else 0) == (383_600.0, 1)


def test_without_a_source_enter_asks_for_the_reading() -> None:
    desk = desk_with(PEAK, serves=COUNTER)
    assert press(desk, "enter", None) == []
    assert desk.message == "Type the reading, then Enter."


def test_a_reading_that_stands_still_inside_the_aim_is_taken_with_a_bell() -> None:
    desk = desk_with(TOUCH, serves=COUNTER)
    sent, bell = desk.sample(samples(390_000.0, *[385_620.0] * 8))
    assert isinstance(sent, Send)
    assert bell == Do("ring")
    assert desk.sample(samples(385_620.0, first_s=99.0)) == []


def test_hands_free_can_be_switched_off_and_any_key_stops_a_hold() -> None:
    desk = desk_with(TOUCH, serves=COUNTER)
    press(desk, "h", "h")
    assert desk.sample(samples(390_000.0, *[385_620.0] * 8)) == []
    desk = desk_with(TOUCH, serves=COUNTER)
    desk.sample(samples(390_000.0, *[385_620.0] * 4))
    press(desk, "space", " ")
    assert desk.message.startswith("Stopped")
    assert desk.sample(samples(*[385_620.0] * 8, first_s=20.0)) == []


def test_nothing_is_taken_by_itself_while_something_is_typed() -> None:
    desk = desk_with(TOUCH, serves=COUNTER)
    typed(desk, "38")
    assert desk.sample(samples(390_000.0, *[385_620.0] * 8)) == []


def test_pasted_text_waits_in_the_line_without_its_controls() -> None:
    desk = desk_with(READ)
    paste(desk, "383.6 kHz\x1b[2J\nq\n")
    assert desk.line.text == "383.6 kHz;q"
    assert not desk.waiting


def test_every_command_has_a_key_of_its_own_and_a_line_of_help() -> None:
    keys = [key for command in GUIDE for key in command.keys]
    assert len(keys) == len(set(keys))
    assert all(command.help.endswith(".") for command in GUIDE)
    assert {command.shown for command in GUIDE} <= {key for key, _ in help_lines()}


@pytest.mark.parametrize("columns", [20, 80, 200])
def test_the_footer_never_runs_over(columns: int) -> None:
    assert len(footer(tuple(command.name for command in GUIDE), columns)) <= columns


def test_an_earlier_answer_is_corrected_by_its_number_and_what_came_after_is_taken_back_with_it() -> None:
    desk = desk_with(CONFIRM)
    told(desk, Done(), Reading(383_600.0), Reading(385_620.0), asks=(CONFIRM, READ, TOUCH, CORE))
    press(desk, "r", "r")
    typed(desk, "2")
    press(desk, "enter", None)
    assert desk.question is not None
    assert "takes back the 1 after it, too" in desk.question.text
    assert "stays turned" in desk.question.text
    assert press(desk, "r", "r") == []
    assert press(desk, "y", "y") == [Send(Undo(turned=True)), Send(Undo())]
    assert desk.waiting
    told(desk, Done(), asks=(CONFIRM, READ, TOUCH, CORE))
    assert desk.waiting  # the second undo is still on its way
    told(desk, Done(), asks=(CONFIRM, READ, TOUCH, CORE))
    assert not desk.waiting


def test_a_number_that_is_not_in_the_log_is_refused_and_nothing_is_taken_back() -> None:
    desk = desk_with(CONFIRM)
    told(desk, Done(), asks=(CONFIRM, READ))
    press(desk, "r", "r")
    typed(desk, "7")
    assert desk.echo() == (False, "Give the number of an answer that still stands.")
    assert press(desk, "enter", None) == []
    assert desk.question is None
    press(desk, "escape", None)
    assert not desk.writing


def test_pasted_lines_wait_in_the_entry_line_and_never_become_commands() -> None:
    desk = desk_with(READ)
    paste(desk, "383.6\nu\nq\n")
    assert desk.line.text == "383.6;u;q"
    assert not desk.waiting
    sound, _ = desk.echo()
    assert not sound


def test_on_the_virtual_set_its_owner_does_what_is_asked_by_one_key_and_nowhere_else() -> None:
    assert press(desk_with(TOUCH, serves=EVERYTHING, turnable=True), "a", "a") == [Do("rehearse")]
    desk = desk_with(TOUCH)
    assert press(desk, "a", "a") == []
    assert "Only the virtual set" in desk.message


def test_a_flood_is_thinned_to_a_few_values_and_its_extremes_are_among_them() -> None:
    flood = samples(*[385_620.0 + at % 7 for at in range(500)], 400_000.0, *[385_620.0] * 499)
    kept = thinned(flood)
    assert len(kept) <= 12
    assert max(row.value for row in kept) == 400_000.0
    assert kept[-1] == flood[-1]
    assert [row.at_s for row in kept] == sorted(row.at_s for row in kept)
    assert thinned(flood[:5]) == flood[:5]


def test_which_arrow_key_raises_the_reading_is_told_once_it_was_seen() -> None:
    desk = desk_with(TOUCH, serves=EVERYTHING, turnable=True)
    desk.sample(samples(390_000.0))
    assert "try one" in entry_row(desk, 80)
    press(desk, "left", None)
    assert desk.stream is not None
    desk.stream.stands(-1 / 16, -1 / 16)
    desk.sample(samples(391_000.0, first_s=11.0))
    assert "Left raises, Right lowers; press: a small part; Shift finer   Enter: take it" in entry_row(desk, 80)
    assert "Left raises, Right lowers the reading; press: a small part; Shift finer" in entry_row(desk, 120)


def next_adjuster(desk: Desk, at_s: float) -> None:
    """What was asked is taken, and another adjuster is asked for then."""
    asks = (TOUCH, CORE, PEAK)
    engine = ScriptedEngine(asks)
    history = History().with_entry(engine.entry_for(desk.procedure, History(), Reading(385_620.0), 1.0, "0"))
    desk.tell(history, engine.survey(desk.procedure, history), at_s)


def test_an_arrow_key_still_on_its_way_does_not_turn_the_next_adjuster() -> None:
    desk = desk_with(TOUCH, serves=EVERYTHING, turnable=True)
    assert press(desk, "right", None, 99.9)
    next_adjuster(desk, 100.0)
    assert press(desk, "right", None, 100.1) == []
    assert desk.message.startswith("New: antenna-coil.")
    assert desk.stream is not None
    assert not desk.stream.handled
    assert press(desk, "left", None, 101.1) == [Turn("antenna-coil", -1 / 16)]


def test_an_arrow_key_that_is_held_down_turns_the_next_adjuster_only_once_it_was_let_go() -> None:
    desk = desk_with(TOUCH, serves=EVERYTHING, turnable=True)
    next_adjuster(desk, 100.0)
    assert not any(press(desk, "right", None, 100.0 + 0.05 * at) for at in range(60))
    assert press(desk, "right", None, 103.5) == [Turn("antenna-coil", 1 / 16)]


def test_arrow_keys_go_on_at_once_where_the_same_adjuster_is_asked_for_again() -> None:
    desk = desk_with(CORE, serves=EVERYTHING, turnable=True)
    engine = ScriptedEngine((CORE, PEAK))
    history = History().with_entry(engine.entry_for(desk.procedure, History(), Reading(-6.0), 1.0, "0"))
    desk.tell(history, engine.survey(desk.procedure, history), 100.0)
    assert press(desk, "right", None, 100.1) == [Turn("antenna-coil", 1 / 16)]


@pytest.mark.parametrize(("key", "character", "said"), [("d", "d", "d"), ("pageup", None, "Pageup")])
def test_a_key_that_does_nothing_says_so_and_where_the_keys_stand(key: str, character: str | None, said: str) -> None:
    desk = desk_with(READ)
    assert press(desk, key, character) == []
    assert note_row(desk, "") == f"{said} does nothing here; the keys that do stand below, and ? shows all."
    press(desk, "escape", None)
    assert note_row(desk, "") == ""
