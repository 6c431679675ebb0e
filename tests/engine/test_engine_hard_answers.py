"""Answers that cannot be, or that cannot be had: the job stays whole, nothing is made up, and it comes to an end."""

import pytest

from aligner.engine.answers import Cannot, Done, Reading, Result, SetAside, Undo
from aligner.engine.asks import Confirm, Read, Touch
from aligner.engine.run import survey
from aligner.errors import AnswerError
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM, MW, read

FAULTS = {"oscillator": (0.06, -0.05, 0.0, 0.0), "antenna": (-0.05, 0.06, 0.0, 0.0)}
BY_LEVEL = FM.replace('["resonance", "level"]', '["level"]')


def said(talk: Conversation, answer: Result) -> None:
    """Said and taken, or refused; either leaves a job that can be gone on with."""
    try:
        talk.say(answer)
    except AnswerError:
        return
    assert survey(talk.procedure, talk.history).steps


@pytest.mark.parametrize("value", [0.0, -1.0])
@pytest.mark.parametrize("honest", [0, 2])
def test_a_frequency_that_cannot_be_leaves_the_job_whole(value: float, honest: int) -> None:
    talk = Conversation(read(FM))
    for _ in range(honest):
        talk.honest()
    said(talk, Reading(value, insist=True))


@pytest.mark.parametrize("value", [0.0, -1.0])
def test_a_frequency_that_cannot_be_at_an_end_of_travel_leaves_the_job_whole(value: float) -> None:
    talk = Conversation(read(FM), FAULTS)
    talk.work_until(lambda ask: isinstance(ask, Touch))
    said(talk, Cannot("end-of-travel", value))


def test_a_frequency_beyond_all_measure_leaves_the_job_whole() -> None:
    said(Conversation(read(FM)), Reading(1e200, insist=True))


def test_an_oscillator_that_a_false_reading_holds_at_one_frequency_leaves_the_places_where_they_are() -> None:
    talk = Conversation(read(FM), FAULTS)
    talk.say(Reading(972_111_104.8, insist=True))
    talk.say(SetAside("the counter counts something else"))
    assert isinstance(talk.ask, Read)
    assert talk.ask.point.received == 90e6


def test_a_reading_near_the_greatest_number_is_refused_with_a_reason() -> None:
    with pytest.raises(AnswerError, match="cannot be: read the instrument again"):
        Conversation(read(FM)).say(Reading(1.7e308))


def test_a_level_beyond_all_measure_leaves_the_job_whole() -> None:
    talk = Conversation(read(BY_LEVEL), FAULTS)
    talk.work_until(lambda ask: isinstance(ask, Read) and ask.quantity == "level")
    said(talk, Reading(-4000.0, insist=True))


def test_a_wild_reading_at_an_end_of_travel_is_questioned() -> None:
    talk = Conversation(read(FM), FAULTS)
    talk.work_until(lambda ask: isinstance(ask, Touch))
    assert isinstance(talk.ask, Touch)
    assert talk.say(Cannot("end-of-travel", talk.ask.aim.value / 1e6)).doubt


@pytest.mark.parametrize("text", [FM, MW], ids=["fm", "mw"])
def test_a_set_of_which_nothing_was_seen_is_never_called_aligned(text: str) -> None:
    talk = Conversation(read(text))
    for _ in range(60):
        if talk.known.ask is None:
            break
        talk.say(Done() if isinstance(talk.ask, Confirm) else Cannot("no-reading"))
    assert talk.known.ask is None
    assert not talk.known.aligned


def test_a_touch_where_nothing_can_be_read_is_not_asked_for_again_at_that_point() -> None:
    talk = Conversation(read(FM), FAULTS)
    first = talk.work_until(lambda ask: isinstance(ask, Touch))
    assert isinstance(first, Touch)
    talk.say(Cannot("no-reading"))
    again = talk.ask
    assert not (isinstance(again, Touch) and (again.adjuster, again.point) == (first.adjuster, first.point))


def test_undo_takes_back_the_newest_answer_that_was_taken() -> None:
    talk = Conversation(read(FM))
    first = talk.ask
    talk.say(Reading(9.7e6))
    talk.honest()
    talk.honest()
    talk.say(Undo())
    talk.say(Undo())
    assert isinstance(first, Read)
    assert isinstance(talk.ask, Read)
    assert talk.ask.point == first.point
    with pytest.raises(AnswerError, match="nothing to take back"):
        talk.say(Undo())
