"""The step `read-back`: readings at the end, each compared with its limit."""

import math
from typing import Literal

from aligner.engine.answers import Cannot, Reading
from aligner.engine.asks import Point, Read
from aligner.engine.bench import Bench, Outcome, Target
from aligner.engine.by_reading import read_target_words, wanted_words
from aligner.engine.instruments import point_of
from aligner.engine.ledger import spot_of
from aligner.engine.outcomes import busy, plain
from aligner.engine.survey import StepReport
from aligner.estimate.events import Moved, Spot
from aligner.procedure.model import Limit, ReadBackStep, SealStep
from aligner.quantity import show

_UNITS: dict[str, Literal["Hz", "dB"]] = {"frequency": "Hz", "resonance": "Hz", "level": "dB"}


def work(bench: Bench, step: ReadBackStep, *, passed: bool) -> Outcome:
    """Held when every limit was read since the last touch of its band and kept; at limit where one cannot be read."""
    last = last_move(bench, step.band)
    found = [(limit, _reading(bench, step, limit, last)) for limit in step.limits]
    missing = [limit for limit, value in found if value is None]
    if missing:
        state = busy(passed=passed)
        why = f"{len(found) - len(missing)} of {len(found)} read"
        return Outcome(StepReport(step.id, step.kind, step.title, state, why), limit_ask(bench, step, missing[0]))
    unread = [limit for limit, value in found if value is not None and math.isnan(value)]
    if unread:
        places = " and ".join(dict.fromkeys(_place(bench, step, limit) for limit in unread))
        return plain(step, "at-limit", f"no reading at {places}, so nobody knows what is there")
    alone = [limit for limit in step.limits if limit.quantity == "level" and not _peaks(bench, limit)]
    if alone:
        places = " and ".join(dict.fromkeys(_place(bench, step, limit) for limit in alone))
        return plain(
            step, "at-limit", f"nothing was peaked at {places} before, so the level there tells nothing: leave it out"
        )
    errors = [(limit, _error(bench, step, limit, value)) for limit, value in found if value is not None]
    worst, error = max(errors, key=lambda pair: abs(pair[1]) / pair[0].within)
    fine = abs(error) <= worst.within
    found_off = f"{_shown(error, worst)} off at {_place(bench, step, worst)}, {_shown(worst.within, worst)} allowed"
    return Outcome(
        StepReport(
            step.id,
            step.kind,
            step.title,
            "held" if fine else "at-limit",
            "" if fine else found_off,
            round(error, 1),
            worst.within,
            unit=_UNITS.get(worst.quantity, ""),
        )
    )


def last_move(bench: Bench, band: str) -> int:
    """Number of the newest movement of anything but the front ends of other bands, -1 for none."""
    here = frozenset(bench.frame(band).circuits) if bench.procedure.bands else frozenset()
    elsewhere = {c.id for c in bench.procedure.circuits if c.role in ("oscillator", "signal")} - here
    moves = [
        e.seq
        for e in bench.ledger.events
        if isinstance(e, Moved) and not elsewhere.issuperset(bench.procedure.adjuster(e.adjuster).circuits)
    ]
    return max(moves, default=-1)


def _reading(bench: Bench, step: ReadBackStep, limit: Limit, since: int) -> float | None:
    """The newest reading of a limit; not a number where there was nothing to read, None where it was not read."""
    for entry in reversed(bench.ledger.of_step(step.id)):
        ask = entry.ask
        same = isinstance(ask, Read) and (ask.quantity, ask.point, ask.circuit) == limit_key(bench, step.band, limit)
        if same and 2 * entry.seq > since:
            if isinstance(entry.answer, Reading):
                return entry.answer.value
            if isinstance(entry.answer, Cannot):
                return math.nan
    return None


def limit_key(bench: Bench, band: str, limit: Limit) -> tuple[str, Point, str]:
    """Quantity, point and circuit of a limit's reading on a band, as an ask carries them."""
    circuit = limit.circuit or (bench.frame(band).oscillator if bench.procedure.bands else "")
    return (
        limit.quantity,
        point_of(limit.place),
        circuit if limit.quantity in ("frequency", "resonance") else limit.circuit,
    )


def _error(bench: Bench, step: ReadBackStep, limit: Limit, value: float) -> float:
    if limit.quantity in ("frequency", "resonance"):
        target = _target(bench, step, limit)
        seen = bench.instruments.oscillator_hz(value) if limit.quantity == "frequency" else value
        return seen - target.wanted_hz
    if limit.quantity == "level":
        most = max if bench.instruments.more_is_up else min
        return value - most(_peaks(bench, limit))
    return value - (limit.place.volts or 0.0)  # a voltage: of its place, or of a detector that should stand at zero


def _peaks(bench: Bench, limit: Limit) -> list[float]:
    """The levels that were read where a limit's level is read again."""
    return [level.db for level in bench.ledger.levels if level.hz == limit.place.received and level.peaked]


def _target(bench: Bench, step: ReadBackStep | SealStep, limit: Limit) -> Target:
    point = point_of(limit.place)
    spot = spot_of(bench.procedure, step.id, point) or Spot(limit.received_hz or 0.0)
    received = limit.received_hz or spot.hz
    if limit.quantity == "resonance":
        return Target(spot, point, received, limit.within)
    frame = bench.frame(step.band)
    return Target(spot, point, received + frame.circuits[frame.oscillator].offset_hz, limit.within)


def limit_ask(bench: Bench, step: ReadBackStep | SealStep, limit: Limit) -> Read:
    """The reading of a limit."""
    quantity, point, circuit = limit_key(bench, step.band, limit)
    target = _target(bench, step, limit)
    again = _again_words(bench, step, limit) if isinstance(step, ReadBackStep) else ""
    return Read(
        id=0,
        step=step.id,
        text=read_target_words(target, quantity, circuit),
        why=f"{again}{_limit_words(bench, step, limit, target, circuit)}",
        quantity=limit.quantity,
        circuit=circuit,
        point=point,
        generator=None if quantity in ("frequency", "volts") else bench.generator(target.spot.hz),
    )


def _again_words(bench: Bench, step: ReadBackStep, limit: Limit) -> str:
    """Why a limit that was read already is read again; empty where it was not."""
    if _reading(bench, step, limit, -1) is None:
        return ""
    newest = last_move(bench, step.band)
    moved = [e.adjuster for e in bench.ledger.events if isinstance(e, Moved) and e.seq == newest]
    return f"Read again, for {moved[0]} was turned since this was read. " if moved else ""


def _limit_words(bench: Bench, step: ReadBackStep | SealStep, limit: Limit, target: Target, circuit: str) -> str:
    """What is allowed, and around what: a lock is judged by what it moves, a reading by where it should be."""
    if isinstance(step, ReadBackStep) and limit.quantity in ("frequency", "resonance"):
        return f"For the record: {wanted_words(bench, circuit, target, limit.quantity)}"
    return f"For the record: {_shown(limit.within, limit)} is allowed here."


def _place(bench: Bench, step: ReadBackStep, limit: Limit) -> str:
    return show(_target(bench, step, limit).spot.hz, "Hz")


def _shown(value: float, limit: Limit) -> str:
    unit = {"frequency": "Hz", "resonance": "Hz", "level": "dB", "volts": "V"}[limit.quantity]
    return show(abs(value), unit, limit.within / 20.0)  # type: ignore[arg-type]
