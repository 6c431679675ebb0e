"""ln y of a circuit at the places and times where it was seen, and its derivatives to the unknowns of a fit.

A search asks for this hundreds of times for each answer, of a few sightings each time: what it takes is the number of
operations, hardly the size of their arrays. So all that makes numbers of the unknowns lies below each other in one
matrix, and settings that a circuit does not have are left out of it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from aligner.estimate.events import Drifted, Event, Seen
from aligner.estimate.frame import CircuitFrame, Frame
from aligner.estimate.ladder import COIL, INNER, OUTER, SERIES, Array, ladder
from aligner.estimate.layout import Layout, moves_of, own_columns, tilt_of

Slopes = Callable[[], Array]
"""Derivatives (n, unknowns) that are worked out when they are wanted: many a trial step is judged by its cost alone."""


@dataclass(frozen=True)
class Given:
    """What the equations are made of. places: by seq of a sighting, where on the scale [Hz] the set stood."""

    frame: Frame
    layout: Layout
    events: tuple[Event, ...]
    places: dict[int, float]
    whitener: dict[str, Array]


@dataclass(frozen=True)
class Forward:
    """ln y of one circuit at the places and times of some sightings, and its derivatives to the unknowns."""

    circuit: CircuitFrame
    settings: Array  # (k, n, unknowns): makes the settings; the coil's with what bends and drifts add
    coil: Array  # (n, unknowns): the coil's movements before each sighting
    whole: Array  # ((k + 1) n, unknowns): both, one below the other
    start: Array  # (k, 1): the settings before anything is known
    carried: int  # column of what the coil carries with it
    carries: bool  # whether it was moved before any of the sightings
    u: Array

    def lny(self, mean: Array) -> tuple[Array, Slopes]:
        """ln y [1], shape (n,), and derivatives [1], shape (n, unknowns), at the unknowns' mean [1]."""
        count, carrier, share = len(self.start), self.circuit.carrier, mean[self.carried]
        made = self.whole.dot(mean).reshape(count + 1, -1)
        settings, moved = made[:count], made[count]
        settings += self.start
        if self.carries:
            settings[carrier] += share * moved
        value = ladder(self.u, settings.T, padded=count > INNER + 1)

        def slopes() -> Array:
            by_carrier = value.by_outer if carrier == OUTER else value.by_inner
            by_setting = self.settings[carrier] + share * self.coil if self.carries else self.settings[carrier]
            jacobian = self.settings[COIL] + by_carrier[:, None] * by_setting
            if carrier == OUTER:
                jacobian += value.by_inner[:, None] * self.settings[INNER]
                jacobian += value.by_series[:, None] * self.settings[SERIES]
            if self.carries:
                jacobian[:, self.carried] += by_carrier * moved
            return np.asarray(jacobian)

        return value.lny, slopes

    def alike(self, one: int, other: int) -> bool:
        """Whether sightings one [1] and other [1], by index, have one ln y: nothing moved between, one place."""
        same = self.settings[:, one] == self.settings[:, other]
        return bool(self.u[one] == self.u[other] and same.all() and (self.coil[one] == self.coil[other]).all())


def forward_of(problem: Given, circuit: str, seen: Sequence[Seen]) -> Forward:
    """The forward model of a circuit for some of its sightings."""
    frame, layout = problem.frame, problem.layout
    own = frame.circuits[circuit]
    seqs = np.array([e.seq for e in seen])
    there = np.arange(4 if own.padded else 2)
    whole = np.zeros((len(there) + 1, len(seen), layout.count))
    settings, coil = whole[:-1], whole[-1]
    settings[there, :, own_columns(layout, circuit)[there]] = 1.0
    for move, setting in moves_of(frame, circuit, problem.events):
        settings[setting, seqs > move, layout.moves[move]] = 1.0
        if setting == COIL:
            coil[seqs > move, layout.moves[move]] = 1.0
    z = np.array([problem.places[e.seq] for e in seen])
    settings[COIL] += _bends(problem, circuit, seen, seqs)
    return Forward(
        circuit=own,
        settings=settings,
        coil=coil,
        whole=whole.reshape(-1, layout.count),
        start=np.array(own.start)[there, None],
        carried=layout.carried[circuit],
        carries=bool(coil.any()),
        u=own.law(z) if seen else z,
    )


def _bends(problem: Given, circuit: str, seen: Sequence[Seen], seqs: NDArray[np.int64]) -> Array:
    """What makes of the unknowns (n, unknowns) the discrepancy at each sighting, and what has drifted by then."""
    layout = problem.layout
    bend = np.zeros((len(seen), layout.count))
    if seen:
        row = {spot: n for n, spot in enumerate(layout.spots[circuit])}
        columns = [layout.spot_column[circuit, spot] for spot in row]
        bend[:, columns] = problem.whitener[circuit][[row[e.spot] for e in seen]]
    drifted = [e for e in problem.events if isinstance(e, Drifted) and e.circuit == circuit]
    if not drifted:
        return bend
    along = tilt_of(problem.frame.circuits[circuit], np.array([problem.places[e.seq] for e in seen]))
    for drift in drifted:
        after, column = seqs > drift.seq, layout.drifts[drift.seq]
        bend[after, column : column + 2] = drift.sd * along[after]
    return bend
