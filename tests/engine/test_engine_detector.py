"""The S-curve of a detector: zero at the IF as it is, halves alike, in the right order."""

import re
from dataclasses import dataclass, field, replace

import numpy as np
import pytest

from aligner.circuits.s_curve import SCurve
from aligner.engine.answers import Answer, Cannot, Reading, SweepSeen, Undo
from aligner.engine.asks import Ask, Confirm, Peak, Sweep, Touch
from tests.engine.strip_bench import StripBench, procedure_of

DETECTOR = """\
[[step]]
id = "detector"
kind = "detector"
form = "discriminator"
span = ["10.3 MHz", "11.1 MHz"]
tolerance = "10 kHz"
count = 17
"""
SWEEP = """\
[[step]]
id = "sweep"
kind = "if-sweep"
span = ["10.3 MHz", "11.1 MHz"]
tolerance = "10 kHz"
"""


@dataclass
class Detector:
    """A discriminator whose secondary sets the centre and whose primary sets the offset of the two halves.

    `stubborn`: how much of a wanted change the primary does; `peaked`: how much of the difference peaking it cures.
    """

    curve: SCurve = field(default_factory=lambda: SCurve("discriminator", 10.62e6, 110e3, 2.0, 0.5))
    stubborn: float = 1.0
    peaked: float = 1.0

    def __call__(self, ask: Ask) -> Answer | None:
        if isinstance(ask, Sweep) and ask.quantity == "volts":
            hz = np.linspace(ask.from_hz, ask.to_hz, ask.count)
            return SweepSeen(tuple((float(x), round(float(self.curve.volts(float(x))), 3)) for x in hz))
        if isinstance(ask, Peak) and ask.find == "null":
            assert ask.generator is not None
            off = self.curve.zero_hz() - ask.generator.hz
            self.curve = replace(self.curve, centre_hz=self.curve.centre_hz - off)
            return Reading(0.0, turns=0.4)
        if isinstance(ask, Peak) and ask.quantity == "volts":
            self.curve = replace(self.curve, offset_v=(1.0 - self.peaked) * self.curve.offset_v)
            return Reading(4.2, turns=0.2)
        if isinstance(ask, Touch):
            assert ask.generator is not None
            short = ask.aim.value - self.curve.volts(ask.generator.hz)
            self.curve = replace(self.curve, offset_v=self.curve.offset_v + self.stubborn * short)
            return Reading(self.curve.volts(ask.generator.hz))
        return None


def kinds(bench: StripBench) -> list[str]:
    rows = []
    for ask in bench.asks:
        turned = f" {ask.adjuster}" if isinstance(ask, Peak | Touch) else ""
        find = f" {ask.find}" if isinstance(ask, Peak) else ""
        rows.append(f"{type(ask).__name__.lower()}{turned}{find}")
    return rows


def test_the_order_is_secondary_curve_primary_and_secondary_again() -> None:
    """Order as in J. B. Hoag, Basic Radio, section 34."""
    bench = StripBench(procedure_of(DETECTOR), own=Detector())
    known = bench.run()
    assert known.aligned
    assert kinds(bench) == [
        "confirm",
        "peak detector-secondary null",
        "sweep",
        "peak detector-primary max",
        "peak detector-secondary null",
        "sweep",
    ]


def test_the_primary_is_peaked_a_little_aside_of_zero_where_the_voltage_is_positive() -> None:
    for height in (2.0, -2.0):
        own = Detector(SCurve("discriminator", 10.62e6, 110e3, height, 0.5))
        bench = StripBench(procedure_of(DETECTOR), own=own)
        bench.run()
        peak = next(ask for ask in bench.asks if isinstance(ask, Peak) and ask.find == "max")
        assert peak.generator is not None
        aside = peak.generator.hz - 10.7e6
        assert 10e3 < abs(aside) < 110e3
        assert (aside > 0) == (height > 0)


def test_a_primary_that_peaking_does_not_cure_is_turned_at_the_upper_peak_to_the_mean_of_both() -> None:
    bench = StripBench(procedure_of(DETECTOR), own=Detector(peaked=0.2))
    assert bench.run().aligned
    assert kinds(bench)[3:] == [
        "peak detector-primary max",
        "peak detector-secondary null",
        "sweep",
        "touch detector-primary",
        "peak detector-secondary null",
        "sweep",
    ]
    touch = next(ask for ask in bench.asks if isinstance(ask, Touch))
    assert touch.direction == "more"  # the upper peak is the greater one: the primary is too high
    assert "core further into the coil" in touch.text


def test_zero_is_set_at_the_intermediate_frequency_that_was_found_and_not_at_the_nominal_one() -> None:
    own = Detector()
    bench = StripBench(procedure_of(SWEEP, DETECTOR), own=own)
    assert bench.run().aligned
    assert own.curve.zero_hz() == pytest.approx(10.73e6, abs=10e3)
    nulls = [ask for ask in bench.asks if isinstance(ask, Peak) and ask.find == "null"]
    assert all(ask.generator is not None and abs(ask.generator.hz - 10.73e6) < 3e3 for ask in nulls)
    assert "IF reckoned with: 10.7" in nulls[0].why


def test_a_detector_that_was_held_at_the_nominal_one_is_disturbed_by_a_later_sweep() -> None:
    own = Detector(SCurve("discriminator", 10.62e6, 110e3, 2.0, 0.0))
    bench = StripBench(procedure_of(DETECTOR, SWEEP), own=own)
    bench.run(until=lambda ask: ask.step == "sweep")
    assert bench.step("detector").state == "held"
    bench.say(bench.answer(bench.known.ask or bench.asks[-1]))
    assert bench.step("detector").state == "disturbed"
    assert bench.run().aligned
    assert own.curve.zero_hz() == pytest.approx(10.73e6, abs=10e3)


def test_what_the_curve_shows_is_told() -> None:
    own = Detector(SCurve("discriminator", 10.7e6, 110e3, 2.0, 0.0))
    bench = StripBench(procedure_of(DETECTOR), own=own)
    bench.run()
    report = bench.step("detector")
    reach = 2 * own.curve.peak_x() * own.curve.half_width_hz
    apart = re.search(r"(\d+) kHz apart", report.why)
    assert apart
    assert float(apart[1]) == pytest.approx(reach / 1e3, abs=2.0)
    assert "straight over" in report.why
    assert report.error == pytest.approx(0.0, abs=2e3)
    assert report.plus_minus is not None
    assert report.plus_minus < 10e3


def test_halves_that_stay_unlike_end_at_limit_after_three_touches() -> None:
    bench = StripBench(procedure_of(DETECTOR), own=Detector(stubborn=0.02, peaked=0.02))
    bench.run()
    assert kinds(bench).count("touch detector-primary") == 3
    report = bench.step("detector")
    assert report.state == "at-limit"
    assert "the halves differ by" in report.why


def test_a_quadrature_detector_has_one_coil_and_is_only_zeroed() -> None:
    own = Detector(SCurve("quadrature", 10.62e6, 150e3, 1.0, 0.0))
    bench = StripBench(procedure_of(DETECTOR.replace("discriminator", "quadrature")), own=own)
    assert bench.run().aligned
    assert kinds(bench) == ["confirm", "peak detector-secondary null", "sweep"]
    assert "equals the output's with no signal" in bench.asks[0].text


def test_a_ratio_detector_is_peaked_on_its_stabilised_voltage_first() -> None:
    own = Detector(SCurve("discriminator", 10.62e6, 110e3, 2.0, 0.0))
    bench = StripBench(procedure_of(DETECTOR.replace("discriminator", "ratio")), own=own)
    assert bench.run().aligned
    assert kinds(bench) == [
        "confirm",
        "peak detector-primary max",
        "confirm",
        "peak detector-secondary null",
        "sweep",
    ]
    assert "stabilising electrolytic" in bench.asks[0].text
    assert bench.asks[2].text.startswith("Move the meter:")


@pytest.mark.parametrize("place", [0, 2])
def test_the_meter_is_clipped_on_with_the_whole_caution(place: int) -> None:
    own = Detector(SCurve("discriminator", 10.62e6, 110e3, 2.0, 0.0))
    bench = StripBench(procedure_of(DETECTOR.replace("discriminator", "ratio")), own=own)
    bench.run()
    ask = bench.asks[place]
    assert isinstance(ask, Confirm)
    words = "Switch off, unplug, discharge through a resistor, prove dead with a meter, connect, then power."
    assert words in ask.text


def test_a_curve_that_is_not_straight_for_far_enough_is_at_limit() -> None:
    own = Detector(SCurve("discriminator", 10.62e6, 110e3, 2.0, 0.0))
    bench = StripBench(procedure_of(DETECTOR + 'linear = "300 kHz"\n'), own=own)
    bench.run()
    assert bench.step("detector").state == "at-limit"
    assert "load the coil for less Q" in bench.step("detector").why


def test_a_coil_that_does_not_come_to_zero_is_a_fault() -> None:
    def stuck(ask: Ask) -> Answer | None:
        return Cannot("end-of-travel") if isinstance(ask, Peak) else None

    bench = StripBench(procedure_of(DETECTOR), own=stuck)
    bench.run()
    assert bench.step("detector").state == "at-limit"
    assert "detector-secondary does not bring it there: a fault" in bench.step("detector").why


def test_a_zero_taken_back_is_asked_for_again() -> None:
    bench = StripBench(procedure_of(DETECTOR), own=Detector())
    bench.run(until=lambda ask: isinstance(ask, Sweep))
    bench.say(Undo())
    ask = bench.known.ask
    assert isinstance(ask, Peak)
    assert ask.find == "null"


def test_a_sweep_beside_the_zero_is_read_wider() -> None:
    own = Detector(SCurve("discriminator", 10.7e6, 110e3, 2.0, 0.0))

    def mistuned(ask: Ask) -> Answer | None:
        if isinstance(ask, Peak):
            return Reading(0.0)
        if isinstance(ask, Sweep):
            moved = replace(own.curve, centre_hz=11.3e6)
            hz = np.linspace(ask.from_hz, ask.to_hz, ask.count)
            return SweepSeen(tuple((float(x), float(moved.volts(float(x)))) for x in hz))
        return None

    bench = StripBench(procedure_of(DETECTOR), own=mistuned)
    bench.run()
    sweeps = [ask for ask in bench.asks if isinstance(ask, Sweep)]
    assert sweeps[1].to_hz > sweeps[0].to_hz
    assert bench.step("detector").state == "at-limit"
    assert "the zero lies 600 kHz above the IF" in bench.step("detector").why
