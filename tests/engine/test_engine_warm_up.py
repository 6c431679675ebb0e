"""Warming up: readings over time, how long it will still take, and what is held."""

import math
import re

import pytest

from aligner.engine.answers import Answer, Cannot, Reading, SetAside
from aligner.engine.asks import Ask, Confirm, Read
from aligner.engine.ledger import ledger_of
from aligner.estimate.events import Sighted
from tests.engine.strip_bench import COVERAGE, StripBench, procedure_of

WARM = """\
[[step]]
id = "warm"
kind = "warm-up"
point = { volts = "2 V", received = "87.5 MHz" }
drift = "5 kHz"
in = "600 s"
every = "120 s"
"""
END_HZ, SWING_HZ, TAU_S = 98.2e6, 150e3, 420.0


def warming(bench: StripBench, swing_hz: float = SWING_HZ) -> StripBench:
    """The oscillator settles with seven minutes, and each reading wavers by 200 Hz to and fro."""

    def own(ask: Ask) -> Answer | None:
        if not (isinstance(ask, Read) and ask.step == "warm"):
            return None
        at = bench.every_s * len(bench.history.entries)
        waver = 200.0 * (-1) ** len(bench.history.entries)
        return Reading(END_HZ + swing_hz * math.exp(-at / TAU_S) + waver)

    bench.own = own
    bench.every_s = 120.0
    return bench


def test_it_is_held_when_what_is_left_of_the_drift_is_inside_the_limit_and_not_before() -> None:
    bench = warming(StripBench(procedure_of(WARM)))
    known = bench.run()
    assert known.aligned
    last_s = bench.history.entries[-1].at_s
    left = SWING_HZ * (math.exp(-last_s / TAU_S) - math.exp(-(last_s + 600.0) / TAU_S))
    report = bench.step("warm")
    assert left <= 5e3
    assert report.error is not None
    assert report.plus_minus is not None
    assert abs(report.error - left) <= report.plus_minus
    assert "time constant of 7 min" in report.why
    ready_s = TAU_S * math.log(SWING_HZ * (1 - math.exp(-600.0 / TAU_S)) / 5e3)
    assert last_s < ready_s + 6 * 120.0


def test_it_says_how_many_minutes_are_left() -> None:
    bench = warming(StripBench(procedure_of(WARM)))
    bench.run(until=lambda ask: len(bench.history.entries) >= 8)
    ask = bench.known.ask
    assert ask is not None
    found = re.search(r"About (\d+) min left, give or take (\d+)", ask.why)
    assert found, ask.why
    at = bench.history.entries[-1].at_s
    ready_s = TAU_S * math.log(SWING_HZ * (1 - math.exp(-600.0 / TAU_S)) / 5e3)
    assert abs(int(found[1]) - (ready_s - at) / 60) <= int(found[2]) + 1
    assert "2 min after the last reading" in ask.text
    assert "do not leave a warming set alone" in ask.text


def test_readings_of_a_cold_set_teach_nothing_of_its_circuits() -> None:
    bench = warming(StripBench(procedure_of(WARM, COVERAGE)))
    bench.run(until=lambda ask: ask.step == "coverage")
    events = ledger_of(bench.procedure, bench.history).events
    assert not [event for event in events if isinstance(event, Sighted)]
    assert bench.run().aligned


def test_a_set_that_stands_still_is_held_after_five_readings_far_enough_apart() -> None:
    bench = warming(StripBench(procedure_of(WARM)), swing_hz=0.0)
    assert bench.run().aligned
    assert len(bench.asks) == 5
    assert "stands still" in bench.step("warm").why


def test_five_readings_in_a_few_seconds_do_not_show_that_it_stands_still() -> None:
    bench = warming(StripBench(procedure_of(WARM)), swing_hz=0.0)
    bench.every_s = 1.0
    bench.run(until=lambda ask: len(bench.history.entries) >= 6)
    assert bench.step("warm").state == "to-do"


def test_a_clock_that_stands_still_does_not_ask_for_ever() -> None:
    bench = warming(StripBench(procedure_of(WARM)))
    bench.every_s = 0.0
    known = bench.run()
    assert not known.aligned
    assert bench.step("warm").state == "at-limit"


def test_it_is_cut_short_by_setting_it_aside_and_is_then_not_held() -> None:
    bench = warming(StripBench(procedure_of(WARM, COVERAGE)))
    bench.run(until=lambda ask: len(bench.history.entries) >= 3)
    bench.say(SetAside("ran all morning"))
    assert (bench.step("warm").state, bench.step("warm").why) == ("set-aside", "ran all morning")
    known = bench.run()
    assert bench.step("coverage").state == "held"
    assert not known.aligned


def test_a_later_reading_at_the_same_place_is_compared_with_the_settle() -> None:
    bench = warming(StripBench(procedure_of(WARM, COVERAGE)))
    bench.run(until=lambda ask: ask.step == "coverage")
    assert "later" not in bench.step("warm").why
    bench.say(Reading(END_HZ - 40e3))
    why = bench.step("warm").why
    assert re.search(r"2 min later it read 4\d(\.\d+)? kHz below what that gives, more than was allowed", why), why
    assert bench.step("warm").state == "held"


def test_an_oscillator_that_cannot_be_read_ends_the_step_at_its_limit() -> None:
    bench = StripBench(procedure_of(WARM))
    bench.say(Cannot("no-reading"))
    assert bench.step("warm").state == "at-limit"
    assert not any(isinstance(ask, Confirm) for ask in bench.asks)
    assert bench.known.ask is None


@pytest.mark.parametrize("slip", [10.0, 0.1])
def test_a_slipped_decimal_is_questioned(slip: float) -> None:
    bench = warming(StripBench(procedure_of(WARM)))
    assert bench.say(Reading(98.35e6 * slip)).doubt
    assert bench.step("warm").why == "not read yet"
