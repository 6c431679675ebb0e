"""Levels that were read, and what they tell: falls below a peak of the circuit itself, or looks below an unseen one."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from statistics import fmean

import msgspec

from aligner.engine.answers import Cannot, Reading, WandSeen
from aligner.engine.asks import Peak, Read, Single, Touch, Wand
from aligner.engine.history import Entry
from aligner.engine.instruments import instruments_of
from aligner.engine.looks import wand_side
from aligner.estimate.events import Event, Fallen, Looked, Moved, Spot
from aligner.estimate.falls import blunt
from aligner.procedure.model import Procedure


@dataclass(frozen=True, slots=True)
class Level:
    """A level read at a point, the sighting number, and whether an adjuster of `circuit` had just been peaked there.

    short: the adjuster that came to its end before the peak, and by how many turns.
    side: +1 or -1 where a wand, or the way an adjuster was turned past its peak, told on which side (ln y above or
    below) the circuit stood then.
    """

    seq: int
    circuit: str
    hz: float
    db: float
    peaked: bool
    short: tuple[str, float] | None = None
    side: int = 0


def levels_read(procedure: Procedure, live: tuple[Entry, ...]) -> Iterator[Level]:
    """Every level of the entries that stand, oldest first."""
    more_is_up = instruments_of(procedure).more_is_up
    for entry in live:
        ask, answer = entry.ask, entry.answer
        if isinstance(ask, Wand) and isinstance(answer, WandSeen) and answer.none is not None and ask.generator:
            side = wand_side(procedure, answer)
            yield Level(2 * entry.seq + 1, ask.circuit, ask.generator.hz, answer.none, False, side=side)
        if not isinstance(ask, Single) or ask.generator is None:
            continue
        if isinstance(answer, Cannot) and isinstance(ask, Peak) and answer.reading is not None:
            short = (ask.adjuster, answer.turns or 0.0)
            if answer.why == "end-of-travel" and ask.quantity == "level":
                yield Level(2 * entry.seq + 1, ask.circuit, ask.generator.hz, answer.reading, False, short)
        if not isinstance(answer, Reading):
            continue
        if isinstance(ask, Peak):
            if ask.quantity == "level":
                peaked = ask.find == ("max" if more_is_up else "min")
                yield Level(2 * entry.seq + 1, ask.circuit, ask.generator.hz, answer.value, peaked)
        elif (ask.quantity if isinstance(ask, Read) else ask.aim.quantity) == "level":
            side = _turned_side(procedure, ask) if isinstance(ask, Touch) else 0
            yield Level(2 * entry.seq + 1, ask.circuit, ask.generator.hz, answer.value, False, side=side)


def _turned_side(procedure: Procedure, ask: Touch) -> int:
    """The side to which an adjuster whose turns nobody counts was to be turned: more of anything raises ln y."""
    counted = procedure.adjuster(ask.adjuster).counted
    return 0 if counted or ask.direction is None else 1 if ask.direction == "more" else -1


def sided_of(levels: tuple[Level, ...], events: tuple[Event, ...]) -> tuple[Level, ...]:
    """The levels, with what a wand told of a side carried over to those read there with nothing turned in between."""
    moved = [e.seq for e in events if isinstance(e, Moved)]
    tested = [x for x in levels if x.side]

    def side(level: Level) -> int:
        for other in tested:
            first, last = min(level.seq, other.seq), max(level.seq, other.seq)
            same = (other.circuit, other.hz) == (level.circuit, level.hz)
            if same and other.seq != level.seq and not any(first < seq < last for seq in moved):
                return other.side
        return level.side

    return tuple(replace(x, side=side(x)) for x in levels)


def falls_of(procedure: Procedure, levels: tuple[Level, ...], events: tuple[Event, ...]) -> Iterator[Fallen]:
    """Levels below a peak of the same circuit at the same point, where nothing of another circuit was moved between."""
    signals = {c.id for c in procedure.circuits if c.role == "signal"}
    instruments = instruments_of(procedure)
    found: list[tuple[Fallen, tuple[Level, ...]]] = []
    for level in levels:
        if level.peaked or level.circuit not in signals or not instruments.in_db:
            continue
        peaks = _peaks_of(procedure, level, levels, events)
        if not peaks:
            continue
        top, sd = fmean(p.db for p in peaks), instruments.level_sd_db() * math.sqrt(0.5 + 0.5 / len(peaks))
        below = max((top - level.db) * (1 if instruments.more_is_up else -1), 0.0)
        through = 0 if level.side else _went_through(level, levels, events)
        spot = Spot(level.hz, "received")
        fall = Fallen(level.seq, level.circuit, spot, level.hz, below, sd, level.side, through, level.short)
        found.append((fall, peaks))
    near_top = [peaks for fall, peaks in found if blunt(fall)]
    for fall, peaks in found:
        share = _shared(near_top.count(peaks), len(peaks)) if blunt(fall) else 1.0
        yield msgspec.structs.replace(fall, sd_db=fall.sd_db * share)


def _peaks_of(
    procedure: Procedure, level: Level, levels: tuple[Level, ...], events: tuple[Event, ...]
) -> tuple[Level, ...]:
    """The peaks whose top a level lies below: those made there while nothing of another circuit was moved."""
    moved = [e.seq for e in events if _foreign(procedure, e, level.circuit)]

    def alike(peak: Level) -> bool:
        first, last = min(peak.seq, level.seq), max(peak.seq, level.seq)
        return not any(first < seq < last for seq in moved)

    return tuple(p for p in levels if p.peaked and (p.circuit, p.hz) == (level.circuit, level.hz) and alike(p))


def _shared(falls: int, peaks: int) -> float:
    """By how much falls below the same peaks are less sure together than each alone: all are off by what the top is.

    With n falls and a correlation r between them the variance of their mean is (1 + (n - 1) r) times that of n
    independent ones; here r = 1 / (peaks + 1), for a level and a peak are read alike (the design effect of L. Kish,
    Survey Sampling, 1965; from memory).
    """
    return math.sqrt(1.0 + (falls - 1) / (peaks + 1.0))


def looks_of(procedure: Procedure, levels: tuple[Level, ...], events: tuple[Event, ...]) -> Iterator[Looked]:
    """Levels of a signal circuit that are no falls, where at least two lie below the same peak that was never seen."""
    instruments = instruments_of(procedure)
    if not instruments.in_db:
        return
    signals = {c.id for c in procedure.circuits if c.role == "signal"}
    used = {e.seq for e in events if not isinstance(e, Moved)}
    groups: dict[tuple[str, float, int], list[Level]] = {}
    for level in levels:
        if not level.peaked and level.circuit in signals and level.seq not in used:
            moved = [e.seq for e in events if _foreign(procedure, e, level.circuit) and e.seq < level.seq]
            groups.setdefault((level.circuit, level.hz, max(moved, default=-1)), []).append(level)
    up = 1 if instruments.more_is_up else -1
    for group in groups.values():
        greatest = max(up * level.db for level in group)
        for level in group if len(group) > 1 else ():
            yield Looked(
                seq=level.seq,
                circuit=level.circuit,
                spot=Spot(level.hz, "received"),
                hz=level.hz,
                level_db=up * level.db - greatest,
                sd_db=instruments.level_sd_db() / 2.0**0.5,
                top=group[0].seq,
            )


def _went_through(level: Level, levels: tuple[Level, ...], events: tuple[Event, ...]) -> int:
    """The fall from which one adjuster led through the peak and on to this level, where its turns were not counted."""
    here = [x for x in levels if (x.circuit, x.hz) == (level.circuit, level.hz) and x.seq < level.seq]
    if len(here) < 2 or not here[-1].peaked or here[-2].peaked:
        return 0
    moved = [e for e in events if isinstance(e, Moved) and here[-2].seq < e.seq < level.seq]
    one = len({e.adjuster for e in moved}) == 1 and all(e.turns is None for e in moved)
    return here[-2].seq if one and moved[-1].seq > here[-1].seq else 0


def _foreign(procedure: Procedure, event: Event, circuit: str) -> bool:
    return isinstance(event, Moved) and circuit not in procedure.adjuster(event.adjuster).circuits
