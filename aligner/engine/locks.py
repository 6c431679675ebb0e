"""What was locked, in which order, and whether anything moved by it; read from the entries of a seal step.

A lock is no touch of the tool. Where the readings after it differ from those before by more than the step allows, it
did move its adjusters all the same, and the model is told so: what rests on them is then looked at again.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from aligner.engine.answers import Done, Reading
from aligner.engine.asks import Confirm, Point, Read
from aligner.engine.history import Entry
from aligner.engine.instruments import instruments_of, point_of
from aligner.estimate.events import Event, Moved
from aligner.procedure.model import Limit, Procedure, SealStep

MOST_TIMES = 3
"""Times that one lock is made; what still moves then is moved by the lock itself."""


@dataclass(frozen=True, slots=True)
class Locked:
    """A lock that was made: its place in the step's list and the entry that confirmed it."""

    lock: int
    seq: int


def locked(step: SealStep, entries: tuple[Entry, ...], events: tuple[Event, ...]) -> tuple[Locked, ...]:
    """The locks that were made, oldest first: each confirmation is of the first lock that was open when it came."""
    made: list[Locked] = []
    for entry in entries:
        ask = entry.ask
        if isinstance(ask, Confirm) and ask.step == step.id and not ask.hazard and isinstance(entry.answer, Done):
            pending = open_lock(step, tuple(made), events, entry.seq)
            if pending is not None:
                made.append(Locked(pending, entry.seq))
    return tuple(made)


def open_lock(
    step: SealStep, made: tuple[Locked, ...], events: tuple[Event, ...], before_seq: int | None = None
) -> int | None:
    """The first lock that is not made, or whose adjusters were turned since; None where all hold."""
    for place, lock in enumerate(step.locks):
        own = [one.seq for one in made if one.lock == place]
        turned = [
            e.seq
            for e in events
            if isinstance(e, Moved) and e.adjuster in lock.adjusters and (before_seq is None or e.seq < 2 * before_seq)
        ]
        if not own or (len(own) < MOST_TIMES and any(seq > 2 * own[-1] for seq in turned)):
            return place
    return None


def shift_of(procedure: Procedure, entries: tuple[Entry, ...], made: Locked, limit: Limit) -> float | None:
    """How far a limit's reading moved by a lock, in the limit's unit; None unless it was read on both sides of it."""
    before = after = None
    for entry in entries:
        ask = entry.ask
        if isinstance(ask, Read) and isinstance(entry.answer, Reading) and _same(ask, limit):
            if entry.seq < made.seq:
                before = entry.answer.value
            else:
                after = entry.answer.value
                break
        if isinstance(ask, Confirm) and entry.seq > made.seq and isinstance(entry.answer, Done):
            break
    if before is None or after is None:
        return None
    if limit.quantity == "frequency":
        counting = instruments_of(procedure)
        return counting.oscillator_hz(after) - counting.oscillator_hz(before)
    return after - before


def _same(ask: Read, limit: Limit) -> bool:
    point: Point = point_of(limit.place)
    return (ask.quantity, ask.point) == (limit.quantity, point) and limit.circuit in {"", ask.circuit}


def moved_by_locks(procedure: Procedure, entries: tuple[Entry, ...], events: tuple[Event, ...]) -> Iterator[Moved]:
    """The movements that locks made, by what was read before and after each."""
    for step in procedure.steps:
        if isinstance(step, SealStep):
            for made in locked(step, entries, events):
                shifts = [(shift_of(procedure, entries, made, limit), limit.within) for limit in step.limits]
                if any(shift is not None and abs(shift) > within for shift, within in shifts):
                    for adjuster in step.locks[made.lock].adjusters:
                        yield Moved(2 * made.seq, adjuster)
