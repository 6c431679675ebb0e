"""How far circuits may have moved by themselves between their readings: pulled by others, with time, by locks.

What is read again a minute later with nothing else turned differs by what the reading's own standard error holds
already (`instruments`); here is what comes on top of that. It widens what is believed and asks for nothing.
"""

import math
from bisect import bisect_right
from collections.abc import Iterator
from itertools import accumulate, pairwise

from aligner.engine.history import Entry
from aligner.engine.locks import locked
from aligner.estimate.events import Drifted, Event, Moved, Sighted
from aligner.estimate.frame import Frame
from aligner.procedure.model import Procedure, SealStep

_PULLED = 3.5e-5
"""By one adjuster of a signal circuit on the oscillator's ln y: 1.8 kHz at 100 MHz (common practice, no source)."""
_UNSETTLED = 5e-5
"""By what is left of a warm-up, and draughts, on the oscillator's ln y in the long run: 2.5 kHz at 100 MHz."""
_SETTLING_MIN = 15.0
"""Minutes in which most of that has happened (common practice, no source)."""
_AT_ONCE_MIN = 5.0
"""Minutes from one reading to the next that the reading's own standard error covers."""
_LOCKED = 8e-5
"""By wax or lacquer on one adjuster, on its circuits' ln y: a few parts in ten thousand of its travel (common practice,
no source)."""


def drifts(
    procedure: Procedure, frame: Frame, entries: tuple[Entry, ...], events: tuple[Event, ...]
) -> Iterator[Drifted]:
    """The drifts of a band's circuits before each of their sightings, and since the last."""
    waxed, clock = _waxed(procedure, entries, events), _Clock(entries)
    now = 2 * entries[-1].seq + 3 if entries else 0
    pulling = _pulling(frame, events)
    for circuit in frame.circuits:
        if not waxed and circuit != frame.oscillator:
            continue  # what drifts by itself is the oscillator
        seen = [e.seq for e in events if isinstance(e, Sighted) and e.circuit == circuit]
        for before, after in pairwise((*seen, now)):
            locks = [names for seq, names in waxed if before < seq < after]
            square = _LOCKED**2 * sum(circuit in procedure.adjuster(name).circuits for names in locks for name in names)
            if circuit == frame.oscillator:
                minutes = clock.minute(after) - clock.minute(before)
                pulled = {name for seq, name in pulling if before < seq < after}
                square += _wandered(len(pulled), minutes)
            if square > 0.0:
                yield Drifted(after - 1, circuit, math.sqrt(square))


def _waxed(
    procedure: Procedure, entries: tuple[Entry, ...], events: tuple[Event, ...]
) -> list[tuple[int, tuple[str, ...]]]:
    """The locks that were made, as the number of an event, and the adjusters of each."""
    seals = [step for step in procedure.steps if isinstance(step, SealStep)]
    return [(2 * made.seq, step.locks[made.lock].adjusters) for step in seals for made in locked(step, entries, events)]


class _Clock:
    """When the events of some entries, oldest first, fell."""

    def __init__(self, entries: tuple[Entry, ...]) -> None:
        self._seqs = [2 * entry.seq for entry in entries]
        self._at_s = list(accumulate((entry.at_s for entry in entries), max, initial=0.0))

    def minute(self, seq: int) -> float:
        """The whole minute of the job in which an event fell."""
        return self._at_s[bisect_right(self._seqs, seq)] // 60.0


def _pulling(frame: Frame, events: tuple[Event, ...]) -> list[tuple[int, str]]:
    """The movements of adjusters that are none of the oscillator's: number of the event, and which."""
    moved = [(e.seq, e.adjuster) for e in events if isinstance(e, Moved)]
    return [(seq, name) for seq, name in moved if frame.oscillator not in frame.handles[name].adjuster.circuits]


def _wandered(pulling: int, minutes: float) -> float:
    """Variance [1] of the oscillator's ln y between two readings."""
    if not pulling and minutes < _AT_ONCE_MIN:
        return 0.0
    return pulling * _PULLED**2 + _UNSETTLED**2 * (1.0 - math.exp(-minutes / _SETTLING_MIN))
