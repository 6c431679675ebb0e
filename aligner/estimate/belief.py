"""What is believed of every circuit after a list of events, and the questions that advice asks of it."""

import math
from bisect import bisect_left
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np

from aligner.estimate.events import Drifted, Event, Fallen, Looked, Moved, Seen, Sighted, Spot, Wanded
from aligner.estimate.fit import Fit
from aligner.estimate.frame import CircuitFrame, Followed, Frame, following
from aligner.estimate.key import Key
from aligner.estimate.ladder import Array
from aligner.estimate.modes import fits_of
from aligner.estimate.stand import Stand, received_places, settings_at, stand_of

_LAST = 10**9
_USUAL_READINGS = 0.5
"""That a bench is as usual counts as much as so many readings of it."""
_CALMEST = 0.9
"""Hardly any bench scatters less than this part of what is usual (common practice, no source)."""
_IN_DOUBT = 6.0
"""By so many parts in the number of readings is a scatter beyond the usual taken for more: few readings tell little of
it, and parts that no reading shows are coarse where hands and instruments are (common practice, no source)."""

_LITTLE = 0.25
"""Widths of a circuit by which its places may have moved without its sides being in doubt again."""


@dataclass(frozen=True, eq=False)
class CircuitBelief:
    """One circuit as it is believed to stand now.

    others are the same circuit by less likely, still credible fits: mirror images, while a sense of rotation is open.
    noise [1] is how many times more than usual the readings of this bench scatter, as far as they tell, and peaks for
    their width. unrest [1] is the standard deviation of what all ln y may have drifted since the last reading.
    """

    stand: Stand
    unrest: float = 0.0
    noise: float = 1.0
    others: tuple["CircuitBelief", ...] = ()

    @property
    def frame(self) -> CircuitFrame:
        """The scaled circuit."""
        return self.stand.frame

    @property
    def fit(self) -> Fit:
        """The fit behind it."""
        return self.stand.fit

    @property
    def settings(self) -> Array:
        """The present means (4,) [1]."""
        return self.stand.settings

    @property
    def quality(self) -> tuple[float, float]:
        """Its Q [1] and the relative standard error of that [1], as far as levels have told of it."""
        column = self.fit.layout.quality.get(self.frame.id)
        if column is None:
            return self.frame.q, self.frame.q_sd
        return float(np.exp(self.fit.mean[column])), float(np.sqrt(self.fit.covariance[column, column]))

    def lny(self, z_hz: Array, shift: Array | None = None) -> Array:
        """Expected ln y [1] at places z_hz [Hz], shape (n,), after a shift (4,) [1] of the settings."""
        return self.stand.at(z_hz).lny(shift)

    def hz(self, z_hz: Array, shift: Array | None = None) -> Array:
        """Expected frequency [Hz] of the circuit at places z_hz [Hz], shape (n,), after a shift (4,) [1]."""
        return self.stand.at(z_hz).hz(shift)

    def by_setting(self, z_hz: Array, shift: Array | None = None) -> Array:
        """Derivatives of ln y [1] to the settings at places z_hz [Hz], shape (n, 4), after a shift (4,) [1]."""
        return self.stand.at(z_hz).ladder(shift).by_setting

    def jacobian(self, z_hz: Array, shift: Array | None = None) -> Array:
        """Derivatives of ln y [1] to the unknowns at places z_hz [Hz], shape (n, unknowns), after a shift (4,) [1]."""
        return self.stand.at(z_hz).jacobian(shift)

    def covariance(self, z_hz: Array) -> Array:
        """Covariance (n, n) [1] of ln y at places z_hz [Hz], the unseen part of the discrepancy included."""
        return np.asarray(self.noise**2 * (self.stand.at(z_hz).known + self.unrest**2))

    @cached_property
    def rested(self) -> "CircuitBelief":
        """The same as if nothing could have drifted since the last reading: nobody reads again for that alone."""
        if not self.unrest and not any(other.unrest for other in self.others):
            return self
        return replace(self, unrest=0.0, others=tuple(replace(other, unrest=0.0) for other in self.others))

    def before(self, seq: int) -> "CircuitBelief":
        """The same with the adjusters as they stood before the event of number seq [1], by today's fit; drifts stay."""
        settings, rows = settings_at(self.fit, self.frame.id, self.fit.events, seq)
        return replace(self, stand=replace(self.stand, settings=settings, rows=rows), others=())

    def push(self, setting: int) -> Array:
        """What moving a setting [1, its column] by one does to all settings (4,) [1]: a coil carries some along."""
        return self.stand.push(setting)

    def sd_hz(self, z_hz: Array) -> Array:
        """Standard error [Hz] of the circuit's frequency at places z_hz [Hz], shape (n,)."""
        there = self.stand.at(z_hz)
        variance = self.noise**2 * (there.variance + self.unrest**2)
        return np.asarray(0.5 * there.hz() * np.sqrt(np.maximum(variance, 0.0)))

    def unseen(self, z_hz: Array) -> Array:
        """What the seen spots leave open of the discrepancy at places z_hz [Hz], (n, n) [1]."""
        return self.stand.at(z_hz).unseen


@dataclass(frozen=True)
class Belief:
    """Every circuit of a frame after the same events."""

    frame: Frame
    events: tuple[Event, ...]
    circuits: dict[str, CircuitBelief]

    def places_hz(self, spots: tuple[Spot, ...]) -> Array:
        """Where on the scale [Hz] spots are now, shape (n,): "received" lies where the oscillator truly makes it."""
        oscillator = self.circuits.get(self.frame.oscillator)
        return _places_hz(None if oscillator is None else oscillator.stand, spots)

    def effect(self, adjuster: str) -> tuple[float, float] | None:
        """Effect per turn of an adjuster on its setting [1] and its standard error [1]; None without counted turns."""
        return self.circuits[self.frame.handles[adjuster].adjuster.circuits[0]].fit.effect(adjuster)


@lru_cache(maxsize=256)
def _places_hz(oscillator: Stand | None, spots: tuple[Spot, ...]) -> Array:
    z = np.array([spot.hz for spot in spots])
    received = np.array([spot.kind == "received" for spot in spots])
    if oscillator is not None and received.any():
        z[received] = received_places(oscillator, tuple(z[received].tolist()))
    z.setflags(write=False)
    return z


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
    return _belief_of(Key(frame, (), events, ()))


@lru_cache(maxsize=16)
def _belief_of(key: Key) -> Belief:
    frame, events = key.frame, key.events
    circuits: dict[str, CircuitBelief] = {}
    oscillator: Stand | None = None
    read = {e.spot.hz for e in events if isinstance(e, Sighted) and e.circuit == frame.oscillator}
    led = following(Followed(frame, tuple(sorted(read))))
    for group in _groups(frame):
        own = tuple(e for e in events if _concerns(frame, e, group))
        key = _key(led, group, own, _places(oscillator, own, events))
        stands = _stands(key, _before(key, events) if oscillator else None)
        for circuit in group:
            unrest = _unrest(own, circuit)
            best, *others = (CircuitBelief(stand, unrest) for stand in stands[circuit])
            circuits[circuit] = replace(best, others=tuple(others)) if others else best
        if frame.oscillator in group:
            oscillator = circuits[frame.oscillator].stand
    fits = [circuit.fit for circuit in circuits.values()]
    noisy = {name: _noisy(circuit, _noise(fits, circuit.fit.tests)) for name, circuit in circuits.items()}
    return Belief(frame, events, noisy)


def _noise(fits: list[Fit], tests: tuple[float, float]) -> float:
    """How many times the usual scatter readings of all circuits and tests of one circuit show [1], from a prior of one.

    The root of (n0 + found) / (n0 + expected): the mean of an inverse chi-square prior of n0 readings that scatter as
    usual (A. Gelman et al., Bayesian Data Analysis, ch. 2; from memory). What is more than usual counts more.
    """
    once = {id(fit): fit for fit in fits}.values()  # circuits that share an adjuster share their fit
    found, expected = tests[0] + sum(fit.scatter[0] for fit in once), tests[1] + sum(fit.scatter[1] for fit in once)
    told = _USUAL_READINGS + max(expected, 0.0)
    shown = float(np.sqrt((_USUAL_READINGS + found) / told))
    return max(_CALMEST, shown + max(shown - 1.0, 0.0) * _IN_DOUBT / max(told, _IN_DOUBT))


def _noisy(circuit: CircuitBelief, noise: float) -> CircuitBelief:
    if not circuit.fit.layout.spots[circuit.frame.id]:  # nothing was read of it: all is from before
        return circuit
    here = noise * _by_width(circuit, noise)
    return replace(circuit, noise=here, others=tuple(replace(other, noise=here) for other in circuit.others))


def _by_width(circuit: CircuitBelief, noise: float) -> float:
    """How many times more than is stated peaks may be off [1], the width that they are left off by parts of in doubt.

    The root of the mean of 1/Q^2 where ln Q is normal: exp(s^2). By a wand it is the pulls that are in doubt.
    """
    layout, name = circuit.fit.layout, circuit.frame.id
    if name not in layout.quality or name in layout.wand:
        return 1.0
    column = layout.quality[name]
    return float(np.exp(noise**2 * circuit.fit.covariance[column, column]))


def _told(events: tuple[Event, ...]) -> tuple[Event, ...]:
    """The events without the drifts that no later reading tells of: they change no fit."""
    last = _last_seen(events)
    return tuple(e for e in events if not isinstance(e, Drifted) or e.seq < last.get(e.circuit, 0))


def _unrest(events: tuple[Event, ...], circuit: str) -> float:
    """Standard deviation [1] of what a circuit drifted after all that was seen of it."""
    drifted = [e for e in events if isinstance(e, Drifted) and e.circuit == circuit]
    last = _last_seen(events).get(circuit, 0) if drifted else 0
    return math.hypot(*(e.sd for e in drifted if e.seq >= last))


def _last_seen(events: tuple[Event, ...]) -> dict[str, int]:
    return {e.circuit: e.seq for e in events if isinstance(e, Seen)}


def _key(frame: Frame, group: tuple[str, ...], own: tuple[Event, ...], places: dict[int, float]) -> Key:
    return Key(frame, group, _told(own), tuple(sorted(places.items())))


def _before(key: Key, events: tuple[Event, ...]) -> Key | None:
    """What a group's fit depended on when the group itself was last turned or seen, where its places were near today's.

    What was read of the oscillator since moves them by a little. Where solutions had to be sought on both sides of
    falls and in both senses, they need not be sought again for that.
    """
    frame, last = key.frame, max((e.seq for e in key.events), default=0)
    by_level = any(isinstance(e, Fallen | Looked) for e in key.events)
    if not by_level or any(isinstance(e, Wanded) for e in key.events):
        return None
    then = tuple(e for e in events if e.seq <= last)
    ahead = _groups(frame)[0]
    own = tuple(e for e in then if _concerns(frame, e, ahead))
    stands = _stands(_key(frame, ahead, own, _places(None, own, then)), None)
    before = replace(key, places=tuple(sorted(_places(stands[frame.oscillator][0], key.events, then).items())))
    return before if before.places != key.places and _near(before, key) else None


def _near(before: Key, now: Key) -> bool:
    """Whether all places of two keys differ by little of the width of a circuit."""
    q = max(now.frame.circuits[circuit].q for circuit in now.group)
    pairs = zip(before.places, now.places, strict=True)
    return all(2.0 * q * abs(then - today) < _LITTLE * today for (_, then), (_, today) in pairs)


@lru_cache(maxsize=64)
def _stands(key: Key, before: Key | None) -> dict[str, tuple[Stand, ...]]:
    """Each circuit of a group by every credible fit, the likeliest first; `before` as in `fits_of`."""
    fits = fits_of(key, before)
    return {c: tuple(stand_of(fit, c, fit.events, _LAST) for fit in fits) for c in key.group}


@lru_cache(maxsize=32)
def _groups(frame: Frame) -> tuple[tuple[str, ...], ...]:
    """Circuits that share an adjuster together, the oscillator's group first."""
    groups = [{circuit} for circuit in frame.circuits]
    for handle in frame.handles.values():
        joined = [g for g in groups if g & set(handle.adjuster.circuits)]
        if len(joined) > 1:
            groups = [g for g in groups if g not in joined] + [set().union(*joined)]
    order = list(frame.circuits)
    ranked = sorted(groups, key=lambda g: (frame.oscillator not in g, min(order.index(c) for c in g)))
    return tuple(tuple(sorted(g, key=order.index)) for g in ranked)


def _concerns(frame: Frame, event: Event, group: tuple[str, ...]) -> bool:
    if isinstance(event, Moved):
        return any(circuit in group for circuit in frame.handles[event.adjuster].adjuster.circuits)
    return event.circuit in group


def _places(oscillator: Stand | None, own: tuple[Event, ...], events: tuple[Event, ...]) -> dict[int, float]:
    """Where on the scale each sighting was made, rounded to a hertz so that the fit can be cached."""
    seen = [e for e in own if isinstance(e, Seen)]
    places = {e.seq: e.spot.hz for e in seen}
    if oscillator is None:
        return places
    moves = [e.seq for e in events if isinstance(e, Moved) and e.seq in oscillator.fit.layout.moves]
    then: dict[int, list[Seen]] = {}
    for event in seen:
        if event.spot.kind == "received":
            then.setdefault(bisect_left(moves, event.seq), []).append(event)
    for together in then.values():
        as_it_stood = _as_of(oscillator, tuple(moves), together[0].seq)
        wanted = tuple(sorted({e.spot.hz for e in together}))  # a place read again is a place that is known already
        found = dict(zip(wanted, received_places(as_it_stood, wanted).tolist(), strict=True))
        places.update({e.seq: float(round(found[e.spot.hz])) for e in together})
    return places


def _as_of(stand: Stand, moves: tuple[int, ...], seq: int) -> Stand:
    """The circuit as it stood before the event `seq`, by today's fit; `moves` are the numbers of its movements."""
    if all(move < seq for move in moves):
        return stand
    return _stood(stand.fit, stand.frame.id, seq)


@lru_cache(maxsize=64)
def _stood(fit: Fit, circuit: str, seq: int) -> Stand:
    return stand_of(fit, circuit, fit.events, seq)
