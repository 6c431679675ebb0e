"""A reading that cannot be right is questioned: why, in words, or an empty text where nothing speaks against it.

Only what is far outside of what is believed is questioned; a person who gives the same answer again, or insists, is
taken at their word, and the fit weighs the reading down when later ones contradict it.
"""

import math

from aligner.engine.answers import Answer, Cannot, Reading, SweepSeen, WandSeen
from aligner.engine.asks import Ask, Peak, Read, Single, Sweep, Touch
from aligner.engine.bench import Bench
from aligner.engine.ledger import spot_of
from aligner.engine.presets import by_scale
from aligner.procedure.model import ImageStep, TrapStep
from aligner.quantity import show, slips

_FAR = 6.0  # standard errors
_NEVER_SURER = 0.004  # standard error that an expectation has at least, relative
_MISSED = 40.0  # half widths of an aim
_LEVEL_JUMP_DB = 45.0
_AT_END = 0.4  # of the aim: how far from it an end of travel may leave the reading
_AGREE = 0.002


def doubt_of(bench: Bench, band: str, ask: Ask, answer: Answer) -> str:
    """Why an answer is questioned; empty where it is taken."""
    if isinstance(ask, Sweep) and isinstance(answer, SweepSeen):
        return _wild_levels(answer) or _elsewhere(ask, answer)
    value = answer.value if isinstance(answer, Reading) else answer.reading if isinstance(answer, Cannot) else None
    if value is None or not isinstance(ask, Single):
        return _wild_levels(answer)
    quantity = ask.aim.quantity if isinstance(ask, Touch) else ask.quantity
    if isinstance(ask, Touch) and quantity in ("frequency", "resonance"):
        return _missed(bench, ask, value, stopped=isinstance(answer, Cannot))
    if quantity in ("frequency", "resonance") and not isinstance(ask, Touch):
        return _unbelievable(bench, band, ask, value, quantity)
    if quantity == "level" and not isinstance(bench.procedure.step(ask.step), ImageStep | TrapStep):
        return _level_jump(bench, value)
    return ""


def agrees(ask: Ask, first: Answer, second: Answer) -> bool:
    """Whether a second answer says the same as the one that was questioned."""
    if isinstance(first, Reading) and isinstance(second, Reading):
        quantity = ask.aim.quantity if isinstance(ask, Touch) else getattr(ask, "quantity", "")
        if quantity in ("level", "turns"):
            return abs(first.value - second.value) <= 0.5
        return abs(first.value - second.value) <= _AGREE * max(abs(first.value), abs(second.value))
    return type(first) is type(second)


def _unbelievable(bench: Bench, band: str, ask: Read | Peak, value: float, quantity: str) -> str:
    if bench.procedure.tuning.presets and by_scale(ask.point):
        return ""  # presets anywhere: nobody knows beforehand what voltage this place of the scale has
    spot = spot_of(bench.procedure, ask.step, ask.point)
    belief = bench.belief(band)
    circuit = belief.circuits.get(ask.circuit or belief.frame.oscillator)
    if spot is None or circuit is None:
        return ""
    seen = bench.instruments.oscillator_hz(value) if quantity == "frequency" else value
    z = belief.places_hz((spot,))
    expected = float(circuit.hz(z)[0])
    if seen <= 0.0:
        right = _as_shown(bench, expected, quantity)
        return f"a frequency of {show(value, 'Hz')} cannot be; the reading should lie near {right}"
    far = abs(math.log(seen / expected))
    if far <= _FAR * _NEVER_SURER or far <= _FAR * float(circuit.sd_hz(z)[0]) / expected:
        return ""
    near = bench.instruments.displayed_hz(expected) if quantity == "frequency" else expected
    said = f"it should lie near {show(near, 'Hz', near / 1e4)}, and {show(value, 'Hz')} is far from that"
    return said + _likely(bench, value, near)


def _as_shown(bench: Bench, hz: float, quantity: str) -> str:
    near = bench.instruments.displayed_hz(hz) if quantity == "frequency" else hz
    return show(near, "Hz", near / 1e4)


def _missed(bench: Bench, ask: Touch, value: float, *, stopped: bool) -> str:
    off = abs(value - ask.aim.value)
    allowed = _AT_END if stopped else 0.02
    if off <= max(_MISSED * ask.aim.within, allowed * abs(ask.aim.value)):
        return ""
    aim = show(ask.aim.value, "Hz", ask.aim.within)
    return f"the aim is {aim}, and {show(value, 'Hz')} is far from it{_likely(bench, value, ask.aim.value)}"


def _likely(bench: Bench, value: float, near: float) -> str:
    counter = bench.procedure.counter
    found = slips(value, near, "Hz", prescaler=counter.prescaler if counter.shows == "divided" else 1)
    return f"; perhaps {found[0].text}" if found else ""


def _level_jump(bench: Bench, value: float) -> str:
    known = [level.db for level in bench.ledger.levels]
    if known and min(abs(value - db) for db in known) > _LEVEL_JUMP_DB:
        so_far = f"levels have been between {min(known):.1f} and {max(known):.1f} dB so far"
        return f"{so_far}, and {value:.1f} dB is far from that"
    return ""


def _wild_levels(answer: Answer) -> str:
    if isinstance(answer, WandSeen):
        levels = [x for x in (answer.none, answer.ferrite, answer.brass) if isinstance(x, float)]
        if levels and max(levels) - min(levels) > _LEVEL_JUMP_DB:
            return "the three levels of a wand test lie within a few decibels of each other, and these do not"
    if isinstance(answer, SweepSeen) and len({hz for hz, _ in answer.points}) < 3:
        return "a sweep needs three different frequencies"
    return ""


def _elsewhere(ask: Sweep, answer: SweepSeen) -> str:
    """A sweep that has hardly a reading near the span that was asked for: kHz for MHz, or another sweep's file."""
    margin = (ask.to_hz - ask.from_hz) / 2.0
    near = sum(ask.from_hz - margin <= hz <= ask.to_hz + margin for hz, _ in answer.points)
    if near >= 3:
        return ""
    low, high = min(hz for hz, _ in answer.points), max(hz for hz, _ in answer.points)
    span = f"{show(low, 'Hz')} to {show(high, 'Hz')}"
    return f"asked for {show(ask.from_hz, 'Hz')} to {show(ask.to_hz, 'Hz')}, and this sweep goes from {span}"
