"""A set without noise, play or bends, and the conversation of a person with the engine about it.

It is worked by the estimator's own equations, because the tests that use it look at what the engine asks, in which
order and what it counts. Whether the advice is any good is judged by the virtual sets, which know nothing of those.
"""

from collections.abc import Callable, Mapping

import numpy as np
from scipy.optimize import brentq

from aligner.engine.answers import Answer, Done, Reading, WandSeen
from aligner.engine.asks import Ask, Confirm, Peak, Read, Single, Sweep, Touch, Turning, Wand
from aligner.engine.history import Entry, History
from aligner.engine.instruments import instruments_of
from aligner.engine.ledger import spot_of
from aligner.engine.run import entry_for, survey
from aligner.engine.survey import StepReport, Survey
from aligner.estimate.frame import Frame, frame_of
from aligner.estimate.ladder import ladder
from aligner.procedure.model import Procedure

PER_TURN = 0.04
Q = 60.0
FERRITE, BRASS = 0.025, 0.018  # shares by which a wand's ends change an inductance
BRASS_LOSS_DB = 0.5
MOST_ASKS = 150


class IdealSet:
    """The settings of every circuit, off their start by `faults`, and what instruments show of them."""

    def __init__(self, procedure: Procedure, faults: Mapping[str, tuple[float, ...]]) -> None:
        self.procedure = procedure
        self._instruments = instruments_of(procedure)
        self._shifts = {c.id: np.array(faults.get(c.id, (0.0,) * 4)) for c in procedure.circuits}
        self._came = 1.0  # which way the last adjuster was turned

    def answer(self, ask: Ask) -> Answer:
        """What an honest person says."""
        match ask:
            case Confirm():
                return Done()
            case Read():
                return Reading(self._shown(ask, ask.quantity))
            case Touch():
                return self._touch(ask)
            case Peak() if ask.rock:
                turns = self._turn(ask, lambda: self._rocked(ask))
                return Reading(self._shown(ask, "level"), turns)
            case Peak():
                turns = self._turn(ask, lambda: self._hz(ask) - _generator_hz(ask))
                return Reading(self._shown(ask, "level"), turns)
            case Wand():
                return self._wand(ask)
            case Sweep():
                raise NotImplementedError

    def _wand(self, ask: Wand) -> WandSeen:
        """Ferrite raises the coil's inductance, brass lowers it and takes some of the Q."""
        ferrite, brass = self._level(ask, 1.0 + FERRITE), self._level(ask, 1.0 - BRASS, BRASS_LOSS_DB)
        return WandSeen(ferrite, brass, self._level(ask, 1.0))

    def _level(self, ask: Single | Wand, inductance: float = 1.0, damped_db: float = 0.0) -> float:
        """Decibels below the peak, with so many times the coil's inductance, damped by so much at the peak."""
        generator_hz = _generator_hz(ask)
        away = 2.0 * Q * (self._hz(ask) / np.sqrt(inductance) - generator_hz) / generator_hz
        return float(-10.0 * np.log10(10.0 ** (damped_db / 10.0) + away**2))

    def _touch(self, ask: Touch) -> Reading:
        if ask.aim.quantity == "turns":
            self._move(ask.adjuster, ask.aim.value * PER_TURN)
            return Reading(ask.aim.value)
        beyond = (0.0, 0.3 * self._onward(ask)) if ask.aim.quantity == "level" else (-0.3, 0.3)
        turns = self._turn(ask, lambda: self._shown(ask, ask.aim.quantity) - ask.aim.value, beyond)
        return Reading(self._shown(ask, ask.aim.quantity), turns)

    def _onward(self, ask: Touch) -> float:
        """Which way a level aim lies past the peak: as the ask says, else the way that led to the peak."""
        if ask.direction is None:
            return self._came
        series = self.procedure.adjuster(ask.adjuster).does == "series"
        return 1.0 if (ask.direction == "more") != series else -1.0

    def _turn(
        self, ask: Turning, left_over: Callable[[], float], within: tuple[float, float] = (-0.3, 0.3)
    ) -> float | None:
        """Turn until nothing is left over; the net turns where they can be counted."""
        at = 0.0

        def left(shift: float) -> float:
            nonlocal at
            self._move(ask.adjuster, shift - at)
            at = shift
            return left_over()

        shift = float(brentq(left, *within))
        left(shift)
        self._came = float(np.sign(shift)) or self._came
        return shift / PER_TURN if self.procedure.adjuster(ask.adjuster).counted else None

    def turn(self, adjuster: str, turns: float) -> None:
        """Turned by hand, as far as that."""
        self._move(adjuster, turns * PER_TURN)

    def _move(self, adjuster: str, shift: float) -> None:
        for circuit in self.procedure.adjuster(adjuster).circuits:
            frame = self._frame_with(circuit)
            self._shifts[circuit][frame.handles[adjuster].setting] += shift

    def _frame_with(self, circuit: str) -> Frame:
        frames = (frame_of(self.procedure, band.id, self.procedure.intermediate_hz) for band in self.procedure.bands)
        return next(frame for frame in frames if circuit in frame.circuits)

    def _shown(self, ask: Single, quantity: str) -> float:
        if quantity == "frequency":
            return self._instruments.displayed_hz(self._hz(ask))
        if quantity == "resonance":
            return self._hz(ask)
        if quantity == "volts":
            return self._volts(ask)
        return self._level(ask)

    def _hz(self, ask: Single | Wand) -> float:
        """The circuit's own frequency at the point of an ask."""
        frame = frame_of(self.procedure, _band(self.procedure, ask.step), self.procedure.intermediate_hz)
        circuit = ask.circuit or frame.oscillator
        spot = spot_of(self.procedure, ask.step, ask.point)
        assert spot is not None
        if spot.kind == "dial":
            return self.hz(circuit, spot.hz)
        wanted = float(frame.circuits[frame.oscillator].wanted_hz(np.array([spot.hz]))[0])
        place = brentq(lambda z: self.hz(frame.oscillator, z) - wanted, 0.6 * spot.hz, 1.6 * spot.hz)
        return self.hz(circuit, float(place))

    def _volts(self, ask: Single) -> float:
        """The common tuning voltage at the point of an ask, or the one that peaks the ask's stage alone there."""
        frame = frame_of(self.procedure, _band(self.procedure, ask.step), self.procedure.intermediate_hz)
        hz = _generator_hz(ask)
        circuit = ask.circuit or frame.oscillator
        wanted = hz if ask.circuit else float(frame.circuits[circuit].wanted_hz(np.array([hz]))[0])
        place = float(brentq(lambda z: self.hz(circuit, z) - wanted, 0.6 * hz, 1.6 * hz))
        low, high = self.procedure.tuning.span or (2.0, 8.0)
        share = np.log(place / frame.band.low_hz) / np.log(frame.band.high_hz / frame.band.low_hz)
        return float(low * (high / low) ** share)

    def _rocked(self, ask: Peak) -> float:
        """How far the oscillator is from one IF above the generator where the first signal circuit resonates on it."""
        generator_hz = _generator_hz(ask)
        lead = next(c.id for c in self.procedure.circuits if c.role == "signal")
        place = brentq(lambda z: self.hz(lead, z) - generator_hz, 0.6 * generator_hz, 1.6 * generator_hz)
        return self.hz(ask.circuit, float(place)) - generator_hz - self.procedure.intermediate_hz

    def hz(self, circuit: str, z_hz: float) -> float:
        """A circuit's own frequency [Hz] at a place of the scale [Hz]."""
        own = self._frame_with(circuit).circuits[circuit]
        settings = np.array(own.start) + self._shifts[circuit]
        return float(own.hz(ladder(own.law(np.array([z_hz])), settings).lny)[0])


def _generator_hz(ask: Single | Wand) -> float:
    assert ask.generator is not None
    return ask.generator.hz


def _band(procedure: Procedure, step: str) -> str:
    return str(getattr(procedure.step(step), "band", ""))


class Conversation:
    """A person at that set, and the history of what was said."""

    def __init__(self, procedure: Procedure, faults: Mapping[str, tuple[float, ...]] | None = None) -> None:
        self.procedure = procedure
        self.set = IdealSet(procedure, faults or {})
        self.history = History()

    @property
    def known(self) -> Survey:
        """What the engine knows now."""
        return survey(self.procedure, self.history)

    @property
    def ask(self) -> Ask:
        """The open ask."""
        ask = self.known.ask
        assert ask is not None
        return ask

    def report(self, step: str) -> StepReport:
        """How a step stands."""
        return next(report for report in self.known.steps if report.id == step)

    def say(self, answer: Answer) -> Entry:
        """Answer the open ask with just that."""
        entry = entry_for(self.procedure, self.history, answer, float(len(self.history.entries)), "test")
        self.history = self.history.with_entry(entry)
        return entry

    def honest(self) -> Entry:
        """Answer the open ask as the set is."""
        return self.say(self.set.answer(self.ask))

    def work_until(self, wanted: Callable[[Ask], bool]) -> Ask:
        """Answer honestly until such an ask is open."""
        for _ in range(MOST_ASKS):
            ask = self.ask
            if wanted(ask):
                return ask
            self.honest()
        raise AssertionError("no such ask")

    def work_to_the_end(self) -> Survey:
        """Answer honestly until nothing is asked any more."""
        for _ in range(MOST_ASKS):
            if self.known.ask is None:
                return self.known
            self.honest()
        raise AssertionError("it does not end")
