"""Levels that were read, and what they tell: falls below a peak of the circuit itself, or looks below an unseen one."""

import math
from bisect import bisect_left, bisect_right
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
    moved = sorted(e.seq for e in events if isinstance(e, Moved))
    tested = [x for x in levels if x.side]

    def side(level: Level) -> int:
        for other in tested:
            same = (other.circuit, other.hz) == (level.circuit, level.hz)
            if same and other.seq != level.seq and not _between(moved, level.seq, other.seq):
                return other.side
        return level.side

    return tuple(replace(x, side=side(x)) for x in levels) if tested else levels


def falls_of(procedure: Procedure, levels: tuple[Level, ...], events: tuple[Event, ...]) -> Iterator[Fallen]:
    """Levels below a peak of the same circuit at the same point, where nothing of another circuit was moved between."""
    instruments = instruments_of(procedure)
    foreign, there = _foreign(procedure, events), _by_place(levels)
    found: list[tuple[Fallen, tuple[Level, ...]]] = []
    for level in levels:
        if level.peaked or level.circuit not in foreign or not instruments.in_db:
            continue
        here = there[level.circuit, level.hz]
        peaks = tuple(p for p in here if p.peaked and not _between(foreign[level.circuit], p.seq, level.seq))
        if not peaks:
            continue
        top, sd = fmean(p.db for p in peaks), instruments.level_sd_db() * math.sqrt(0.5 + 0.5 / len(peaks))
        below = max((top - level.db) * (1 if instruments.more_is_up else -1), 0.0)
        through = 0 if level.side else _went_through(level, here, events)
        spot = Spot(level.hz, "received")
        fall = Fallen(level.seq, level.circuit, spot, level.hz, below, sd, level.side, through, level.short)
        found.append((fall, peaks))
    near_top = [peaks for fall, peaks in found if blunt(fall)]
    for fall, peaks in found:
        share = _shared(near_top.count(peaks), len(peaks)) if blunt(fall) else 1.0
        yield msgspec.structs.replace(fall, sd_db=fall.sd_db * share)


def _foreign(procedure: Procedure, events: tuple[Event, ...]) -> dict[str, list[int]]:
    """Numbers of the movements of adjusters that are none of a circuit's, in their order, by signal circuit."""
    moved = [(e.seq, procedure.adjuster(e.adjuster).circuits) for e in events if isinstance(e, Moved)]
    signals = [c.id for c in procedure.circuits if c.role == "signal"]
    return {circuit: sorted(seq for seq, own in moved if circuit not in own) for circuit in signals}


def _by_place(levels: tuple[Level, ...]) -> dict[tuple[str, float], list[Level]]:
    """The levels of each circuit with the generator at each frequency, oldest first."""
    there: dict[tuple[str, float], list[Level]] = {}
    for level in levels:
        there.setdefault((level.circuit, level.hz), []).append(level)
    return there


def _between(seqs: list[int], one: int, other: int) -> bool:
    """Whether one of some numbers, which are in their order, lies between two."""
    return bisect_right(seqs, min(one, other)) < bisect_left(seqs, max(one, other))


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
    foreign = _foreign(procedure, events)
    used = {e.seq for e in events if not isinstance(e, Moved)}
    groups: dict[tuple[str, float, int], list[Level]] = {}
    for level in levels:
        if not level.peaked and level.circuit in foreign and level.seq not in used:
            before = bisect_left(foreign[level.circuit], level.seq)  # with each movement there is another top
            groups.setdefault((level.circuit, level.hz, before), []).append(level)
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


def _went_through(level: Level, there: list[Level], events: tuple[Event, ...]) -> int:
    """The fall from which one adjuster led through the peak and on to this level, where its turns were not counted.

    `there` are the levels of its circuit at its place.
    """
    here = [x for x in there if x.seq < level.seq]
    if len(here) < 2 or not here[-1].peaked or here[-2].peaked:
        return 0
    moved = [e for e in events if isinstance(e, Moved) and here[-2].seq < e.seq < level.seq]
    one = len({e.adjuster for e in moved}) == 1 and all(e.turns is None for e in moved)
    return here[-2].seq if one and moved[-1].seq > here[-1].seq else 0
