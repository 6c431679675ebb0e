"""What the instruments of a procedure show, in terms of the circuits, and how well they can be trusted.

Standard errors are what a careful bench has (common practice, no source); the fit weighs readings by them.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

from aligner.circuits.counter import (
    Counting,
    displayed_from_oscillator,
    displayed_resolution_hz,
    oscillator_from_displayed,
    oscillator_resolution_hz,
)
from aligner.engine.asks import Point
from aligner.estimate.events import Spot
from aligner.procedure.model import Band, Place, Procedure

COUNT_NOISE = 3e-6
"""Jitter of a counter beyond its last digit, relative."""
PLACE_NOISE = {"dial": 8e-5, "mark": 8e-5, "volts": 4e-5, "end": 3e-5, "received": 3e-5}
"""How truly a set is brought back to a place, relative, by what it goes by, where `place_sd_hz` knows no better."""
_SETTING_V = 1e-3
"""A tuning voltage set by a ten-turn potentiometer and a voltmeter that shows millivolts [V]."""
_SETTING_SCALE = 1.3e-4
"""A pointer brought to a mark from the same side, under a lens, in parts of the scale's length: 0.03 mm on 200 mm."""
_UNREST = 2e-5
"""What a warm oscillator still moves from one reading to the next, relative: what is left of the warm-up, draughts."""
RESONANCE_NOISE = 1.6e-4
"""A dip meter coupled loosely and read by a counter, or a marker on a swept curve, relative."""
PEAK_PLAIN = 0.05
"""Standard error of a plain peak in widths f/Q: 80 kHz at 98 MHz and Q 60."""
PEAK_FINE = 0.0125
"""The same for a fine peak, by the middle between two settings of equal fall."""
TURN_NOISE = 0.055
"""Standard error of turns counted to an eighth: rounding, counting, and the play of a core in its thread."""
_NO_METER_DB = 0.5
LEVEL_NOISE_DB = 0.03
"""Flicker of a level that is read at rest, besides the meter's resolution."""


@dataclass(frozen=True, slots=True)
class Instruments:
    """The counter and the meter of a procedure."""

    counting: Counting
    resolution_db: float
    in_db: bool = False  # whether differences of levels can be trusted as decibels
    more_is_up: bool = True

    def oscillator_hz(self, displayed_hz: float) -> float:
        """The oscillator's frequency [Hz] behind what the counter shows."""
        return float(oscillator_from_displayed(displayed_hz, self.counting))

    def displayed_hz(self, oscillator_hz: float) -> float:
        """What the counter shows for an oscillator frequency [Hz]."""
        return float(displayed_from_oscillator(oscillator_hz, self.counting))

    def frequency_sd_hz(self, oscillator_hz: float, kind: str, place_hz: float | None = None) -> float:
        """Standard error [Hz] of an oscillator frequency read at a place of that kind, off by `place_hz` [Hz]."""
        place = PLACE_NOISE[kind] * oscillator_hz if place_hz is None else place_hz
        return math.hypot(self.stopped_sd_hz(oscillator_hz), place, _UNREST * oscillator_hz)

    def stopped_sd_hz(self, oscillator_hz: float) -> float:
        """Standard error [Hz] of an oscillator frequency read where nothing was tuned in between."""
        return float(
            ((0.41 * oscillator_resolution_hz(self.counting)) ** 2 + (COUNT_NOISE * oscillator_hz) ** 2) ** 0.5
        )

    def shown_step_hz(self) -> float:
        """The smallest step [Hz] of the counter's display."""
        return displayed_resolution_hz(self.counting)

    def level_sd_db(self) -> float:
        """Standard error [dB] of a difference of two levels."""
        return float((2.0 * (LEVEL_NOISE_DB**2 + self.resolution_db**2 / 12.0)) ** 0.5)


@lru_cache(maxsize=8)
def instruments_of(procedure: Procedure) -> Instruments:
    """The instruments as the procedure describes them; a bench without a meter reads half decibels."""
    counter = procedure.counter
    offset = procedure.intermediate_hz if counter.offset_hz is None else counter.offset_hz
    counting = Counting(
        shows=counter.shows,
        prescaler=counter.prescaler,
        gate_s=counter.gate_s,
        side=procedure.oscillator,
        offset_hz=offset,
    )
    meter = procedure.meter
    if meter is None:
        return Instruments(counting, _NO_METER_DB)
    return Instruments(counting, meter.resolution_db, meter.law != "unknown", meter.more_signal == "up")


def place_sd_hz(procedure: Procedure, band_id: str, point: Point, spot_hz: float) -> float | None:
    """How far off [Hz] a pointer or a voltmeter brings the set back to a point at `spot_hz`; None for other places.

    A step of ln V over the tuning's range is taken to be an even step of ln f (common practice, no source): so a
    millivolt is worth four times as much at 2 V as at 8 V.
    """
    band, span = procedure.band_of(band_id), procedure.tuning.span
    if point.volts is not None and point.volts > 0.0 and procedure.tuning.by == "voltage" and span and min(span) > 0.0:
        per_log_volt = math.log(band.high_hz / band.low_hz) / math.log(max(span) / min(span))
        return _SETTING_V / point.volts * spot_hz * per_log_volt
    on_scale = point.dial is not None or point.mark is not None
    return _SETTING_SCALE * _whole_scale_hz(procedure.tuning.law, band, spot_hz) if on_scale else None


def _whole_scale_hz(law: str | None, band: Band, spot_hz: float) -> float:
    """What the whole scale would be worth [Hz] if it were all as it is at a place.

    Straight-line frequency: the band. Straight-line capacitance: 1/f^2 goes evenly, so that df = f^3/2 d(1/f^2). A gang
    of unknown law lies between them, about even in ln f (common practice, no source).
    """
    if law == "straight-frequency":
        return band.high_hz - band.low_hz
    if law == "straight-capacitance":
        return 0.5 * spot_hz**3 * (band.low_hz**-2 - band.high_hz**-2)
    return spot_hz * math.log(band.high_hz / band.low_hz)


def point_of(place: Place) -> Point:
    """A procedure's place as the pipe writes it."""
    return Point(dial=place.dial, received=place.received, volts=place.volts, mark=place.mark, end=place.end)


def place_kind(point: Point) -> str:
    """Which field of a point is given."""
    for kind in ("dial", "received", "volts", "mark"):
        if getattr(point, kind) is not None:
            return kind
    return "end"


def received_spot(hz: float) -> tuple[Spot, Point]:
    """The spot and the point of a frequency that the set truly receives."""
    return Spot(hz, "received"), Point(received=hz)
