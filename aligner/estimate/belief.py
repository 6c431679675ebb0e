"""What is believed of every circuit after a list of events, and the questions that advice asks of it."""

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np

from aligner.estimate.events import Drifted, Event, Moved, Seen, Sighted, Spot
from aligner.estimate.fit import Fit, fits_of, settings_at
from aligner.estimate.frame import CircuitFrame, Followed, Frame, following
from aligner.estimate.ladder import COIL, Array, ladder, ladder_lny
from aligner.estimate.layout import bend_kernel, drift_row

_LAST = 10**9
_PLACE_ROUNDS = 5
_USUAL_READINGS = 0.5
"""That a bench is as usual counts as much as so many readings of it."""
_CALMEST = 0.9
"""Hardly any bench scatters less than this part of what is usual (common practice, no source)."""
_IN_DOUBT = 4.0
"""By so many parts in the number of readings is a scatter beyond the usual taken for more: few readings tell little of
it, and parts that no reading shows are coarse where hands and instruments are (common practice, no source)."""
_PLACE_SETTLED = 1e-9


@dataclass(frozen=True)
class CircuitBelief:
    """One circuit as it is believed to stand now.

    settings (4,) [1] are the present means; rows (4, unknowns) make them of the fit's unknowns. others are the same
    circuit by less likely, still credible fits: mirror images, while a sense of rotation is open. noise [1] is how many
    times more than usual the readings of this bench scatter, as far as they tell. drift (unknowns,) makes of them what
    all ln y have drifted by; unrest [1] is the standard deviation of what they may have drifted since the last reading.
    """

    frame: CircuitFrame
    fit: Fit
    settings: Array
    rows: Array
    drift: Array
    unrest: float = 0.0
    noise: float = 1.0
    others: tuple["CircuitBelief", ...] = ()

    def lny(self, z_hz: Array, shift: Array | None = None) -> Array:
        """Expected ln y [1] at places z_hz [Hz], shape (n,), after a shift (4,) [1] of the settings."""
        settings = self.settings if shift is None else self.settings + shift
        value = ladder_lny(self.frame.law(z_hz), settings) + float(self.drift @ self.fit.mean)
        if not self._spot_columns:
            return value
        return np.asarray(value + bend_kernel(self.frame, z_hz, self._spots_hz) @ self._bend)

    def hz(self, z_hz: Array, shift: Array | None = None) -> Array:
        """Expected frequency [Hz] of the circuit at places z_hz [Hz], shape (n,), after a shift (4,) [1]."""
        return self.frame.hz(self.lny(z_hz, shift))

    def by_setting(self, z_hz: Array, shift: Array | None = None) -> Array:
        """Derivatives of ln y [1] to the settings at places z_hz [Hz], shape (n, 4), after a shift (4,) [1]."""
        settings = self.settings if shift is None else self.settings + shift
        return ladder(self.frame.law(z_hz), settings).by_setting

    def jacobian(self, z_hz: Array, shift: Array | None = None) -> Array:
        """Derivatives of ln y [1] to the unknowns at places z_hz [Hz], shape (n, unknowns), after a shift (4,) [1]."""
        return self.by_setting(z_hz, shift) @ self.rows + self._bend_rows(z_hz) + self.drift

    def covariance(self, z_hz: Array) -> Array:
        """Covariance (n, n) [1] of ln y at places z_hz [Hz], the unseen part of the discrepancy included."""
        jacobian = self.jacobian(z_hz)
        known = jacobian @ self.fit.covariance @ jacobian.T + self.unseen(z_hz)
        return np.asarray(self.noise**2 * (known + self.unrest**2))

    @property
    def rested(self) -> "CircuitBelief":
        """The same as if nothing could have drifted since the last reading: nobody reads again for that alone."""
        return replace(self, unrest=0.0, others=tuple(replace(other, unrest=0.0) for other in self.others))

    def push(self, setting: int) -> Array:
        """What moving a setting [1, its column] by one does to all settings (4,) [1]: a coil carries some along."""
        push = np.zeros(4)
        push[setting] = 1.0
        if setting == COIL:
            push[self.frame.carrier] = self.fit.mean[self.fit.layout.carried[self.frame.id]]
        return push

    def sd_hz(self, z_hz: Array) -> Array:
        """Standard error [Hz] of the circuit's frequency at places z_hz [Hz], shape (n,)."""
        return 0.5 * self.hz(z_hz) * np.sqrt(np.maximum(np.diag(self.covariance(z_hz)), 0.0))

    @cached_property
    def _spots_hz(self) -> Array:
        return np.array([spot.hz for spot in self.fit.layout.spots[self.frame.id]])

    @cached_property
    def _spot_columns(self) -> list[int]:
        return [self.fit.layout.spot_column[self.frame.id, spot] for spot in self.fit.layout.spots[self.frame.id]]

    @cached_property
    def _colouring(self) -> Array:
        """Inverse (spots, spots) [1/1] of the whitener, transposed."""
        return np.asarray(np.linalg.inv(self.fit.whitener[self.frame.id]).T)

    @cached_property
    def _bend(self) -> Array:
        """What each seen spot (spots,) [1] adds to the discrepancy elsewhere, by its kernel (conditional mean)."""
        return np.asarray(self._colouring @ self.fit.mean[self._spot_columns])

    def _bend_rows(self, z_hz: Array) -> Array:
        """Rows (n, unknowns) that carry the discrepancy at the seen spots on to other places (conditional mean)."""
        rows = np.zeros((len(z_hz), self.fit.layout.count))
        if self._spot_columns:
            rows[:, self._spot_columns] = bend_kernel(self.frame, z_hz, self._spots_hz) @ self._colouring
        return rows

    def unseen(self, z_hz: Array) -> Array:
        """What the seen spots leave open of the discrepancy at places z_hz [Hz], (n, n) [1]."""
        whole = bend_kernel(self.frame, z_hz, z_hz)
        if self._spot_columns:
            half = bend_kernel(self.frame, z_hz, self._spots_hz) @ self._colouring
            whole = whole - half @ half.T
        return whole


@dataclass(frozen=True)
class Belief:
    """Every circuit of a frame after the same events."""

    frame: Frame
    events: tuple[Event, ...]
    circuits: dict[str, CircuitBelief]

    def places_hz(self, spots: tuple[Spot, ...]) -> Array:
        """Where on the scale [Hz] spots are now, shape (n,): "received" lies where the oscillator truly makes it."""
        z = np.array([spot.hz for spot in spots])
        received = np.array([spot.kind == "received" for spot in spots])
        if self.frame.oscillator in self.circuits and received.any():
            z[received] = _received_places(self.circuits[self.frame.oscillator], z[received])
        return z

    def effect(self, adjuster: str) -> tuple[float, float] | None:
        """Effect per turn of an adjuster on its setting [1] and its standard error [1]; None without counted turns."""
        return self.circuits[self.frame.handles[adjuster].adjuster.circuits[0]].fit.effect(adjuster)


def belief_of(frame: Frame, events: tuple[Event, ...]) -> Belief:
    """The belief after events, oldest first; the oscillator's circuit is fitted first, the others by groups.

    Parameters
    ----------
    frame : Frame
        the scaled circuits
    events : tuple of Event
        what happened, frequencies in Hz

    Returns
    -------
    Belief
        means and covariances of every circuit [1]
    """
    return _belief_of(_Key(frame, (), events, ()))


@lru_cache(maxsize=16)
def _belief_of(key: "_Key") -> Belief:
    frame, events = key.frame, key.events
    circuits: dict[str, CircuitBelief] = {}
    oscillator: CircuitBelief | None = None
    read = {e.spot.hz for e in events if isinstance(e, Sighted) and e.circuit == frame.oscillator}
    led = following(Followed(frame, tuple(sorted(read))))
    for group in _groups(frame):
        own = tuple(e for e in events if _concerns(frame, e, group))
        places = _places(oscillator, own, events)
        fits = _cached_fits(_Key(led, group, _told(own), tuple(sorted(places.items()))))
        for circuit in group:
            best, *others = (_believed(fit, circuit, own) for fit in fits)
            circuits[circuit] = replace(best, others=tuple(others))
        if frame.oscillator in group:
            oscillator = circuits[frame.oscillator]
    noise = _noise([circuit.fit for circuit in circuits.values()])
    return Belief(frame, events, {name: _noisy(circuit, noise) for name, circuit in circuits.items()})


def _noise(fits: list[Fit]) -> float:
    """How many times the usual scatter the readings of all circuits show [1], from a prior of one.

    The root of (n0 + found) / (n0 + expected): the mean of an inverse chi-square prior of n0 readings that scatter as
    usual (A. Gelman et al., Bayesian Data Analysis, ch. 2; from memory). What is more than usual counts more.
    """
    once = {id(fit): fit for fit in fits}.values()  # circuits that share an adjuster share their fit
    found, expected = sum(fit.scatter[0] for fit in once), sum(fit.scatter[1] for fit in once)
    told = _USUAL_READINGS + max(expected, 0.0)
    shown = float(np.sqrt((_USUAL_READINGS + found) / told))
    return max(_CALMEST, shown + max(shown - 1.0, 0.0) * _IN_DOUBT / max(told, _IN_DOUBT))


def _noisy(circuit: CircuitBelief, noise: float) -> CircuitBelief:
    if not circuit.fit.layout.spots[circuit.frame.id]:  # nothing was read of it: all is from before
        return circuit
    return replace(circuit, noise=noise, others=tuple(replace(other, noise=noise) for other in circuit.others))


@dataclass(frozen=True)
class _Key:
    """What a fit depends on; frames are compared by identity (they are cached themselves)."""

    frame: Frame
    group: tuple[str, ...]
    events: tuple[Event, ...]
    places: tuple[tuple[int, float], ...]

    def __hash__(self) -> int:
        return hash((id(self.frame), self.group, self.events, self.places))

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, _Key)
            and self.frame is other.frame
            and (self.group, self.events, self.places) == (other.group, other.events, other.places)
        )


def _told(events: tuple[Event, ...]) -> tuple[Event, ...]:
    """The events without the drifts that no later reading tells of: they change no fit."""
    last = {e.circuit: e.seq for e in events if isinstance(e, Seen)}
    return tuple(e for e in events if not isinstance(e, Drifted) or e.seq < last.get(e.circuit, 0))


def _believed(fit: Fit, circuit: str, events: tuple[Event, ...]) -> CircuitBelief:
    settings, rows = settings_at(fit, circuit, events, _LAST)
    drift = drift_row(fit.layout, circuit, fit.events, _LAST)
    since = [e.sd for e in events if isinstance(e, Drifted) and e.circuit == circuit and e not in fit.events]
    return CircuitBelief(fit.frame.circuits[circuit], fit, settings, rows, drift, float(np.linalg.norm(since)))


@lru_cache(maxsize=64)
def _cached_fits(key: _Key) -> tuple[Fit, ...]:
    return fits_of(key.frame, key.group, key.events, dict(key.places))


def _groups(frame: Frame) -> list[tuple[str, ...]]:
    """Circuits that share an adjuster together, the oscillator's group first."""
    groups = [{circuit} for circuit in frame.circuits]
    for handle in frame.handles.values():
        joined = [g for g in groups if g & set(handle.adjuster.circuits)]
        if len(joined) > 1:
            groups = [g for g in groups if g not in joined] + [set().union(*joined)]
    order = list(frame.circuits)
    ranked = sorted(groups, key=lambda g: (frame.oscillator not in g, min(order.index(c) for c in g)))
    return [tuple(sorted(g, key=order.index)) for g in ranked]


def _concerns(frame: Frame, event: Event, group: tuple[str, ...]) -> bool:
    if isinstance(event, Moved):
        return any(circuit in group for circuit in frame.handles[event.adjuster].adjuster.circuits)
    return event.circuit in group


def _places(oscillator: CircuitBelief | None, own: tuple[Event, ...], events: tuple[Event, ...]) -> dict[int, float]:
    """Where on the scale each sighting was made, rounded to a hertz so that the fit can be cached."""
    seen = [e for e in own if isinstance(e, Seen)]
    places = {e.seq: e.spot.hz for e in seen}
    if oscillator is None:
        return places
    moves = [e.seq for e in events if isinstance(e, Moved) and e.seq in oscillator.fit.layout.moves]
    then: dict[int, list[Seen]] = {}
    for event in seen:
        if event.spot.kind == "received":
            then.setdefault(sum(seq < event.seq for seq in moves), []).append(event)
    for together in then.values():
        as_it_stood = _as_of(oscillator, moves, together[0].seq)
        received = np.array([e.spot.hz for e in together])
        found = _received_places(as_it_stood, received)
        places.update({e.seq: float(round(hz)) for e, hz in zip(together, found.tolist(), strict=True)})
    return places


def _as_of(circuit: CircuitBelief, moves: list[int], seq: int) -> CircuitBelief:
    """The circuit as it stood before the event `seq`, by today's fit; `moves` are the numbers of its movements."""
    if all(move < seq for move in moves):
        return circuit
    settings, rows = settings_at(circuit.fit, circuit.frame.id, circuit.fit.events, seq)
    drift = drift_row(circuit.fit.layout, circuit.frame.id, circuit.fit.events, seq)
    return CircuitBelief(circuit.frame, circuit.fit, settings, rows, drift)


def _received_places(oscillator: CircuitBelief, received_hz: Array) -> Array:
    """The places [Hz] where the oscillator stands one IF from received_hz (n,), by Newton steps."""
    z = received_hz.copy()
    wanted = received_hz + oscillator.frame.offset_hz
    low, high = 0.5 * oscillator.frame.low_hz, 2.0 * oscillator.frame.high_hz
    for _ in range(_PLACE_ROUNDS):
        f = oscillator.hz(np.concatenate((z, z * 1.001)))
        slope = (f[len(z) :] - f[: len(z)]) / (0.001 * z)
        step = (f[: len(z)] - wanted) / slope
        z = np.minimum(np.maximum(z - step, low), high)
        if np.max(np.abs(step)) < _PLACE_SETTLED * low:
            break
    return z
