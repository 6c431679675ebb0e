"""What counter, meter, dip meter and voltmeter show of what is there, and what a person writes down of it."""

import math
from dataclasses import dataclass

import numpy as np

from aligner.procedure.model import Counter, Meter
from aligner.rehearsal.population import Population


@dataclass
class Instruments:
    """The instruments of one bench, with their noise."""

    counter: Counter
    meter: Meter
    intermediate_hz: float
    side: int
    population: Population
    rng: np.random.Generator

    def normal(self, sd: float) -> float:
        """A normal deviate; none is drawn where there is no spread."""
        return sd * float(self.rng.standard_normal()) if sd > 0 else 0.0

    def displayed(self, oscillator_hz: float) -> float:
        """What the counter displays for an oscillator [Hz], without noise and with all digits."""
        if self.counter.shows == "divided":
            return oscillator_hz / self.counter.prescaler
        if self.counter.shows == "oscillator":
            return oscillator_hz
        return oscillator_hz - self._offset()

    def _offset(self) -> float:
        """What a counter that shows what is received takes off (or adds, where the oscillator stands below)."""
        own = self.intermediate_hz if self.counter.offset_hz is None else self.counter.offset_hz
        return own * self.side

    def frequency(self, oscillator_hz: float) -> float:
        """A reading of the counter: noise, and whole counts of its gate with the usual one count of doubt."""
        noisy = self.displayed(oscillator_hz * (1 + self.normal(self.population.spread.counter.noise)))
        return math.floor(noisy * self.counter.gate_s + self.rng.random()) / self.counter.gate_s

    def resonance(self, hertz: float) -> float:
        """A reading of a circuit's own resonance, to five figures as one writes it down."""
        read = hertz * (1 + self.normal(self.population.spread.counter.resonance))
        step = 10.0 ** (math.floor(math.log10(read)) - 5)
        return float(round(read / step) * step)

    def level(self, level_db: float) -> float:
        """A reading of the level meter [dB], to its resolution; a meter of unknown law sits on the AGC line."""
        fixed = self.population.fixed.meter
        floor = -fixed.floor_db
        true = max(level_db, floor) + self.normal(self.population.spread.meter.noise_db)
        shown = true if self.meter.law != "unknown" else true * fixed.agc_slope
        step = self.meter.resolution_db
        shown = shown if self.meter.more_signal == "up" else -shown
        return round(float(round(shown / step) * step), 6) if step > 0 else shown

    def true_level(self, shown_db: float) -> float:
        """The level [dB] that is shown so."""
        upright = shown_db if self.meter.more_signal == "up" else -shown_db
        return upright if self.meter.law != "unknown" else upright / self.population.fixed.meter.agc_slope

    def volts(self, volts: float) -> float:
        """A reading of the digital voltmeter, which shows millivolts."""
        return round(volts, 3)

    def turns(self, turns: float) -> float:
        """Turns as a person counts them."""
        step = self.population.fixed.hand.turn_resolution
        counted = turns + self.normal(self.population.spread.hand.turn)
        return float(round(counted / step) * step)


def mistyped(value: float, rng: np.random.Generator) -> float:
    """The value with one of the blunders of people: a slipped decimal, kHz for MHz, one digit misread."""
    what = rng.integers(3)
    if what == 0:
        return value * float(rng.choice([10.0, 0.1]))
    if what == 1:
        return value * 1e-3
    if value == 0:
        return 1.0
    weight = 10.0 ** (np.floor(np.log10(abs(value))) - float(rng.integers(0, 4)))
    digit = int(abs(value) / weight) % 10
    other = (digit + int(rng.integers(1, 10))) % 10
    return float(value + np.sign(value) * (other - digit) * weight)
