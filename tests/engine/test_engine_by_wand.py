"""Circuits that are seen by a wand or by a stage voltage alone."""

import numpy as np
import pytest

from aligner.engine.answers import Trend, WandSeen
from aligner.engine.asks import Read, Wand
from aligner.engine.bench import SURE, Standing, Target
from aligner.engine.instruments import received_spot
from aligner.engine.step_reports import doubt_words
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM, read

FAULTS = {"oscillator": (0.06, -0.05, 0.0, 0.0), "antenna": (-0.05, 0.06, 0.0, 0.0)}
BY_WAND = FM.replace('["resonance", "level"]', '["wand"]')


def test_a_bench_that_has_only_a_wand_is_asked_for_no_resonance() -> None:
    talk = Conversation(read(BY_WAND), FAULTS)
    tests = 0
    for _ in range(60):
        ask = talk.known.ask
        if ask is None:
            break
        tests += isinstance(ask, Wand)
        assert not (isinstance(ask, Read) and ask.quantity == "resonance")
        talk.honest()
    assert talk.known.ask is None
    assert tests > 0


@pytest.mark.parametrize("fault", [-0.06, 0.06])
def test_a_circuit_that_is_off_either_way_is_brought_within_tolerance_by_the_wand(fault: float) -> None:
    talk = Conversation(read(BY_WAND), {"antenna": (fault, -fault, 0.0, 0.0)})
    talk.work_to_the_end()
    tolerance = talk.report("antenna").tolerance
    assert tolerance is not None
    for received_hz in (90e6, 98e6, 106e6):
        assert abs(talk.set.hz("antenna", received_hz) - received_hz) < tolerance


def test_a_bench_that_sees_by_a_stage_voltage_alone_is_asked_for_no_resonance() -> None:
    talk = Conversation(read(FM.replace('["resonance", "level"]', '["stage-voltage"]')), FAULTS)
    for _ in range(60):
        ask = talk.known.ask
        if ask is None:
            break
        assert not (isinstance(ask, Read) and ask.quantity == "resonance")
        talk.honest()
    assert talk.known.ask is None


def in_words(talk: Conversation) -> None:
    """Answer honestly to the end, but wand tests in words, as from a meter read at a glance."""

    def sign(level: float, plain: float) -> Trend:
        return "same" if abs(level - plain) < 0.1 else "up" if level > plain else "down"

    for _ in range(150):
        ask = talk.known.ask
        if ask is None:
            return
        if isinstance(ask, Wand):
            seen = talk.set.answer(ask)
            assert isinstance(seen, WandSeen)
            assert not isinstance(seen.ferrite, str)
            assert not isinstance(seen.brass, str)
            assert seen.none is not None
            talk.say(WandSeen(sign(seen.ferrite, seen.none), sign(seen.brass, seen.none)))
        else:
            talk.honest()
    raise AssertionError("it does not end")


@pytest.mark.parametrize("fault", [-0.06, -0.02, 0.03, 0.06])
def test_a_wand_that_is_told_in_words_leads_on_to_peaks_and_levels_and_they_to_the_tolerance(fault: float) -> None:
    talk = Conversation(read(BY_WAND), {"antenna": (fault, -fault, 0.0, 0.0)})
    in_words(talk)
    report = talk.report("antenna")
    assert report.state == "held"
    assert report.tolerance is not None
    for received_hz in (90e6, 98e6, 106e6):
        assert abs(talk.set.hz("antenna", received_hz) - received_hz) < report.tolerance


def test_after_the_first_word_of_a_wand_no_more_than_one_test_a_point_is_asked_for() -> None:
    talk = Conversation(read(BY_WAND), FAULTS)
    in_words(talk)
    points = [entry.ask.point for entry in talk.history.live() if isinstance(entry.ask, Wand)]
    assert points
    assert len(points) == len(set(points))


def test_a_step_that_ends_in_doubt_says_how_far_off_it_may_be_where_that_is_most_and_what_would_tell() -> None:
    targets = tuple(Target(*received_spot(hz), hz, 150e3) for hz in (90e6, 98e6, 106e6))
    standing = Standing(np.array([120e3, 0.0, -50e3]), np.array([10e3, 10e3, 200e3]), np.full(3, 150e3))
    most_hz = 50e3 + SURE * 200e3
    said = doubt_words(standing, targets, "wand")
    assert said.startswith("believed within 150 kHz, but at 106 MHz it may be as much as ")
    assert f"{round(most_hz / 1e3, -1):.0f} kHz off" in said
    assert said.endswith("by wand no more can be told: another way of seeing would tell it")
