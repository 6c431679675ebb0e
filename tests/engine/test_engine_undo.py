"""Doubt, undo, what cannot be had, and the numbers of asks."""

from dataclasses import replace

import msgspec
import pytest

from aligner.engine.answers import Cannot, Note, Reading, Remark, SetAside, Sitting, SwitchWay, Undo
from aligner.engine.asks import Peak, Point, Read, Touch, Turning
from aligner.engine.ledger import ledger_of
from aligner.engine.run import entry_for, survey
from aligner.errors import AnswerError
from aligner.estimate.events import Moved, Sighted
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM, MW, read, read_back

FAULTS = {"oscillator": (0.06, -0.05, 0.0, 0.0), "antenna": (-0.05, 0.06, 0.0, 0.0)}
BY_LEVEL = FM.replace('["resonance", "level"]', '["level"]')


def talk_about(text: str = FM) -> Conversation:
    return Conversation(read(text), FAULTS)


def at_the_first_touch(text: str = FM) -> Conversation:
    talk = talk_about(text)
    talk.work_until(lambda ask: isinstance(ask, Touch))
    return talk


def moves(talk: Conversation) -> list[Moved]:
    return [e for e in ledger_of(talk.procedure, talk.history).events if isinstance(e, Moved)]


def sightings(talk: Conversation) -> list[Sighted]:
    return [e for e in ledger_of(talk.procedure, talk.history).events if isinstance(e, Sighted)]


@pytest.mark.parametrize("factor", [10.0, 0.1, 1e-3, 64.0])
def test_a_reading_that_cannot_be_right_is_questioned_and_the_ask_stays(factor: float) -> None:
    talk = talk_about()
    ask = talk.ask
    answer = talk.set.answer(ask)
    assert isinstance(answer, Reading)
    entry = talk.say(Reading(answer.value * factor))
    assert entry.doubt
    assert talk.known.doubt == entry.doubt
    assert talk.ask == ask
    assert sightings(talk) == []
    assert talk.known.readings == 0


def test_a_reading_that_no_counter_can_show_is_refused_and_nothing_is_kept() -> None:
    talk = talk_about()
    ask, history = talk.ask, talk.history
    answer = talk.set.answer(ask)
    assert isinstance(answer, Reading)
    with pytest.raises(AnswerError, match="cannot be: read the instrument again"):
        talk.say(Reading(answer.value * 1e6))
    assert (talk.ask, talk.history) == (ask, history)


def test_a_questioned_reading_is_taken_when_it_is_said_again() -> None:
    talk = talk_about()
    talk.say(Reading(9.7e6))
    assert not talk.say(Reading(9.7e6)).doubt
    assert talk.ask.id == 2
    assert len(sightings(talk)) == 1
    assert talk.known.readings == 1


def test_a_questioned_reading_is_taken_at_once_when_the_person_insists() -> None:
    talk = talk_about()
    assert not talk.say(Reading(9.7e6, insist=True)).doubt
    assert len(sightings(talk)) == 1


def test_another_improbable_reading_is_questioned_anew_and_a_right_one_taken() -> None:
    talk = talk_about()
    talk.say(Reading(9.7e6))
    assert talk.say(Reading(3.1e6)).doubt
    assert not talk.honest().doubt
    assert talk.known.doubt == ""


def test_words_between_do_not_make_a_second_answer_the_first_again() -> None:
    talk = talk_about()
    talk.say(Reading(9.7e6))
    talk.say(Note("the counter is a new one"))
    assert not talk.say(Reading(9.7e6)).doubt


def test_a_touch_that_ended_nowhere_near_its_aim_is_questioned() -> None:
    talk = at_the_first_touch()
    ask = talk.ask
    assert isinstance(ask, Touch)
    assert talk.say(Reading(ask.aim.value * 1.1)).doubt
    assert moves(talk) == []
    assert talk.known.touches == 0
    assert not talk.say(Reading(ask.aim.value * 1.001)).doubt


def test_an_undone_reading_is_gone_and_asked_for_again_under_a_new_number() -> None:
    talk = talk_about()
    first = talk.ask
    talk.honest()
    second = talk.ask
    talk.say(Undo())
    assert sightings(talk) == []
    assert msgspec.structs.replace(talk.ask, id=first.id) == first
    assert talk.ask.id == second.id + 1


def test_readings_that_were_taken_back_are_still_counted_as_work() -> None:
    talk = talk_about()
    talk.honest()
    talk.say(Undo())
    assert talk.known.readings == 1


def test_an_undone_touch_leaves_a_movement_of_unknown_size() -> None:
    talk = at_the_first_touch()
    before = sightings(talk)
    talk.honest()
    talk.say(Undo())
    assert [(move.adjuster, move.turns) for move in moves(talk)] == [("oscillator-coil", None)]
    assert sightings(talk) == before
    assert talk.known.touches == 1
    assert isinstance(talk.ask, Read | Touch)


def test_an_undone_touch_where_nothing_was_turned_leaves_nothing() -> None:
    talk = at_the_first_touch()
    ask = talk.ask
    talk.honest()
    talk.say(Undo(moved=False))
    assert moves(talk) == []
    assert msgspec.structs.replace(talk.ask, id=ask.id) == ask
    assert talk.known.touches == 1


def test_an_undone_touch_makes_what_was_known_uncertain() -> None:
    kept, undone = at_the_first_touch(), at_the_first_touch()
    for talk in (kept, undone):
        talk.honest()
    undone.say(Undo())
    sure, vague = kept.report("coverage").plus_minus, undone.report("coverage").plus_minus
    assert vague is None or (sure is not None and vague > 5.0 * sure)


def test_an_undone_peak_keeps_its_movement_without_its_turns() -> None:
    talk = talk_about(BY_LEVEL)
    talk.work_until(lambda ask: isinstance(ask, Peak) and ask.adjuster == "antenna-coil")
    talk.honest()
    assert moves(talk)[-1].turns is not None
    talk.say(Undo())
    assert moves(talk)[-1].adjuster == "antenna-coil"
    assert moves(talk)[-1].turns is None


def test_undo_upon_undo_goes_back_to_the_start_and_then_there_is_nothing_left() -> None:
    talk = talk_about()
    first = talk.ask
    for _ in range(2):
        talk.honest()
    for _ in range(2):
        talk.say(Undo())
    assert msgspec.structs.replace(talk.ask, id=first.id) == first
    with pytest.raises(AnswerError, match="nothing to take back"):
        talk.say(Undo())


def test_undo_passes_over_notes_and_sittings() -> None:
    talk = talk_about()
    talk.honest()
    talk.say(Note("rain"))
    talk.say(Sitting())
    talk.say(Undo())
    assert sightings(talk) == []


def test_a_step_set_aside_and_a_switched_way_can_be_taken_back() -> None:
    talk = talk_about()
    talk.work_until(lambda ask: ask.step == "antenna")
    talk.say(SwitchWay("level"))
    assert isinstance(talk.ask, Peak)
    talk.say(Undo())
    assert isinstance(talk.ask, Read)
    talk.say(SetAside("no time"))
    assert talk.known.ask is None
    talk.say(Undo())
    assert talk.report("antenna").state == "to-do"
    assert isinstance(talk.ask, Read)


def test_after_a_note_or_a_sitting_the_ask_and_its_number_are_the_same() -> None:
    talk = talk_about()
    talk.honest()
    ask = talk.ask
    talk.say(Note("it hums"))
    assert talk.ask == ask
    talk.say(Sitting())
    assert talk.ask == ask


@pytest.mark.parametrize("text", [FM, BY_LEVEL], ids=["resonance", "level"])
@pytest.mark.parametrize("said", [Note("it hums"), Sitting()])
def test_whatever_is_to_be_turned_a_note_or_a_sitting_a_week_later_words_it_the_same(text: str, said: Remark) -> None:
    talk, turned = talk_about(text), 0
    while (ask := talk.known.ask) is not None:
        if isinstance(ask, Turning):
            later = entry_for(talk.procedure, talk.history, said, talk.history.entries[-1].at_s + 7 * 86_400.0, "test")
            assert survey(talk.procedure, talk.history.with_entry(later)).ask == ask
            turned += 1
        talk.honest()
    assert turned >= 4


def test_a_switch_that_changes_nothing_of_the_open_ask_keeps_its_number() -> None:
    talk = talk_about()
    ask = talk.ask
    talk.say(SwitchWay("level"))
    assert talk.ask == ask


def test_every_taken_answer_brings_a_number_that_was_never_used() -> None:
    talk = at_the_first_touch()
    used = [entry.ask.id for entry in talk.history.entries if entry.ask]
    assert used == list(range(1, len(used) + 1))
    talk.honest()
    talk.say(Undo())
    talk.say(Undo())
    talk.honest()
    assert talk.ask.id > max(entry.ask.id for entry in talk.history.entries if entry.ask)


def test_an_adjuster_at_its_end_of_travel_is_not_asked_for_more_and_the_step_says_what_would_help() -> None:
    talk = at_the_first_touch()
    ask = talk.ask
    assert isinstance(ask, Touch)
    reading = talk.set.answer(Read(id=0, step=ask.step, text="", quantity="frequency", point=ask.point))
    assert isinstance(reading, Reading)
    talk.say(Cannot("end-of-travel", reading.value))
    talk.work_until(lambda open_ask: open_ask.step == "antenna")
    again = [e.ask for e in talk.history.entries if isinstance(e.ask, Touch) and e.ask.adjuster == ask.adjuster]
    assert all(touch.direction != ask.direction for touch in again[1:])
    report = talk.report("coverage")
    assert report.state == "at-limit"
    assert "oscillator-coil (no less)" in report.why
    assert "inductance" in report.why


def test_both_ends_of_travel_leave_an_adjuster_alone() -> None:
    talk = talk_about(BY_LEVEL)
    talk.work_until(lambda ask: isinstance(ask, Peak))
    for _ in range(40):
        if talk.known.ask is None:
            break
        if isinstance(talk.ask, Turning):
            talk.say(Cannot("end-of-travel"))
        else:
            talk.honest()
    assert talk.known.ask is None
    assert talk.report("antenna").state == "at-limit"
    peaks = [(e.ask.adjuster, e.ask.point) for e in talk.history.entries if isinstance(e.ask, Peak)]
    assert len(peaks) <= 4


def test_a_limit_names_an_end_of_travel_once_however_often_it_was_met() -> None:
    talk = talk_about(BY_LEVEL)
    while talk.known.ask is not None:
        stuck = isinstance(talk.ask, Turning) and talk.ask.adjuster == "antenna-coil"
        talk.say(Cannot("end-of-travel")) if stuck else talk.honest()
    met = [e for e in talk.history.entries if isinstance(e.answer, Cannot) and e.answer.why == "end-of-travel"]
    assert len(met) > 1
    assert talk.report("antenna").why.count("antenna-coil (no further)") == 1


def test_where_nothing_can_be_read_the_other_way_of_seeing_is_taken() -> None:
    talk = talk_about()
    talk.work_until(lambda ask: ask.step == "antenna")
    talk.say(Cannot("no-reading"))
    assert isinstance(talk.ask, Peak)
    assert talk.ask.step == "antenna"


def test_what_can_only_be_read_has_no_end_of_travel() -> None:
    talk = talk_about()
    with pytest.raises(AnswerError, match="nothing is turned"):
        talk.say(Cannot("end-of-travel"))


LIMITS = read_back(
    '{ volts = "2 V", received = "87.5 MHz", quantity = "frequency", within = "75 kHz" }',
    '{ point = "98 MHz", quantity = "resonance", circuit = "antenna", within = "200 kHz" }',
)


def test_read_back_holds_what_is_within_its_limits_and_names_what_is_not() -> None:
    talk = talk_about(FM + LIMITS)
    talk.work_until(lambda ask: ask.step == "final")
    assert talk.ask.why
    talk.honest()
    assert isinstance(talk.ask, Read)
    assert (talk.ask.quantity, talk.ask.point) == ("resonance", Point(received=98e6))
    talk.say(Reading(98.3e6))
    report = talk.report("final")
    assert report.state == "at-limit"
    assert report.error == pytest.approx(300e3)
    assert "98 MHz" in report.why


def test_a_gang_is_told_its_dial_and_a_mark_its_name() -> None:
    talk = Conversation(read(MW.replace('{ dial = "600 kHz" }', '{ mark = "left dot", received = "600 kHz" }')))
    assert isinstance(talk.ask, Read)
    assert talk.ask.point == Point(mark="left dot")
    assert "left dot" in talk.ask.text
    talk.honest()
    assert talk.ask.point == Point(dial=1000e3)
    assert "1000 kHz" in talk.ask.text or "1 MHz" in talk.ask.text
    assert len(sightings(talk)) == 1


def test_the_same_text_read_twice_is_the_same_procedure_to_the_engine() -> None:
    talk = talk_about()
    other = replace(talk.procedure)
    assert other.digest == talk.procedure.digest
    assert msgspec.json.encode(talk.ask) == msgspec.json.encode(talk_about().ask)
