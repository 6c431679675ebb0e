"""Whole shipped procedures on a bench of simple equations, from the first caution to the last confirmation."""

from dataclasses import dataclass, field, replace

import numpy as np
import pytest

from aligner.circuits.response import Cascade, Response, ceramic_filter
from aligner.circuits.s_curve import SCurve
from aligner.engine.answers import Answer, Reading, SweepSeen
from aligner.engine.asks import Ask, Peak, Read, Sweep, Touch
from aligner.procedure.library import find
from aligner.procedure.reader import read_procedure
from tests.engine.strip_bench import StripBench

TRUE_IF_HZ = 10.73e6
PRESCALER = 256


@dataclass
class WholeSet:
    """Oscillator low by 300 kHz and still warming up, strip 30 kHz high, signal circuits high, discriminator low."""

    bench: StripBench
    oscillator_hz: dict[float, float] = field(default_factory=lambda: {2.0: 97.93e6, 8.0: 118.43e6})
    curve: SCurve = field(default_factory=lambda: SCurve("discriminator", 10.6e6, 110e3, 2.0, 0.3))
    level_db: float = -40.0
    off_hz: dict[str, float] = field(default_factory=lambda: {"interstage": 300e3, "antenna": -250e3})

    def __call__(self, ask: Ask) -> Answer | None:
        match ask:
            case Sweep(quantity="volts"):
                hz = np.linspace(ask.from_hz, ask.to_hz, ask.count)
                return SweepSeen(tuple((float(x), round(float(self.curve.volts(float(x))), 3)) for x in hz))
            case Read():
                return Reading(self.read(ask))
            case Peak(quantity="volts"):
                return self.volts(ask)
            case Peak():
                self.level_db += 1.5
                return Reading(self.level_db, turns=0.5)
            case Touch():
                return self.touch(ask)
        return None

    def read(self, ask: Read) -> float:
        if ask.quantity == "frequency":
            assert ask.point.volts is not None
            warming = 120e3 * np.exp(-self.bench.every_s * len(self.bench.history.entries) / 400.0)
            return float(round((self.oscillator_hz[ask.point.volts] + warming) / PRESCALER))
        if ask.quantity == "resonance":
            assert ask.point.received is not None
            return ask.point.received + self.off_hz[ask.circuit]
        image = ask.generator is not None and ask.point.received and ask.generator.hz > ask.point.received + 1e6
        return self.level_db - (30.0 if image else 0.0)

    def volts(self, ask: Peak) -> Reading:
        if ask.find == "max":
            return Reading(4.0, turns=0.3)
        assert ask.generator is not None
        off = self.curve.zero_hz() - ask.generator.hz
        self.curve = replace(self.curve, centre_hz=self.curve.centre_hz - off)
        return Reading(0.0, turns=0.6)

    def touch(self, ask: Touch) -> Reading:
        if ask.aim.quantity == "volts":
            assert ask.generator is not None
            short = ask.aim.value - self.curve.volts(ask.generator.hz)
            self.curve = replace(self.curve, offset_v=self.curve.offset_v + short)
        elif ask.aim.quantity == "frequency":
            assert ask.point.volts is not None
            self.set_oscillator(ask.adjuster, ask.point.volts, ask.aim.value * PRESCALER)
        else:
            assert ask.point.received is not None
            self.off_hz[ask.circuit] = 0.0
        return Reading(ask.aim.value)

    def set_oscillator(self, adjuster: str, volts: float, hz: float) -> None:
        """With y = 1/f^2 a coil multiplies y by one factor at every place, a trimmer adds one amount."""
        y = {place: 1.0 / now**2 for place, now in self.oscillator_hz.items()}
        factor = 1.0 / hz**2 / y[volts]
        shift = 1.0 / hz**2 - y[volts]
        coil = adjuster == "oscillator-coil"
        self.oscillator_hz = {place: (one * factor if coil else one + shift) ** -0.5 for place, one in y.items()}


def bench_of(name: str, response: Response) -> tuple[StripBench, WholeSet]:
    procedure = read_procedure(find(name))
    bench = StripBench(procedure, response=response, every_s=120.0)
    whole = WholeSet(bench)
    bench.own = whole
    return bench, whole


def test_the_whole_fm_job_finds_a_strip_that_is_30_khz_off_and_uses_it() -> None:
    strip = Cascade((ceramic_filter(TRUE_IF_HZ, 230e3), ceramic_filter(TRUE_IF_HZ, 180e3)))
    bench, whole = bench_of("fm-varactor-full", strip)
    known = bench.run()
    assert {report.id: report.state for report in known.steps if report.state != "held"} == {}
    assert known.aligned
    assert whole.oscillator_hz[2.0] == pytest.approx(87.5e6 + TRUE_IF_HZ, abs=50e3)
    assert whole.oscillator_hz[8.0] == pytest.approx(108e6 + TRUE_IF_HZ, abs=50e3)
    assert whole.curve.zero_hz() == pytest.approx(TRUE_IF_HZ, abs=10e3)
    kinds = [bench.procedure.step(ask.step).kind for ask in bench.asks]
    first = [kinds.index(step.kind) for step in bench.procedure.steps[:-1] if step.id != "antenna"]
    assert first == sorted(first)


def test_a_strip_alone_goes_from_end_to_end() -> None:
    bench, whole = bench_of("if-strip", ceramic_filter(TRUE_IF_HZ, 230e3))
    known = bench.run()
    assert {report.id: report.state for report in known.steps if report.state != "held"} == {}
    assert whole.curve.zero_hz() == pytest.approx(TRUE_IF_HZ, abs=10e3)
    assert all(ask.point.received == 10.7e6 for ask in bench.asks if isinstance(ask, Read | Peak))
