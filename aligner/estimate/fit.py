"""The fit: all events of a group of circuits, least squares with priors, robust, with covariance.

The unknowns q are, in this order: the settings of each circuit before the first movement, the whitened discrepancy at
each spot that was seen, what each circuit's coil carries with it, the effect per turn of each adjuster whose turns were counted and how that
changes along the travel, and one movement an event.
An effect whose sense is not known is at first a plain number about nought; when a few rounds have shown its sign, it
goes on as the logarithm of its size, because a core that changes nothing at all is no explanation of what was seen.
`Layout` gives them columns; a circuit's settings at any time are start + rows @ q, so that everything the fit needs is
a few matrices of noughts and ones made once, and an iteration is a handful of array operations.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from aligner.estimate.events import Event, Fallen, Moved, Sighted, Spot
from aligner.estimate.frame import CircuitFrame, Frame
from aligner.estimate.ladder import COIL, Array, ladder

NDArrayBool = NDArray[np.bool_]
NDArrayInt = NDArray[np.int64]

_ROUNDS = 16
_SETTLED = 1e-5  # of a prior standard deviation
_LONGEST_STEP = 1.5
_SENSE_ROUND = 4
_MOST_GROWTH = 2.0
_OUTLIER = 3.0  # standard deviations beyond which a sighting is weighed down
_MOVE_PRIOR = 0.2  # a movement whose turns nobody counted: as wide as the settings themselves
_PER_TURN_BEND = 0.06  # what a steady change of the effect along the travel leaves unsaid (relative, a turn)
_STEEPER = 0.2  # the effect per turn grows or shrinks along the travel by this share a turn (standard deviation)


@dataclass(frozen=True)
class Layout:
    """Columns of the unknowns."""

    circuits: tuple[str, ...]
    spots: dict[str, tuple[Spot, ...]]
    spot_column: dict[tuple[str, Spot], int]
    carried: dict[str, int]
    turned: dict[str, int]
    steeper: dict[str, int]
    moves: dict[int, int]
    count: int


@dataclass(frozen=True)
class Fit:
    """The result: mean and covariance of the unknowns, and what is needed to predict from them."""

    frame: Frame
    layout: Layout
    events: tuple[Event, ...]
    mean: Array
    covariance: Array
    whitener: dict[str, Array]
    senses: dict[str, int]  # +1 or -1: the effect is that times exp(unknown)
    weights: dict[int, float] = field(default_factory=dict)  # by seq, where a sighting was weighed down

    def effect(self, adjuster: str) -> tuple[float, float] | None:
        """Effect per turn where the adjuster stands now [1 a turn] and its standard error; None without counted turns."""
        column = self.layout.turned.get(adjuster)
        if column is None:
            return None
        net = sum(e.turns or 0.0 for e in self.events if isinstance(e, Moved) and e.adjuster == adjuster)
        rows = np.zeros(self.layout.count)
        rows[column], rows[self.layout.steeper[adjuster]] = 1.0, net
        size = float(np.exp(rows @ self.mean))
        return self.senses[adjuster] * size, size * float(np.sqrt(rows @ self.covariance @ rows))


def fit_of(frame: Frame, circuits: tuple[str, ...], events: tuple[Event, ...], places: dict[int, float]) -> Fit:
    """Least squares with priors of the unknowns of some circuits.

    Parameters
    ----------
    frame : Frame
        the scaled circuits
    circuits : tuple of str
        ids of the circuits of this group; they share no adjuster with others
    events : tuple of Event
        what happened to them, oldest first
    places : dict of int to float
        for each sighting's seq, the place on the scale [Hz] where the set then truly stood

    Returns
    -------
    Fit
        mean and covariance of the unknowns [1]

    Notes
    -----
    Gauss-Newton on r(q)^T W r(q) + (q - q0)^T P^-1 (q - q0), J analytic (`ladder`); derived. Robustness by reweighting
    (P. J. Huber, Robust Statistics, 1981, ch. 7; formula from memory): a residual beyond three standard deviations
    gets weight (3/|r|)^2.
    """
    layout = _layout(frame, circuits, events)
    whitener = {c: _whitener(frame.circuits[c], layout.spots[c]) for c in circuits}
    senses = {adjuster: frame.handles[adjuster].sense for adjuster in layout.turned}
    prior_mean, prior_sd = _prior(frame, layout, senses)
    blocks = [_circuit_block(frame, layout, c, events, places, whitener[c]) for c in circuits]
    turns = _turn_block(frame, layout, events, senses)
    white = np.zeros(layout.count)  # the unknowns in units of their priors, where the numbers are all of one size
    weights: dict[int, float] = {}
    normal = np.eye(layout.count)
    for n in range(_ROUNDS):
        mean = prior_mean + prior_sd * white
        if n == _SENSE_ROUND and 0 in senses.values():
            mean, senses = _with_senses(frame, layout, mean, senses)
            prior_mean, prior_sd = _prior(frame, layout, senses)
            white = np.divide(mean - prior_mean, prior_sd, out=np.zeros_like(mean), where=prior_sd > 0.0)
            turns = _turn_block(frame, layout, events, senses)
        normal = np.eye(layout.count)
        pull = -white
        for block in (*blocks, turns):
            linear = block.linear(mean)
            jacobian = linear.jacobian * prior_sd
            weighted = jacobian / (linear.sd**2)[:, None]
            normal += weighted.T @ jacobian
            pull = pull + weighted.T @ linear.residual
            weights.update(linear.weights)
        step = np.linalg.solve(normal, pull)
        size = float(np.max(np.abs(step), initial=0.0))
        white = white + step * min(1.0, _LONGEST_STEP / max(size, 1e-12))
        if size < _SETTLED and 0 not in senses.values():
            break
    mean = prior_mean + prior_sd * white
    covariance = np.linalg.inv(normal) * np.outer(prior_sd, prior_sd)
    return Fit(frame, layout, events, mean, covariance, whitener, senses, {s: w for s, w in weights.items() if w < 0.5})


def _layout(frame: Frame, circuits: tuple[str, ...], events: tuple[Event, ...]) -> Layout:
    column = 4 * len(circuits)
    spots: dict[str, tuple[Spot, ...]] = {}
    spot_column: dict[tuple[str, Spot], int] = {}
    for circuit in circuits:
        seen = sorted({e.spot for e in events if isinstance(e, Sighted | Fallen) and e.circuit == circuit}, key=_by_hz)
        spots[circuit] = tuple(seen)
        for spot in seen:
            spot_column[circuit, spot] = column
            column += 1
    carried = {circuit: column + n for n, circuit in enumerate(circuits)}
    column += len(circuits)
    turned = sorted({e.adjuster for e in events if isinstance(e, Moved) and e.turns is not None})
    turned_column = {adjuster: column + n for n, adjuster in enumerate(turned)}
    column += len(turned)
    steeper = {adjuster: column + n for n, adjuster in enumerate(turned)}
    column += len(turned)
    moves = {e.seq: column + n for n, e in enumerate(e for e in events if isinstance(e, Moved))}
    return Layout(circuits, spots, spot_column, carried, turned_column, steeper, moves, column + len(moves))


def _by_hz(spot: Spot) -> tuple[float, str]:
    return (spot.hz, spot.kind)


def bend_kernel(circuit: CircuitFrame, at_hz: Array, to_hz: Array) -> Array:
    """Prior covariance of the discrepancy between two lists of places: squared exponential.

    Parameters
    ----------
    circuit : CircuitFrame
        gives width [1] and reach [Hz]
    at_hz, to_hz : Array
        places [Hz], shapes (n,) and (m,)

    Returns
    -------
    Array
        covariance of ln y [1], shape (n, m)
    """
    apart = (at_hz[:, None] - to_hz[None, :]) / circuit.reach_hz
    return np.asarray(circuit.bend**2 * np.exp(-0.5 * apart * apart))


def _whitener(circuit: CircuitFrame, spots: tuple[Spot, ...]) -> Array:
    """Lower triangle that makes discrepancies at the spots of independent unit unknowns."""
    at = np.array([spot.hz for spot in spots])
    kernel = bend_kernel(circuit, at, at) + np.eye(len(spots)) * (0.05 * circuit.bend) ** 2
    return np.asarray(np.linalg.cholesky(kernel)) if len(spots) else np.zeros((0, 0))


def _prior(frame: Frame, layout: Layout, senses: dict[str, int]) -> tuple[Array, Array]:
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
    for column in layout.moves.values():
        sd[column] = _MOVE_PRIOR
    return mean, sd


def _with_senses(frame: Frame, layout: Layout, mean: Array, senses: dict[str, int]) -> tuple[Array, dict[str, int]]:
    """The unknowns with every effect as the logarithm of its size, and its sign where the readings have put it."""
    mean, known = mean.copy(), dict(senses)
    for adjuster, column in layout.turned.items():
        if not senses[adjuster]:
            known[adjuster] = 1 if mean[column] >= 0.0 else -1
            usual = frame.handles[adjuster].per_turn
            mean[column] = np.log(np.clip(abs(mean[column]), 0.3 * usual, 3.0 * usual))
    return mean, known


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
    before_seq : int
        movements with a smaller number count [1]

    Returns
    -------
    tuple of Array
        noughts and ones [1], shapes (4, unknowns) and (unknowns,)
    """
    rows = np.zeros((4, layout.count))
    coil = np.zeros(layout.count)
    first = 4 * layout.circuits.index(circuit)
    rows[np.arange(4), first + np.arange(4)] = 1.0
    for event in events:
        if isinstance(event, Moved) and event.seq < before_seq:
            handle = frame.handles[event.adjuster]
            if circuit in handle.adjuster.circuits:
                rows[handle.setting, layout.moves[event.seq]] = 1.0
                if handle.setting == COIL:
                    coil[layout.moves[event.seq]] = 1.0
    return rows, coil


def settings_at(fit: Fit, circuit: str, events: tuple[Event, ...], before_seq: int) -> tuple[Array, Array]:
    """A circuit's settings just before an event, and their derivatives to the unknowns.

    Parameters
    ----------
    fit : Fit
        the result
    circuit : str
        id
    events : tuple of Event
        oldest first
    before_seq : int
        movements with a smaller number count [1]

    Returns
    -------
    tuple of Array
        settings [1], shape (4,), and derivatives [1], shape (4, unknowns)
    """
    rows, coil = setting_rows(fit.frame, fit.layout, circuit, events, before_seq)
    frame, column = fit.frame.circuits[circuit], fit.layout.carried[circuit]
    settings = np.array(frame.start) + rows @ fit.mean
    moved = float(coil @ fit.mean)
    settings[frame.carrier] += fit.mean[column] * moved
    rows[frame.carrier] += fit.mean[column] * coil
    rows[frame.carrier, column] += moved
    return settings, rows


@dataclass(frozen=True, slots=True)
class _Linear:
    """A block of equations about a mean: jacobian (n, unknowns), residual (n,), sd (n,), and weights by seq."""

    jacobian: Array
    residual: Array
    sd: Array
    weights: dict[int, float]


@dataclass(frozen=True)
class _CircuitBlock:
    """All sightings of one circuit, ready for iterations."""

    circuit: CircuitFrame
    seqs: tuple[int, ...]
    incidence: Array  # (n, 4, unknowns)
    coil: Array  # (n, unknowns): the coil's movements before each sighting
    carried: int  # column of what the coil carries with it
    bend: Array  # (n, unknowns)
    u: Array
    target: Array  # ln y as seen; for falls ln y of the generator's frequency
    sd: Array
    fall_away: Array  # |ln y - target| that the fall tells, nought for sightings
    fall_sign: Array
    is_fall: NDArrayBool

    def linear(self, mean: Array) -> "_Linear":
        settings = np.array(self.circuit.start) + self.incidence @ mean
        moved = self.coil @ mean
        settings[:, self.circuit.carrier] += mean[self.carried] * moved
        value = ladder(self.u, settings)
        jacobian = np.einsum("nk,nkq->nq", value.by_setting, self.incidence) + self.bend
        by_carrier = value.by_setting[:, self.circuit.carrier]
        jacobian += (mean[self.carried] * by_carrier)[:, None] * self.coil
        jacobian[:, self.carried] += by_carrier * moved
        now = value.lny + self.bend @ mean
        side = np.where(self.fall_sign != 0, self.fall_sign, np.where(now >= self.target, 1.0, -1.0))
        residual = self.target + np.where(self.is_fall, side * self.fall_away, 0.0) - now
        far = np.abs(residual) / self.sd
        weight = np.where(far > _OUTLIER, (_OUTLIER / np.maximum(far, 1e-12)) ** 2, 1.0)
        down = {seq: float(w) for seq, w in zip(self.seqs, weight, strict=True)}
        return _Linear(jacobian, residual, self.sd / np.sqrt(weight), down)


def _circuit_block(
    frame: Frame, layout: Layout, circuit: str, events: tuple[Event, ...], places: dict[int, float], whitener: Array
) -> _CircuitBlock:
    own = frame.circuits[circuit]
    seen = [e for e in events if isinstance(e, Sighted | Fallen) and e.circuit == circuit]
    z = np.array([places[e.seq] for e in seen])
    incidence = np.zeros((len(seen), 4, layout.count))
    coil = np.zeros((len(seen), layout.count))
    bend = np.zeros((len(seen), layout.count))
    columns = [layout.spot_column[circuit, spot] for spot in layout.spots[circuit]]
    for n, event in enumerate(seen):
        incidence[n], coil[n] = setting_rows(frame, layout, circuit, events, event.seq)
        if columns:
            bend[n, columns] = whitener[layout.spots[circuit].index(event.spot)]
    hz = np.array([e.hz for e in seen])
    away = np.array([_fall_away(e) for e in seen])
    return _CircuitBlock(
        circuit=own,
        seqs=tuple(e.seq for e in seen),
        incidence=incidence,
        coil=coil,
        carried=layout.carried[circuit],
        bend=bend,
        u=own.law(z) if len(seen) else z,
        target=own.lny(hz) if len(seen) else hz,
        sd=np.array([_sd_lny(e) for e in seen]),
        fall_away=away,
        fall_sign=np.array([e.sign if isinstance(e, Fallen) else 0 for e in seen], dtype=np.float64),
        is_fall=np.array([isinstance(e, Fallen) for e in seen], dtype=bool),
    )


def _fall_away(event: Sighted | Fallen) -> float:
    """|ln y - ln y of the generator| of a fall: ln y is -2 ln f, and the fall is 10 lg(1 + (2 Q df/f)^2) dB.

    A fall whose side is not known says nought, with an uncertainty that holds both sides.
    """
    if isinstance(event, Sighted) or not event.sign:
        return 0.0
    return _detuning(event.fall_db) / event.q


def _detuning(fall_db: float) -> float:
    """2 Q df/f at which the level has fallen so far [dB]."""
    return float(np.sqrt(10.0 ** (max(fall_db, 0.0) / 10.0) - 1.0))


def _sd_lny(event: Sighted | Fallen) -> float:
    """Standard error of ln y; without a side a fall counts with its whole distance, and small ones reach to 95 %."""
    if isinstance(event, Sighted):
        return 2.0 * event.sd_hz / event.hz
    reach = _detuning(event.fall_db + 1.96 * event.sd_db) / event.q
    if event.sign:
        away = _fall_away(event)
        return float(np.hypot(max(reach - away, 1e-4) / 1.96, event.q_sd * away))
    return max(reach / 1.96, _detuning(event.fall_db) / event.q) * (1.0 + event.q_sd)


@dataclass(frozen=True)
class _TurnBlock:
    """Soft equations: movement = effect per turn * exp(steeper * middle) * turns.

    middle is the mean of the net turns before and after the movement: the effect is that half way through it.
    """

    moves: NDArrayInt
    effects: NDArrayInt
    steeper: NDArrayInt
    middle: Array
    senses: Array
    turns: Array
    sd_turns: Array
    usual: Array
    count: int

    def linear(self, mean: Array) -> "_Linear":
        raw = mean[self.effects]
        known = self.senses != 0.0
        growth = np.exp(np.clip(mean[self.steeper] * self.middle, -_MOST_GROWTH, _MOST_GROWTH))
        effect = growth * np.where(known, self.senses * np.exp(np.where(known, raw, 0.0)), raw)
        scale = np.where(known, np.abs(effect), np.maximum(np.abs(effect), 0.3 * self.usual))
        sd = scale * np.hypot(self.sd_turns, _PER_TURN_BEND * self.turns)
        jacobian = np.zeros((len(self.turns), self.count))
        at = np.arange(len(self.turns))
        jacobian[at, self.moves] = 1.0
        jacobian[at, self.effects] = -self.turns * np.where(known, effect, growth)
        jacobian[at, self.steeper] = -self.turns * effect * self.middle
        return _Linear(jacobian, effect * self.turns - mean[self.moves], sd, {})


def _turn_block(frame: Frame, layout: Layout, events: tuple[Event, ...], senses: dict[str, int]) -> _TurnBlock:
    rows = [e for e in events if isinstance(e, Moved) and e.turns is not None]
    return _TurnBlock(
        moves=np.array([layout.moves[e.seq] for e in rows], dtype=np.int64),
        effects=np.array([layout.turned[e.adjuster] for e in rows], dtype=np.int64),
        steeper=np.array([layout.steeper[e.adjuster] for e in rows], dtype=np.int64),
        middle=np.array([_middle(rows, e) for e in rows], dtype=np.float64),
        senses=np.array([senses[e.adjuster] for e in rows], dtype=np.float64),
        turns=np.array([e.turns for e in rows], dtype=np.float64),
        sd_turns=np.array([e.turns_sd for e in rows], dtype=np.float64),
        usual=np.array([frame.handles[e.adjuster].per_turn for e in rows], dtype=np.float64),
        count=layout.count,
    )


def _middle(rows: list[Moved], event: Moved) -> float:
    """Net turns of the adjuster half way through a movement, from where it first stood."""
    before = sum(e.turns or 0.0 for e in rows if e.adjuster == event.adjuster and e.seq < event.seq)
    return before + 0.5 * (event.turns or 0.0)
