"""The columns of the unknowns, their priors, and the rows that make a circuit's settings of them.

The unknowns q are, in this order: the settings of each circuit before the first movement, the whitened discrepancy at
each spot that was seen, what each circuit's coil carries with it, the effect per turn of each adjuster whose turns were
counted and how that changes along the travel, one movement an event, and what levels go by: Q, a wand's pulls, the tops
of peaks that were not seen. An effect is kept as the logarithm of its
size where its sense is known or supposed (+1 or -1), because a core that changes nothing at all is no explanation of
what was seen; with sense 0 it is a plain number about nought.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from aligner.estimate.events import Drifted, Event, Fallen, Looked, Moved, Seen, Spot, Wanded
from aligner.estimate.frame import CircuitFrame, Frame
from aligner.estimate.ladder import COIL, Array

_ROUGH = 0.01  # of the discrepancy: what is not smooth, and differs from spot to spot
_MOVE_PRIOR = 0.2  # a movement whose turns nobody counted: as wide as the settings themselves
_FERRITE_PULL, _BRASS_PULL, _PULL_SPREAD = 0.025, 0.018, 0.4
"""Shares by which a wand's ends raise and lower the inductance of a coil, and the spread of their logarithms: from coil
to coil it gets nearer or less near (common practice, no source)."""
BRASS_LOSS_DB = 0.5
_TOP_DB, _TOP_SPREAD_DB = 3.0, 8.0
"""How far a peak that was not seen lies above the greatest level seen at its place: anything (no source)."""
_ANY_DRIFT = 30.0
"""In standard deviations of a drift: as wide as its unknown is before `drifting` says what is usual."""
_EVEN, _TILTED = 0.8, 0.6
"""Parts of a drift that are even over the scale and that differ from end to end (common practice, no source)."""
_WIDTHS = {"wand": 3, "drifts": 2}
"""How many columns each key of a layout's names has, where that is more than one."""
_STEEPER = 0.45  # the effect per turn grows or shrinks along the travel by this share a turn (standard deviation)
_CORE_BENT, _BENT = (-0.2, 0.1), (0.0, 0.15)
"""How that share itself changes, a turn: mean and standard deviation. A core does most half way in, and little with its
end at the coil's mouth or in its middle: over seven turns its effect is a bell. Of others only that it may (common
practice, no source)."""
_CORES = ("ferrite-core", "brass-core")


@dataclass(frozen=True)
class Layout:
    """Columns of the unknowns."""

    circuits: tuple[str, ...]
    spots: dict[str, tuple[Spot, ...]]
    spot_column: dict[tuple[str, Spot], int]
    carried: dict[str, int]
    turned: dict[str, int]
    steeper: dict[str, int]
    bent: dict[str, int]
    moves: dict[int, int]
    quality: dict[str, int]  # ln Q, where falls or wand tests go by it
    wand: dict[str, int]  # first of three: ln of ferrite's and of brass's pull, brass's loss in dB
    tops: dict[int, int]  # an unseen peak, in dB above the greatest level seen below it
    drifts: dict[int, int]  # first of two, in their own standard deviations: even over the scale, and by `tilt_of`
    count: int


def layout_of(circuits: tuple[str, ...], events: tuple[Event, ...]) -> Layout:
    """The columns for some circuits and what happened to them."""
    column = 4 * len(circuits)
    spots: dict[str, tuple[Spot, ...]] = {}
    spot_column: dict[tuple[str, Spot], int] = {}
    for circuit in circuits:
        spots[circuit] = _spots_of(events, circuit)
        for spot in spots[circuit]:
            spot_column[circuit, spot] = column
            column += 1
    carried = {circuit: column + n for n, circuit in enumerate(circuits)}
    column += len(circuits)
    turned = sorted({e.adjuster for e in events if isinstance(e, Moved) and e.turns is not None})
    turned_column = {adjuster: column + n for n, adjuster in enumerate(turned)}
    column += len(turned)
    steeper = {adjuster: column + n for n, adjuster in enumerate(turned)}
    column += len(turned)
    bent = {adjuster: column + n for n, adjuster in enumerate(turned)}
    column += len(turned)
    moves = {e.seq: column + n for n, e in enumerate(e for e in events if isinstance(e, Moved))}
    column += len(moves)
    by_q = [c for c in circuits if any(isinstance(e, Fallen | Looked | Wanded) and e.circuit == c for e in events)]
    quality = {circuit: column + n for n, circuit in enumerate(by_q)}
    column += len(by_q)
    tested = [c for c in circuits if any(isinstance(e, Wanded) and e.circuit == c for e in events)]
    wand = {circuit: column + 3 * n for n, circuit in enumerate(tested)}
    column += 3 * len(tested)
    tops = {top: column + n for n, top in enumerate(sorted({e.top for e in events if isinstance(e, Looked)}))}
    column += len(tops)
    drifts = {e.seq: column + 2 * n for n, e in enumerate(e for e in events if isinstance(e, Drifted))}
    column += 2 * len(drifts)
    return Layout(
        circuits, spots, spot_column, carried, turned_column, steeper, bent, moves, quality, wand, tops, drifts, column
    )


def _spots_of(events: tuple[Event, ...], circuit: str) -> tuple[Spot, ...]:
    """Where a circuit was seen, by frequency; last where it was only looked at: looks leave the other columns alone."""
    seen = [e for e in events if isinstance(e, Seen) and e.circuit == circuit]
    told = {e.spot for e in seen if not isinstance(e, Looked)}
    return tuple(sorted({e.spot for e in seen}, key=lambda spot: (spot not in told, spot.hz, spot.kind)))


def columns_in(small: Layout, large: Layout) -> NDArray[np.int64]:
    """Where the columns of a layout stand in one of more events: (unknowns of the small one,) [1]."""
    at = np.arange(small.count)  # the settings of the same circuits come first in both
    for named in ("spot_column", "carried", "turned", "steeper", "bent", "moves", "quality", "wand", "tops", "drifts"):
        here, there, width = getattr(small, named), getattr(large, named), _WIDTHS.get(named, 1)
        for key, column in here.items():
            at[column : column + width] = there[key] + np.arange(width)
    return at


def bend_kernel(circuit: CircuitFrame, at_hz: Array, to_hz: Array) -> Array:
    """Prior covariance of the discrepancy between two lists of places: squared exponential.

    Bends are smooth over the shaft, whose travel per ln z is the longer the lower z is (with straight plates as 1/z^2,
    with plates for a straight scale as z): they run over F/z, or over that power of it that the law of the gang gives.

    A circuit that follows an oscillator is seen at places that this makes: what the oscillator leaves open of them adds
    to the circuit's own discrepancy. Both run alike over the scale, so that it counts by the ratio of frequencies.

    Parameters
    ----------
    circuit : CircuitFrame [1]
        gives width [1] and reach in (F/z)^travel [1], its leader and the places [Hz] where that was seen
    at_hz, to_hz : Array [Hz]
        places [Hz], shapes (n,) and (m,)

    Returns
    -------
    Array
        covariance of ln y [1], shape (n, m)
    """
    power, unit = -circuit.travel, circuit.f_mid_hz**circuit.travel
    apart = unit * (at_hz[:, None] ** power - to_hz[None, :] ** power) / circuit.reach
    own = np.asarray(circuit.bend**2 * np.exp(-0.5 * apart * apart))
    if circuit.leader is None:
        return own
    at, to = (circuit.leader.wanted_hz(z) / z for z in (at_hz, to_hz))
    return np.asarray(own + at[:, None] * _left_open(circuit.leader, circuit.led_hz, at_hz, to_hz) * to[None, :])


def _left_open(circuit: CircuitFrame, seen_hz: tuple[float, ...], at_hz: Array, to_hz: Array) -> Array:
    """Covariance (n, m) [1] of a circuit's discrepancy between places [Hz] when it is known where it was seen."""
    whole = bend_kernel(circuit, at_hz, to_hz)
    if not seen_hz:
        return whole
    seen = np.array(seen_hz)
    among = bend_kernel(circuit, seen, seen) + np.eye(len(seen)) * (_ROUGH * circuit.bend) ** 2
    known = bend_kernel(circuit, at_hz, seen) @ np.linalg.solve(among, bend_kernel(circuit, seen, to_hz))
    return np.asarray(whole - known)


def whitener_of(circuit: CircuitFrame, spots: tuple[Spot, ...]) -> Array:
    """Lower triangle [1] that makes discrepancies at the spots of independent unit unknowns."""
    if not spots:
        return np.zeros((0, 0))
    at = np.array([spot.hz for spot in spots])
    kernel = bend_kernel(circuit, at, at) + np.eye(len(spots)) * (_ROUGH * circuit.bend) ** 2
    return np.asarray(np.linalg.cholesky(kernel))


def prior_of(frame: Frame, layout: Layout, senses: dict[str, int]) -> tuple[Array, Array]:
    """Prior mean and standard deviation of the unknowns (unknowns,) [1] for senses [1]; nought: no such setting."""
    mean = np.zeros(layout.count)
    sd = np.ones(layout.count)
    for n, circuit in enumerate(layout.circuits):
        spread = np.array(frame.circuits[circuit].spread)
        sd[4 * n : 4 * n + 4] = spread  # nought: that setting does not exist, and stays
        mean[layout.carried[circuit]], sd[layout.carried[circuit]] = frame.circuits[circuit].carried
    for adjuster, column in layout.turned.items():
        handle = frame.handles[adjuster]
        mean[column] = np.log(handle.per_turn) if senses[adjuster] else 0.0
        sd[column] = handle.per_turn_spread if senses[adjuster] else handle.per_turn
    for column in layout.steeper.values():
        sd[column] = _STEEPER
    for adjuster, column in layout.bent.items():
        core = frame.handles[adjuster].adjuster.kind in _CORES
        mean[column], sd[column] = _CORE_BENT if core else _BENT
    for column in layout.moves.values():
        sd[column] = _MOVE_PRIOR
    for column in layout.drifts.values():
        sd[column : column + 2] = _ANY_DRIFT
    for circuit, column in layout.quality.items():
        own = frame.circuits[circuit]
        mean[column], sd[column] = np.log(own.q), own.q_sd
    for column in layout.tops.values():
        mean[column], sd[column] = _TOP_DB, _TOP_SPREAD_DB
    for column in layout.wand.values():
        mean[column : column + 3] = np.log(_FERRITE_PULL), np.log(_BRASS_PULL), BRASS_LOSS_DB
        sd[column : column + 3] = _PULL_SPREAD, _PULL_SPREAD, BRASS_LOSS_DB / 2.0
    return mean, sd


def setting_rows(
    frame: Frame, layout: Layout, circuit: str, events: tuple[Event, ...], before_seq: int
) -> tuple[Array, Array]:
    """Rows that make a circuit's settings of the unknowns, and its coil's whole movement, just before an event.

    Parameters
    ----------
    frame : Frame
        the scaled circuits
    layout : Layout
        columns
    circuit : str
        id
    events : tuple of Event
        oldest first
    before_seq : int [1]
        movements with a smaller number count [1]

    Returns
    -------
    tuple of Array
        noughts and ones [1], shapes (4, unknowns) and (unknowns,)
    """
    rows = np.zeros((4, layout.count))
    coil = np.zeros(layout.count)
    rows[np.arange(4), own_columns(layout, circuit)] = 1.0
    for seq, setting in moves_of(frame, circuit, events):
        if seq < before_seq:
            rows[setting, layout.moves[seq]] = 1.0
            if setting == COIL:
                coil[layout.moves[seq]] = 1.0
    return rows, coil


def own_columns(layout: Layout, circuit: str) -> NDArray[np.int64]:
    """The columns [1] of a circuit's own four settings before anything was moved."""
    return 4 * layout.circuits.index(circuit) + np.arange(4)


def moves_of(frame: Frame, circuit: str, events: tuple[Event, ...]) -> list[tuple[int, int]]:
    """Number of the event and setting's column [1] of each movement that moves a circuit, oldest first."""
    handles = frame.handles
    moved = [(e.seq, handles[e.adjuster]) for e in events if isinstance(e, Moved)]
    return [(seq, handle.setting) for seq, handle in moved if circuit in handle.adjuster.circuits]


def tilt_of(circuit: CircuitFrame, z_hz: Array) -> Array:
    """What a drift of one standard deviation adds at places (n, 2) [1]: even over the scale, and from end to end.

    Parameters
    ----------
    circuit : CircuitFrame [1]
        its F and the ends of the scale [Hz]
    z_hz : Array [Hz]
        places [Hz], shape (n,)

    Returns
    -------
    Array
        parts of a standard deviation in ln y [1], shape (n, 2); their squares are one in all at the ends
    """
    ends = 1.0 / circuit.low_hz, 1.0 / circuit.high_hz
    along = (2.0 / z_hz - sum(ends)) / (ends[1] - ends[0])
    tilt = np.empty((len(z_hz), 2))
    tilt[:, 0], tilt[:, 1] = _EVEN, _TILTED * along
    return tilt


def drift_rows(layout: Layout, circuit: str, events: tuple[Event, ...], before_seq: int) -> Array:
    """The rows (2, unknowns) [1] that make of the unknowns what a circuit drifted in ln y just before an event.

    Parameters
    ----------
    layout : Layout
        columns
    circuit : str
        id
    events : tuple of Event
        oldest first
    before_seq : int [1]
        drifts with a smaller number count [1]

    Returns
    -------
    Array
        standard deviations of ln y [1] of what is even and what is tilted, shape (2, unknowns)
    """
    rows = np.zeros((2, layout.count))
    for event in events:
        if isinstance(event, Drifted) and event.circuit == circuit and event.seq < before_seq:
            column = layout.drifts[event.seq]
            rows[0, column] = rows[1, column + 1] = event.sd
    return rows
