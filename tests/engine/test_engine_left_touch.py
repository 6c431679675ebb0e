"""A touch left in the middle: its adjuster has been turned already, and no reading says how far."""

import pytest

from aligner.engine.answers import Answer, Cannot, GoTo, SetAside, SwitchWay, Undo
from aligner.engine.asks import Peak, Read, Touch
from aligner.engine.progress import progress
from aligner.errors import AnswerError
from tests.engine.ideal_set import Conversation
from tests.engine.test_engine_undo import BY_LEVEL, at_the_first_touch, moves, sightings, talk_about

LEFT_OPEN = (Undo(turned=True), GoTo("antenna", turned=True), SetAside("later", turned=True))


def half_turned(talk: Conversation) -> str:
    """The adjuster of the open touch, turned part of its way before its ask is left."""
    ask = talk.ask
    assert isinstance(ask, Touch)
    talk.set.turn(ask.adjuster, 0.4)
    return ask.adjuster


@pytest.mark.parametrize("leaving", LEFT_OPEN)
def test_a_touch_left_with_its_adjuster_turned_already_leaves_a_movement_of_unknown_size(leaving: Answer) -> None:
    talk = at_the_first_touch()
    adjuster = half_turned(talk)
    talk.say(leaving)
    assert [(move.adjuster, move.turns) for move in moves(talk)] == [(adjuster, None)]
    assert talk.known.touches == 1


@pytest.mark.parametrize("leaving", [Undo(), GoTo("antenna"), SetAside("later")])
def test_a_touch_left_before_anything_was_turned_leaves_no_movement(leaving: Answer) -> None:
    talk = at_the_first_touch()
    talk.say(leaving)
    assert moves(talk) == []
    assert talk.known.touches == 0


@pytest.mark.parametrize("leaving", [SwitchWay("level", turned=True), Cannot("no-reading", turned=True)])
def test_another_way_of_seeing_in_the_middle_of_a_touch_leaves_a_movement_too(leaving: Answer) -> None:
    talk = talk_about()
    talk.work_until(lambda ask: isinstance(ask, Touch) and ask.step == "antenna")
    before = len(moves(talk))
    adjuster = half_turned(talk)
    talk.say(leaving)
    assert [(move.adjuster, move.turns) for move in moves(talk)[before:]] == [(adjuster, None)]


def test_taking_back_what_left_a_touch_does_not_take_back_its_movement() -> None:
    talk = at_the_first_touch()
    half_turned(talk)
    talk.say(GoTo("antenna", turned=True))
    talk.say(Undo())
    assert len(moves(talk)) == 1
    talk.say(Undo())
    assert len(moves(talk)) == 1


def test_taking_back_what_left_a_touch_and_saying_that_nothing_was_turned_takes_its_movement_back() -> None:
    talk = at_the_first_touch()
    talk.say(GoTo("antenna", turned=True))
    talk.say(Undo(moved=False))
    assert moves(talk) == []


@pytest.mark.parametrize("leaving", [*LEFT_OPEN, SwitchWay("level", turned=True), Cannot("no-reading", turned=True)])
def test_where_nothing_is_to_be_turned_nothing_can_have_been_turned(leaving: Answer) -> None:
    talk = talk_about()
    talk.honest()
    history = talk.history
    with pytest.raises(AnswerError, match="no adjuster is being turned"):
        talk.say(leaving)
    assert talk.history == history


def test_an_end_of_travel_needs_no_word_that_something_was_turned() -> None:
    talk = at_the_first_touch()
    with pytest.raises(AnswerError, match="says by itself"):
        talk.say(Cannot("end-of-travel", turned=True))


@pytest.mark.parametrize("leaving", LEFT_OPEN)
def test_a_job_goes_on_to_its_end_after_a_touch_that_was_left_half_turned(leaving: Answer) -> None:
    talk = at_the_first_touch()
    half_turned(talk)
    talk.say(leaving)
    talk.say(GoTo("coverage")) if isinstance(leaving, SetAside) else None
    known = talk.work_to_the_end()
    assert [entry.doubt for entry in talk.history.entries if entry.doubt] == []
    assert known.aligned
    assert known.touches <= 8  # the half-turned visit is one of them


def test_the_reading_that_returns_after_a_half_turned_touch_is_believed_and_the_model_follows_it() -> None:
    talk = at_the_first_touch()
    half_turned(talk)
    talk.say(Undo(turned=True))
    place = talk.ask.point if isinstance(talk.ask, Read) else None
    assert place is not None
    assert not talk.honest().doubt
    assert len(sightings(talk)) == 2
    assert isinstance(talk.ask, Read)  # the other point too was read before the adjuster was moved
    assert talk.ask.point != place
    assert not talk.honest().doubt
    assert isinstance(talk.ask, Touch)


def test_after_a_peak_that_was_turned_on_from_and_left_nothing_is_led_on_from_that_peak() -> None:
    talk = talk_about(BY_LEVEL)
    talk.work_until(lambda ask: isinstance(ask, Touch) and ask.step == "antenna")
    ask = talk.ask
    assert isinstance(ask, Touch)
    half_turned(talk)
    talk.say(SetAside("later", turned=True))
    talk.say(Undo())
    assert isinstance(talk.ask, Read | Peak)
    assert talk.work_to_the_end().aligned


def test_points_that_are_read_anew_say_which_adjuster_was_turned() -> None:
    talk = at_the_first_touch()
    adjuster = half_turned(talk)
    talk.say(Undo(turned=True))
    assert talk.report("coverage").why == f"0 of 2 points read, for {adjuster} was turned"


def test_the_touches_of_the_steps_add_up_to_those_of_the_job_with_what_was_taken_back_or_left() -> None:
    talk = at_the_first_touch()
    half_turned(talk)
    talk.say(Undo(turned=True))
    talk.work_until(lambda ask: isinstance(ask, Touch))
    talk.honest()
    talk.say(Undo())
    known = talk.known
    costs = progress(talk.procedure, talk.history, known).steps
    assert sum(cost.touches for cost in costs) == known.touches >= 2
