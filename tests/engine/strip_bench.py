"""A procedure for the whole job of an invented FM set, and a bench that answers its asks from simple equations."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from aligner.circuits.response import Response, ceramic_filter, level_db
from aligner.engine.answers import Answer, Done, Reading, SweepSeen
from aligner.engine.asks import Ask, Confirm, Peak, Read, Sweep, Touch
from aligner.engine.history import History
from aligner.engine.run import entry_for, survey
from aligner.engine.survey import StepReport, Survey
from aligner.procedure.model import Procedure
from aligner.procedure.reader import parse_procedure

HEAD = """\
format = 1
title = "A set whose strip is off"
[set]
intermediate = "10.7 MHz"
oscillator = "above"
[[band]]
id = "fm"
range = ["87.5 MHz", "108 MHz"]
[tuning]
by = "voltage"
range = ["2 V", "8 V"]
[counter]
shows = "oscillator"
[meter]
law = "log"
resolution = "0.1 dB"
[[circuit]]
id = "oscillator"
role = "oscillator"
[[circuit.adjuster]]
id = "oscillator-coil"
does = "inductance"
kind = "air-coil"
[[circuit.adjuster]]
id = "oscillator-trimmer"
does = "parallel"
kind = "rotary-trimmer"
[[circuit]]
id = "antenna"
role = "signal"
q = 60
[[circuit.adjuster]]
id = "antenna-coil"
does = "inductance"
kind = "ferrite-core"
[[circuit]]
id = "if-1"
role = "if"
[[circuit.adjuster]]
id = "if-1-core"
does = "inductance"
kind = "ferrite-core"
[[circuit]]
id = "if-2"
role = "if"
[[circuit.adjuster]]
id = "if-2-primary"
does = "inductance"
kind = "ferrite-core"
[[circuit.adjuster]]
id = "if-2-secondary"
does = "inductance"
kind = "ferrite-core"
[[circuit]]
id = "detector"
role = "detector"
[[circuit.adjuster]]
id = "detector-primary"
does = "inductance"
kind = "ferrite-core"
[[circuit.adjuster]]
id = "detector-secondary"
does = "inductance"
kind = "ferrite-core"
[[circuit]]
id = "if-trap"
role = "trap"
[[circuit.adjuster]]
id = "trap-core"
does = "inductance"
kind = "ferrite-core"
"""
COVERAGE = """\
[[step]]
id = "coverage"
kind = "coverage"
points = [{ volts = "2 V", received = "87.5 MHz" }, { volts = "8 V", received = "108 MHz" }]
tolerance = "20 kHz"
"""


def procedure_of(*steps: str) -> Procedure:
    """The set with those steps."""
    return parse_procedure(HEAD + "".join(steps), "set.toml")


@dataclass
class StripBench:
    """A set whose strip and oscillator are what they are; asks and answers are kept. Times are 30 s apart."""

    procedure: Procedure
    response: Response = field(default_factory=lambda: ceramic_filter(10.73e6, 180e3))
    oscillator_hz: dict[float, float] = field(default_factory=lambda: {2.0: 98.2e6, 8.0: 118.7e6})
    history: History = field(default_factory=History)
    asks: list[Ask] = field(default_factory=list)
    own: Callable[[Ask], Answer | None] = lambda ask: None
    every_s: float = 30.0

    def answer(self, ask: Ask) -> Answer:  # noqa: PLR0911 - one row an ask
        """What this bench gives back."""
        own = self.own(ask)
        if own is not None:
            return own
        match ask:
            case Confirm():
                return Done()
            case Sweep():
                hz = np.linspace(ask.from_hz, ask.to_hz, ask.count)
                levels = level_db(self.response, hz)
                return SweepSeen(tuple((float(x), round(float(y), 1)) for x, y in zip(hz, levels, strict=True)))
            case Touch():
                if ask.point.volts is not None:
                    self._turn(ask.adjuster, ask.point.volts, ask.aim.value)
                return Reading(ask.aim.value)
            case Peak():
                return Reading(0.0)
            case Read(quantity="frequency"):
                assert ask.point.volts is not None
                return Reading(self.oscillator_hz[ask.point.volts])
            case Read(quantity="resonance"):
                assert ask.point.received is not None
                return Reading(ask.point.received)
        return Reading(0.0)

    def _turn(self, adjuster: str, volts: float, aim_hz: float) -> None:
        """The oscillator set to the aim there; a coil moves all places alike, a trimmer as the square of the frequency.

        df/f = -dL/2L, and df/f = -dC/2C where C goes as 1/f^2.
        """
        here = self.oscillator_hz[volts]
        power = 0 if adjuster.endswith("coil") else 2
        self.oscillator_hz = {
            at: hz * (aim_hz / here) ** ((hz / here) ** power) for at, hz in self.oscillator_hz.items()
        }

    def say(self, answer: Answer) -> Survey:
        """One answer to the open ask."""
        entry = entry_for(self.procedure, self.history, answer, self.every_s * len(self.history.entries), "0")
        self.history = self.history.with_entry(entry)
        return self.known

    @property
    def known(self) -> Survey:
        """Everything known now."""
        return survey(self.procedure, self.history)

    def run(self, until: Callable[[Ask], bool] = lambda ask: False) -> Survey:
        """Answer until the job is done, or an ask comes for which to stop."""
        for _ in range(200):
            ask = self.known.ask
            if ask is None or until(ask):
                return self.known
            self.asks.append(ask)
            self.say(self.answer(ask))
        raise AssertionError("200 asks, and no end")

    def step(self, step_id: str) -> StepReport:
        """How one step stands."""
        return next(report for report in self.known.steps if report.id == step_id)
