"""Circuits on a meter of unknown law: peaks at two places by turns, and counted turns past them."""

from collections.abc import Mapping
from random import Random

import numpy as np
import pytest

from aligner.engine.answers import Cannot, Reading, WandSeen
from aligner.engine.asks import Peak, Touch, Wand
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM, read

UNKNOWN = FM.replace('["resonance", "level"]', '["level"]').replace('law = "log"', 'law = "unknown"')
DOWN = WandSeen("down", "down")
FAULTS = {"oscillator": (0.06, -0.05, 0.0, 0.0), "antenna": (-0.05, 0.06, 0.0, 0.0)}


def talk_with(faults: Mapping[str, tuple[float, ...]], text: str = UNKNOWN) -> Conversation:
    talk = Conversation(read(text), faults)
    talk.work_until(lambda ask: ask.step == "antenna")
    return talk


def asks_of(talk: Conversation) -> list[Peak | Touch]:
    return [e.ask for e in talk.history.entries if isinstance(e.ask, Peak | Touch) and e.ask.circuit == "antenna"]


def test_a_narrow_band_is_peaked_near_its_ends_and_turned_on_by_what_its_places_tell() -> None:
    talk = talk_with(FAULTS)
    across = talk.ask
    assert isinstance(across, Peak)
    assert across.point.received == pytest.approx(107.6e6)
    talk.honest()
    own = talk.ask
    assert isinstance(own, Peak)
    assert own.adjuster == across.adjuster == "antenna-coil"
    assert own.point.received == pytest.approx(87.9e6)
    turns = getattr(talk.honest().answer, "turns", 0.0)
    onward = talk.ask
    assert isinstance(onward, Touch)
    assert onward.aim.quantity == "turns"
    # y = (u + a) e^l: what a trimmer does goes as 1 / (u + a), in a circuit that is right as f^2 (derived).
    left = (87.9 / 107.6) ** 2
    assert onward.aim.value == pytest.approx(turns * left / (1.0 - left), abs=0.1)
    assert "the way you came" in onward.text


@pytest.mark.parametrize("seed", range(6))
def test_a_set_without_noise_comes_to_rest_truly_within_tolerance(seed: int) -> None:
    rng = Random(seed)
    faults = {name: (rng.gauss(0, 0.06), rng.gauss(0, 0.06), 0.0, 0.0) for name in ("oscillator", "antenna")}
    talk = Conversation(read(UNKNOWN), faults)
    assert talk.work_to_the_end().aligned
    off = [talk.set.hz("antenna", hz) - hz for hz in (90e6, 98e6, 106e6)]
    assert np.max(np.abs(off)) < 150e3


def test_a_circuit_is_not_held_while_the_counted_adjuster_still_turns_to_its_peak() -> None:
    talk = talk_with(FAULTS)
    turned: list[float] = []
    while talk.known.ask is not None and talk.ask.step == "antenna":
        ask = talk.ask
        answer = talk.honest().answer
        if isinstance(ask, Peak) and ask.adjuster == "antenna-coil":
            turned.append(abs(getattr(answer, "turns", 0.0)))
    assert turned[-1] <= 0.13
    last = asks_of(talk)[-2:]
    assert [(type(ask), ask.adjuster) for ask in last] == [(Peak, "antenna-coil"), (Peak, "antenna-trimmer")]
    assert 90e6 < (last[0].point.received or 0.0) < (last[1].point.received or 0.0) < 106e6


def test_where_nobody_counts_turns_peaks_alone_go_on_until_little_can_be_left() -> None:
    text = UNKNOWN.replace('kind = "ferrite-core"', 'kind = "air-coil"')
    talk = talk_with(FAULTS, text)
    while talk.known.ask is not None and talk.ask.step == "antenna":
        assert isinstance(talk.ask, Peak)
        talk.honest()
    off = [talk.set.hz("antenna", hz) - hz for hz in (90e6, 98e6, 106e6)]
    assert np.max(np.abs(off)) < 300e3
    rounds = [ask for ask in asks_of(talk) if ask.adjuster == "antenna-trimmer"]
    assert len(rounds) >= 8


def test_a_place_without_a_level_is_left_for_one_further_inside() -> None:
    talk = talk_with(FAULTS)
    talk.say(Cannot("no-reading"))
    ask = talk.ask
    assert isinstance(ask, Peak)
    assert ask.point.received is not None
    assert 90e6 < ask.point.received < 106e6


def test_a_peak_that_an_end_of_travel_stopped_tells_no_way() -> None:
    talk = talk_with(FAULTS)
    talk.say(Cannot("end-of-travel", -20.0, 2.0))
    ask = talk.ask
    assert isinstance(ask, Peak)
    assert ask.adjuster == "antenna-trimmer"
    assert ask.point.received == pytest.approx(107.6e6)
    talk.honest()
    coil = talk.ask
    assert isinstance(coil, Peak)
    assert coil.adjuster == "antenna-coil"


def test_one_count_of_turns_is_gone_on_by_less_than_it_says_for_it_may_be_rounding() -> None:
    talk = talk_with(FAULTS)
    talk.honest()
    assert isinstance(talk.ask, Peak)
    talk.say(Reading(-30.0, 0.125))
    onward = talk.ask
    assert isinstance(onward, Touch)
    assert onward.aim.value == pytest.approx(0.125)


def test_a_person_who_tells_no_turns_is_led_by_peaks_alone() -> None:
    talk = talk_with(FAULTS)
    for _ in range(6):
        ask = talk.ask
        assert isinstance(ask, Peak)
        answer = talk.set.answer(ask)
        talk.say(Reading(getattr(answer, "value", 0.0)))
    adjusters = [ask.adjuster for ask in asks_of(talk)]
    assert adjusters[2:] == ["antenna-trimmer", "antenna-coil", "antenna-trimmer", "antenna-coil"]


BY_WAND = UNKNOWN.replace('["level"]', '["wand"]')


def test_a_wand_that_tells_only_the_way_is_a_check_at_every_point_after_the_last_touch() -> None:
    talk = talk_with(FAULTS, BY_WAND)
    seen = []
    while talk.known.ask is not None and talk.ask.step == "antenna":
        seen.append(talk.ask)
        talk.say(DOWN) if isinstance(talk.ask, Wand) else talk.honest()
    looks = [n for n, ask in enumerate(seen) if isinstance(ask, Wand)]
    assert looks == list(range(len(seen) - 3, len(seen)))
    assert talk.report("antenna").state == "held"


@pytest.mark.parametrize("against", [WandSeen("up", "down"), WandSeen(-19.0, -21.0, -20.0), WandSeen("down", "up")])
def test_an_end_of_the_wand_that_raises_the_level_sends_both_to_their_peaks_once_more(against: WandSeen) -> None:
    talk = talk_with(FAULTS, BY_WAND)
    talk.work_until(lambda ask: isinstance(ask, Wand))
    talk.say(against)
    while talk.known.ask is not None and isinstance(talk.ask, Wand):
        talk.say(DOWN)
    ask = talk.ask
    assert isinstance(ask, Peak)
    assert talk.report("antenna").state == "to-do"


def test_three_levels_of_a_wand_on_a_meter_of_unknown_law_are_taken_for_ways_only() -> None:
    fits = []
    for answer in (DOWN, WandSeen(-22.0, -21.0, -20.0), WandSeen(-29.0, -26.0, -20.0)):
        talk = talk_with({}, BY_WAND)
        talk.work_until(lambda ask: isinstance(ask, Wand))
        talk.say(answer)
        report = talk.report("antenna")
        fits.append((report.error, report.plus_minus))
    assert fits[0] == fits[1] == fits[2]


def test_where_only_the_trimmer_is_counted_it_is_turned_on_past_its_peaks() -> None:
    text = UNKNOWN.replace('kind = "ferrite-core"', 'kind = "air-coil"')
    head, own = text.split('id = "antenna-trimmer"')
    talk = talk_with(FAULTS, f'{head}id = "antenna-trimmer"{own.replace("rotary-trimmer", "piston-trimmer")}')
    talk.work_to_the_end()
    assert talk.report("antenna").state == "held"
    onward = [ask for ask in asks_of(talk) if isinstance(ask, Touch)]
    assert onward
    assert {ask.adjuster for ask in onward} == {"antenna-trimmer"}
    assert all((ask.point.received or 0.0) > 100e6 for ask in onward)
    off = [talk.set.hz("antenna", hz) - hz for hz in (90e6, 98e6, 106e6)]
    assert np.max(np.abs(off)) < 150e3


def test_an_end_of_travel_near_the_end_of_the_band_leaves_the_places_further_inside() -> None:
    talk = talk_with(FAULTS)
    talk.honest()
    talk.say(Cannot("end-of-travel", -20.0, 0.5))
    while talk.known.ask is not None and talk.ask.step == "antenna":
        ask = talk.ask
        assert isinstance(ask, Peak | Touch)
        assert ask.adjuster == "antenna-trimmer" or (ask.point.received or 0.0) > 90e6
        talk.honest()
    assert talk.report("antenna").state == "held"
