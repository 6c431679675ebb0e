"""Touches between looks: past a peak by the level, a peak once more, a core past the middle of its coil."""

from dataclasses import dataclass

import numpy as np
import pytest

from aligner.engine.answers import Cannot, Reading
from aligner.engine.asks import Aim, Ask, Peak, Read, Touch, Wand
from aligner.engine.bench import Bench, stops_of
from aligner.engine.ledger import ledger_of
from tests.engine.ideal_set import Conversation, Q
from tests.small_sets import FM, read

BY_WAND = read(FM.replace('["resonance", "level"]', '["wand"]'))
BY_STAGE = read(FM.replace('["resonance", "level"]', '["stage-voltage"]'))


def past_a_peak(ask: Ask) -> bool:
    return isinstance(ask, Touch) and ask.aim.quantity == "level"


def nudge(talk: Conversation, peak: Peak | Touch, turns: float) -> None:
    """The hand has left the adjuster so far off."""
    talk.set.answer(
        Touch(id=0, step=peak.step, text="", adjuster=peak.adjuster, circuit=peak.circuit, point=peak.point,
              aim=Aim("turns", turns, 0.1))
    )  # fmt: skip


@dataclass(frozen=True)
class AtItsLast:
    """A conversation whose circuit has just been peaked for the last time."""

    talk: Conversation
    peak: Peak


def at_its_last_peak() -> AtItsLast:
    talk = Conversation(BY_WAND, {"antenna": (-0.05, 0.06, 0.0, 0.0)})
    talk.work_until(past_a_peak)
    ask = talk.work_until(lambda ask: isinstance(ask, Peak))
    assert isinstance(ask, Peak)
    return AtItsLast(talk, ask)


def test_past_a_peak_the_level_falls_as_far_as_the_way_that_is_left_to_go() -> None:
    talk = Conversation(BY_WAND, {"antenna": (0.06, -0.06, 0.0, 0.0)})
    ask = talk.work_until(past_a_peak)
    assert isinstance(ask, Touch)
    last = talk.history.entries[-2]
    assert isinstance(last.ask, Peak)
    assert (ask.adjuster, ask.point) == (last.ask.adjuster, last.ask.point)  # the tool is not taken away
    assert isinstance(last.answer, Reading)
    widths = np.sqrt(10.0 ** ((last.answer.value - ask.aim.value) / 10.0) - 1.0)
    assert widths / Q == pytest.approx(0.06, rel=0.25)  # the coil is off by so much of ln L
    assert ask.direction == "less"


def test_a_peak_that_the_wand_finds_missed_is_made_once_more_in_the_same_visit() -> None:
    last = at_its_last_peak()
    touches = last.talk.known.touches
    met = last.talk.set.answer(last.peak)
    assert isinstance(met, Reading)
    nudge(last.talk, last.peak, 0.03)
    last.talk.say(met)
    look = last.talk.ask
    assert isinstance(look, Wand)
    assert look.point == last.peak.point
    last.talk.honest()
    again = last.talk.ask
    assert isinstance(again, Peak)
    assert (again.adjuster, again.point) == (last.peak.adjuster, last.peak.point)
    assert "once more" in again.text
    last.talk.honest()
    last.talk.work_to_the_end()
    assert last.talk.known.touches == touches + 1
    assert last.talk.known.aligned


def test_a_peak_that_was_met_is_not_made_once_more() -> None:
    last = at_its_last_peak()
    last.talk.honest()
    assert isinstance(last.talk.ask, Wand)
    last.talk.honest()
    assert not isinstance(last.talk.ask, Peak)


def test_a_hand_that_always_misses_is_not_asked_for_ever() -> None:
    last = at_its_last_peak()
    peaks = 0
    for _ in range(40):
        ask = last.talk.known.ask
        if ask is None:
            break
        last.talk.honest()
        if isinstance(ask, Peak) and (ask.adjuster, ask.point) == (last.peak.adjuster, last.peak.point):
            nudge(last.talk, ask, 0.05 if peaks % 2 else -0.05)
            peaks += 1
    assert last.talk.known.ask is None
    assert peaks <= 6  # three in one visit; another visit may follow


def past_the_middle() -> Conversation:
    """A core that met its extreme on the way to the peak, and comes to the peak on the other side of it."""
    talk = Conversation(BY_WAND, {"antenna": (0.04, -0.2, 0.0, 0.0)})
    first = talk.work_until(lambda ask: isinstance(ask, Peak))
    assert isinstance(first, Peak)
    nudge(talk, first, 1.5)  # to the middle of the coil: 0.06 of ln L more
    level = talk.set.answer(Read(id=0, step=first.step, text="", quantity="level", circuit=first.circuit,
                                 point=first.point, generator=first.generator))  # fmt: skip
    assert isinstance(level, Reading)
    talk.say(Cannot("end-of-travel", level.value, 1.5))
    trimmer = talk.work_until(lambda ask: isinstance(ask, Peak))
    assert isinstance(trimmer, Peak)
    assert trimmer.adjuster != first.adjuster
    talk.honest()
    coil = talk.work_until(lambda ask: isinstance(ask, Peak) and ask.adjuster == first.adjuster)
    answer = talk.set.answer(coil)
    assert isinstance(answer, Reading)
    assert answer.turns is not None
    talk.say(Reading(answer.value, abs(answer.turns)))  # further in, though the inductance falls
    return talk


def test_past_the_middle_of_its_coil_a_core_is_turned_on_the_way_it_came() -> None:
    talk = past_the_middle()
    ask = talk.work_until(past_a_peak)
    assert isinstance(ask, Touch)
    assert ask.direction is None
    assert ask.amount is None
    assert "the way you came to it" in ask.text


def test_with_the_stage_held_at_a_voltage_an_adjuster_is_peaked_where_another_will_bring_the_set_right() -> None:
    talk = Conversation(BY_STAGE, {"antenna": (0.06, -0.06, 0.0, 0.0)})
    ask = talk.work_until(lambda ask: isinstance(ask, Touch) and ask.aim.quantity == "volts")
    assert isinstance(ask, Touch)
    held = [e for e in talk.history.entries if isinstance(e.ask, Read) and e.ask.quantity == "volts"]
    assert held  # looks come before it
    assert "alone" in ask.text
    talk.honest()
    talk.work_to_the_end()
    assert talk.known.aligned
    assert talk.known.touches <= 4


def test_an_end_lies_on_the_side_to_which_the_circuit_was_seen_to_go_whatever_was_asked_for() -> None:
    talk = Conversation(BY_WAND, {"antenna": (0.06, -0.06, 0.0, 0.0)})
    ask = talk.work_until(past_a_peak)
    assert isinstance(ask, Touch)
    assert ask.direction == "less"
    nudge(talk, ask, 0.5)
    talk.say(Cannot("end-of-travel", -1.0, 0.5))
    for _ in range(3):
        assert isinstance(talk.ask, Wand)
        talk.honest()
    bench = Bench(BY_WAND, ledger_of(BY_WAND, talk.history))
    stop = stops_of(bench, bench.belief("").circuits["antenna"], ask.adjuster)[0]
    assert stop.toward == "more"
