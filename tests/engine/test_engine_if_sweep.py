"""The sweep of the IF strip: what it finds is the IF from then on."""

import re

import pytest

from aligner.circuits.response import Resonators, ceramic_filter
from aligner.engine.answers import Answer, Cannot, Reading, SetAside, SweepSeen, Undo
from aligner.engine.asks import Ask, Read, Sweep
from aligner.engine.run import entry_for
from aligner.procedure.reader import parse_procedure
from tests.engine.strip_bench import COVERAGE, StripBench, procedure_of

SWEEP = """\
[[step]]
id = "sweep"
kind = "if-sweep"
span = ["10.3 MHz", "11.1 MHz"]
tolerance = "10 kHz"
count = 17
"""


def test_a_centre_30_khz_off_nominal_is_found_and_named_with_its_uncertainty() -> None:
    bench = StripBench(procedure_of(SWEEP))
    bench.run()
    report = bench.step("sweep")
    assert report.state == "held"
    assert report.error == pytest.approx(30e3, abs=3e3)
    assert report.error is not None
    assert report.plus_minus is not None
    assert 0 < report.plus_minus < 10e3
    assert abs(report.error - 30e3) < report.plus_minus
    assert re.match(r"centre 10\.7(29|30)\d* MHz", report.why)


def test_coverage_aims_at_the_band_plus_the_intermediate_frequency_that_was_found() -> None:
    bench = StripBench(procedure_of(SWEEP, COVERAGE))
    known = bench.run()
    assert known.aligned
    assert bench.oscillator_hz[2.0] == pytest.approx(87.5e6 + 10.73e6, abs=20e3)
    assert bench.oscillator_hz[8.0] == pytest.approx(108e6 + 10.73e6, abs=20e3)
    asked = [ask for ask in bench.asks if ask.step == "coverage"]
    assert asked
    words = re.compile(r"IF reckoned with: 10\.7(29|30)\d* MHz as found by sweep, .* above nominal")
    assert all(words.search(ask.why) for ask in asked)


def test_coverage_that_was_held_on_the_nominal_one_is_disturbed_by_what_a_later_sweep_finds() -> None:
    bench = StripBench(procedure_of(COVERAGE, SWEEP))
    bench.run(until=lambda ask: isinstance(ask, Sweep))
    assert bench.step("coverage").state == "held"
    ask = bench.known.ask
    assert ask is not None
    bench.say(bench.answer(ask))
    assert bench.step("sweep").state == "held"
    assert bench.step("coverage").state == "disturbed"
    assert bench.known.running == "coverage"
    assert bench.run().aligned
    assert bench.oscillator_hz[2.0] == pytest.approx(98.23e6, abs=20e3)


def test_coverage_stays_held_where_the_centre_is_on_nominal() -> None:
    bench = StripBench(procedure_of(COVERAGE, SWEEP), response=ceramic_filter(10.7e6, 180e3))
    bench.run(until=lambda ask: isinstance(ask, Sweep))
    before = len(bench.asks)
    assert bench.run().aligned
    assert len(bench.asks) == before + 1


def test_a_sweep_that_was_taken_back_leaves_the_nominal_one() -> None:
    bench = StripBench(procedure_of(COVERAGE, SWEEP))
    bench.run(until=lambda ask: isinstance(ask, Sweep))
    ask = bench.known.ask
    assert ask is not None
    bench.say(bench.answer(ask))
    bench.say(Undo(moved=False))
    assert bench.step("coverage").state == "held"
    assert bench.step("sweep").state == "to-do"
    bench.say(SetAside("no generator for it"))
    assert bench.step("coverage").state == "held"


def test_a_counter_that_shows_what_is_received_keeps_its_own_offset() -> None:
    text = procedure_of(SWEEP, COVERAGE).text.replace('shows = "oscillator"', 'shows = "received"')
    bench = StripBench(parse_procedure(text, "set.toml"))
    bench.oscillator_hz = {2.0: 87.5e6, 8.0: 108e6}  # what this counter shows: oscillator less the nominal IF
    bench.run()
    assert bench.oscillator_hz[2.0] == pytest.approx(87.53e6, abs=20e3)


def test_readings_on_one_flank_only_get_a_wider_span() -> None:
    bench = StripBench(procedure_of(SWEEP), response=ceramic_filter(11.05e6, 300e3))
    bench.run()
    sweeps = [ask for ask in bench.asks if isinstance(ask, Sweep)]
    assert sweeps[1].to_hz > sweeps[0].to_hz
    assert "Cannot tell yet" in sweeps[1].why
    assert bench.step("sweep").error == pytest.approx(350e3, abs=20e3)


def test_a_centre_that_is_not_sure_enough_is_swept_again_closer() -> None:
    text = SWEEP.replace('"10 kHz"', '"2 kHz"').replace("count = 17", "count = 7")
    bench = StripBench(procedure_of(text), response=Resonators(10.73e6, 40.0))
    bench.run()
    sweeps = [ask for ask in bench.asks if isinstance(ask, Sweep)]
    assert len(sweeps) > 1
    assert sweeps[1].to_hz - sweeps[1].from_hz < sweeps[0].to_hz - sweeps[0].from_hz


def test_a_centre_farther_off_than_allowed_is_at_limit_and_is_used_all_the_same() -> None:
    bench = StripBench(procedure_of(SWEEP + 'off-nominal = "20 kHz"\n', COVERAGE))
    known = bench.run()
    assert not known.aligned
    assert bench.step("sweep").state == "at-limit"
    assert "peak the cans on the nominal IF" in bench.step("sweep").why
    assert bench.oscillator_hz[2.0] == pytest.approx(98.23e6, abs=20e3)


def test_no_level_at_all_is_a_fault_and_not_a_misalignment() -> None:
    def dead(ask: Ask) -> Answer | None:
        return Cannot("no-reading") if isinstance(ask, Sweep) else None

    bench = StripBench(procedure_of(SWEEP), own=dead)
    bench.run()
    assert bench.step("sweep").state == "at-limit"
    assert "a fault, not a misalignment" in bench.step("sweep").why


def test_a_sweep_in_kilohertz_is_questioned_and_taken_when_insisted_on() -> None:
    bench = StripBench(procedure_of(SWEEP))
    ask = bench.run(until=lambda ask: isinstance(ask, Sweep)).ask
    assert isinstance(ask, Sweep)
    right = bench.answer(ask)
    assert isinstance(right, SweepSeen)
    wrong = SweepSeen(tuple((hz / 1e3, level) for hz, level in right.points))
    entry = entry_for(bench.procedure, bench.history, wrong, 1.0, "0")
    assert "asked for 10.3 MHz to 11.1 MHz, and this sweep goes from 10.3 kHz to 11.1 kHz" in entry.doubt
    insisted = SweepSeen(wrong.points, insist=True)
    assert entry_for(bench.procedure, bench.history, insisted, 1.0, "0").doubt == ""


def test_stated_filters_are_shown_beside_what_was_found_and_what_they_do_to_the_sound() -> None:
    bench = StripBench(procedure_of(SWEEP + 'filters = ["230 kHz", "180 kHz"]\n'))
    bench.run()
    why = bench.step("sweep").why
    assert "filters of 230 kHz and 180 kHz in cascade give" in why
    for words in ("at ±100 kHz", "at ±400 kHz", "over ±75 kHz", "group delay"):
        assert words in why


def test_readings_of_a_sweep_count_point_by_point() -> None:
    bench = StripBench(procedure_of(SWEEP, COVERAGE))
    known = bench.run()
    plain = sum(isinstance(ask, Read) for ask in bench.asks)
    assert known.readings == 17 * sum(isinstance(ask, Sweep) for ask in bench.asks) + plain
    assert isinstance(bench.history.entries[0].answer, SweepSeen | Reading)
