"""Looks at a signal circuit without touching it, as events: a wand in its coil, its stage's own tuning voltage."""

import math
from dataclasses import dataclass
from itertools import pairwise

from aligner.engine.answers import Reading, Trend, WandSeen
from aligner.engine.asks import Read, Touch, Wand
from aligner.engine.history import Entry
from aligner.engine.instruments import PEAK_PLAIN, Instruments, instruments_of
from aligner.estimate.events import Sighted, Spot, Wanded
from aligner.estimate.frame import USUAL_Q, q_doubt
from aligner.procedure.model import Band, CoverageStep, Procedure

_TRENDS = {
    ("up", "down"): (0.045, 0.04),
    ("down", "up"): (-0.045, 0.04),
    ("up", "same"): (0.03, 0.04),
    ("same", "up"): (-0.03, 0.04),
    ("down", "down"): (0.0, 0.004),
    ("down", "same"): (-0.004, 0.005),
    ("same", "down"): (0.004, 0.005),
    ("same", "same"): (0.0, 0.1),
}
"""Where a circuit lies, and its standard error, in parts of the frequency, by which way ferrite and brass sent the
level: ferrite up means that more inductance is wanted, so that the circuit is too high; both down means right (common
practice, no source)."""
_SCALE_DOUBT = 0.02  # what the scale of voltages leaves unsaid, of the way between two places
_SIDE_SDS = 4.0  # standard errors of a difference that count as certain
_SIDE_SHARE = 0.5  # and, in parts of the fall, what unequal pulls make of a circuit that stands right
_JUNCTION_V = 0.7
_HALVINGS = 50
_FEWEST = 2
_APART = 0.002  # places nearer than this are one, and the newest voltage counts
_UNCLEAR = 0.02  # both ends raise the level: that is no resonance


def common_volts(entries: tuple[Entry, ...], hz: float, since: int, before: int | None = None) -> float | None:
    """The tuning voltage [V] that all circuits had when the set received hz [Hz], read after the event `since`."""
    for entry in reversed(entries):
        ask = entry.ask
        if before is not None and entry.seq >= before:
            continue
        read = isinstance(ask, Read) and ask.quantity == "volts" and not ask.circuit and ask.point.received == hz
        if read and isinstance(entry.answer, Reading) and 2 * entry.seq > since:
            return entry.answer.value
    return None


@dataclass(frozen=True, slots=True)
class Scale:
    """Which frequency [Hz] the set receives with which tuning voltage [V]: where both are known, and smooth in between.

    ln f over ln(V + 0.7 V) is nearly straight for a junction diode; the curve through the known pairs is a polynomial.
    """

    log_volts: tuple[float, ...]
    log_hz: tuple[float, ...]

    def hz(self, volts: float) -> float:
        """The place [Hz] of a tuning voltage [V]."""
        at = math.log(max(volts + _JUNCTION_V, 0.1))
        low, high = min(self.log_volts), max(self.log_volts)
        inside = min(max(at, low), high)
        step = 1e-3 * (high - low)
        edge = self._curve(inside)
        if at == inside:
            return math.exp(edge)
        slope = (edge - self._curve(inside - math.copysign(step, at - inside))) / math.copysign(step, at - inside)
        return math.exp(edge + slope * (at - inside))

    def volts(self, hz: float) -> float:
        """The tuning voltage [V] of a place [Hz]."""
        low, high = 0.05, 4.0 * math.exp(max(self.log_volts))
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self.hz(middle) < hz else (low, middle)
        return 0.5 * (low + high)

    @property
    def ends_hz(self) -> tuple[float, float]:
        """The places [Hz] of the least and the greatest voltage that are known."""
        return math.exp(min(self.log_hz)), math.exp(max(self.log_hz))

    def _curve(self, at: float) -> float:
        """Lagrange's polynomial through the known pairs."""
        total = 0.0
        for n, own in enumerate(self.log_volts):
            rest = (other for m, other in enumerate(self.log_volts) if m != n)
            total += self.log_hz[n] * math.prod((at - other) / (own - other) for other in rest)
        return total


def scale_of(procedure: Procedure, step: str, entries: tuple[Entry, ...], before: int | None = None) -> Scale | None:
    """What the set receives at which voltage, in a step's band: as counted, as covered, and by every common voltage."""
    band = procedure.band_of(getattr(procedure.step(step), "band", ""))
    pairs: dict[float, float] = {}
    for other in procedure.steps:
        if isinstance(other, CoverageStep) and procedure.band_of(other.band) == band:
            pairs |= {p.place.volts: p.received_hz for p in other.points if p.place.volts is not None}
    if len(pairs) < _FEWEST and procedure.tuning.span is not None:
        pairs |= {min(procedure.tuning.span): band.low_hz, max(procedure.tuning.span): band.high_hz}
    for entry in entries:
        ask, answer = entry.ask, entry.answer
        if (before is None or entry.seq < before) and _of_band(procedure, entry, band):
            pairs |= _counted(procedure, entry)
        if isinstance(ask, Read) and ask.quantity == "volts" and not ask.circuit and isinstance(answer, Reading):
            hz, known = ask.point.received, before is None or entry.seq < before
            if hz is not None and known and band.low_hz <= hz <= band.high_hz and answer.value > 0.0:
                pairs = {v: place for v, place in pairs.items() if abs(math.log(place / hz)) > _APART}
                pairs[answer.value] = hz
    rows = sorted((volts, hz) for volts, hz in pairs.items() if volts > 0.0)
    if len(rows) < _FEWEST or any(after[1] <= row[1] for row, after in pairwise(rows)):
        return None
    return Scale(tuple(math.log(v + _JUNCTION_V) for v, _ in rows), tuple(math.log(hz) for _, hz in rows))


def _of_band(procedure: Procedure, entry: Entry, band: Band) -> bool:
    step = "" if entry.ask is None else getattr(procedure.step(entry.ask.step), "band", "")
    return procedure.band_of(step) == band


def _counted(procedure: Procedure, entry: Entry) -> dict[float, float]:
    """What the set truly received [Hz] at a tuning voltage [V] where the oscillator was counted."""
    ask, answer = entry.ask, entry.answer
    quantity = ask.aim.quantity if isinstance(ask, Touch) else ask.quantity if isinstance(ask, Read) else ""
    if not isinstance(ask, Read | Touch) or quantity != "frequency" or not isinstance(answer, Reading):
        return {}
    if ask.point.volts is None:
        return {}
    own = instruments_of(procedure).oscillator_hz(answer.value)
    offset = procedure.intermediate_hz if procedure.oscillator == "above" else -procedure.intermediate_hz
    return {ask.point.volts: own - offset}


def stage_event(procedure: Procedure, entry: Entry, entries: tuple[Entry, ...]) -> Sighted | None:
    """Where a stage stands: tuned to where its own voltage belongs, it would resonate at the generator's frequency."""
    ask, answer = entry.ask, entry.answer
    if not isinstance(ask, Read | Touch) or not isinstance(answer, Reading):
        return None
    if (ask.aim.quantity if isinstance(ask, Touch) else ask.quantity) != "volts":
        return None
    if not procedure.bands:  # a strip alone has no circuit that is tuned
        return None
    scale = scale_of(procedure, ask.step, entries, entry.seq) if ask.circuit and ask.generator is not None else None
    if scale is None or ask.generator is None or answer.value <= 0.0:
        return None
    hz, place = ask.generator.hz, scale.hz(answer.value)
    sd = math.hypot(PEAK_PLAIN * hz / (procedure.circuit(ask.circuit).q or USUAL_Q), _SCALE_DOUBT * (place - hz))
    return Sighted(2 * entry.seq + 1, ask.circuit, Spot(round(place), "received"), hz, sd)


def wand_side(procedure: Procedure, answer: WandSeen) -> int:
    """On which side a circuit stands: -1 where ferrite raises the level more than brass, for it wants inductance.

    Nought where the two ends do nearly the same, as they do near the peak.
    """
    instruments = instruments_of(procedure)
    if isinstance(answer.ferrite, str) or isinstance(answer.brass, str) or answer.none is None:
        return 0
    louder = (answer.ferrite - answer.brass) * (1.0 if instruments.more_is_up else -1.0)
    deepest = min(answer.ferrite, answer.brass) - answer.none
    margin = _SIDE_SDS * instruments.level_sd_db() + _SIDE_SHARE * abs(deepest)
    return 0 if abs(louder) < margin else -1 if louder > 0.0 else 1


def trends_of(instruments: Instruments, answer: WandSeen) -> tuple[Trend, Trend] | None:
    """Which way ferrite and brass sent the level, also where three levels were written down; None without the first."""
    if isinstance(answer.ferrite, str) and isinstance(answer.brass, str):
        return answer.ferrite, answer.brass
    if answer.none is None or isinstance(answer.ferrite, str) or isinstance(answer.brass, str):
        return None
    return _trend(instruments, answer.ferrite - answer.none), _trend(instruments, answer.brass - answer.none)


def _trend(instruments: Instruments, change: float) -> Trend:
    louder = change if instruments.more_is_up else -change
    if abs(louder) <= instruments.resolution_db / 2.0:
        return "same"
    return "up" if louder > 0.0 else "down"


def wand_event(procedure: Procedure, entry: Entry) -> Sighted | Wanded | None:
    """What a wand test tells: differences of level, or only on which side the circuit lies."""
    ask, answer = entry.ask, entry.answer
    if not isinstance(ask, Wand) or not isinstance(answer, WandSeen) or ask.generator is None:
        return None
    spot, seq, hz = Spot(ask.generator.hz, "received"), 2 * entry.seq + 1, ask.generator.hz
    instruments = instruments_of(procedure)
    if not instruments.in_db or isinstance(answer.ferrite, str) or isinstance(answer.brass, str) or answer.none is None:
        way, sd = _TRENDS.get(trends_of(instruments, answer) or ("", ""), (0.0, _UNCLEAR))
        return Sighted(seq, ask.circuit, spot, hz * (1.0 + way), hz * sd)
    seen = procedure.circuit(ask.circuit)
    louder = 1.0 if instruments.more_is_up else -1.0
    return Wanded(
        seq=seq,
        circuit=ask.circuit,
        spot=spot,
        hz=hz,
        ferrite_db=louder * (answer.ferrite - answer.none),
        brass_db=louder * (answer.brass - answer.none),
        sd_db=instruments.level_sd_db(),
        q=seen.q or USUAL_Q,
        q_sd=q_doubt(seen),
    )
