"""Looks at a signal circuit without touching it, as events: a wand in its coil, its stage's own tuning voltage."""

import math

from aligner.engine.answers import Reading, WandSeen
from aligner.engine.asks import Read, Wand
from aligner.engine.history import Entry
from aligner.engine.instruments import PLACE_NOISE, instruments_of
from aligner.estimate.events import Sighted, Spot, Wanded
from aligner.estimate.frame import USUAL_Q
from aligner.procedure.model import Procedure

_TRENDS = {
    ("up", "down"): (0.015, 0.015),
    ("down", "up"): (-0.015, 0.015),
    ("up", "same"): (0.008, 0.008),
    ("same", "up"): (-0.008, 0.008),
    ("down", "down"): (0.0, 0.004),
    ("down", "same"): (-0.003, 0.004),
    ("same", "down"): (0.003, 0.004),
    ("same", "same"): (0.0, 0.006),
}
"""Where a circuit lies, and its standard error, in parts of the frequency, by which way ferrite and brass sent the
level: ferrite up means that more inductance is wanted, so that the circuit is too high; both down means right (common
practice, no source)."""
_STAGE_SLOPE = 0.35  # how well the slope of frequency over voltage is known, relative
_UNCLEAR = 0.02  # both ends raise the level: that is no resonance
_WAND_NOISE = 1.3  # a wand is not held twice in quite the same place


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


def stage_event(procedure: Procedure, entry: Entry, entries: tuple[Entry, ...]) -> Sighted | None:
    """Where a stage stands, from the voltage that peaks it alone and the voltage that all circuits had there.

    The whole band is covered by the tuning voltage's span, so that a step of ln V is, on the whole, a step of
    ln(high/low) / ln(V high/V low) in ln f; locally that is off by a third (common practice, no source).
    """
    ask, answer = entry.ask, entry.answer
    if not isinstance(ask, Read) or ask.quantity != "volts" or not ask.circuit or not isinstance(answer, Reading):
        return None
    hz, span = ask.point.received, procedure.tuning.span
    common = None if hz is None else common_volts(entries, hz, -1, entry.seq)
    if hz is None or span is None or common is None or min(common, answer.value, *span) <= 0.0:
        return None
    band = procedure.band_of(getattr(procedure.step(ask.step), "band", ""))
    per_volt = math.log(band.high_hz / band.low_hz) / math.log(max(span) / min(span))
    off = -per_volt * math.log(answer.value / common)
    sd = math.hypot(_STAGE_SLOPE * off, PLACE_NOISE["volts"])
    return Sighted(2 * entry.seq + 1, ask.circuit, Spot(hz, "received"), hz * math.exp(off), hz * sd)


def wand_event(procedure: Procedure, entry: Entry) -> Sighted | Wanded | None:
    """What a wand test tells: differences of level, or only on which side the circuit lies."""
    ask, answer = entry.ask, entry.answer
    if not isinstance(ask, Wand) or not isinstance(answer, WandSeen) or ask.generator is None:
        return None
    spot, seq, hz = Spot(ask.generator.hz, "received"), 2 * entry.seq + 1, ask.generator.hz
    instruments = instruments_of(procedure)
    if isinstance(answer.ferrite, str) or isinstance(answer.brass, str) or answer.none is None:
        way, sd = _TRENDS.get((str(answer.ferrite), str(answer.brass)), (0.0, _UNCLEAR))
        return Sighted(seq, ask.circuit, spot, hz * (1.0 + way), hz * sd)
    q = procedure.circuit(ask.circuit).q
    louder = 1.0 if instruments.more_is_up else -1.0
    return Wanded(
        seq=seq,
        circuit=ask.circuit,
        spot=spot,
        hz=hz,
        ferrite_db=louder * (answer.ferrite - answer.none),
        brass_db=louder * (answer.brass - answer.none),
        sd_db=instruments.level_sd_db() * _WAND_NOISE,
        q=q or USUAL_Q,
        q_sd=0.1 if q else 0.3,
    )
