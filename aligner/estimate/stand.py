"""A circuit as one fit puts it, and at places of the scale: what stays the same while nobody turns or reads it.

The same places are asked for many times of one circuit, by every step and goal and by every step of a search. So what
does not depend on how an adjuster is moved is worked out once for each: the tuning element, and what bends and drifts
add. Stands are compared by identity; their numbers never change.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from scipy.linalg.lapack import dtrtri

from aligner.estimate.events import Event
from aligner.estimate.fit import Fit
from aligner.estimate.frame import CircuitFrame
from aligner.estimate.ladder import COIL, OUTER, SERIES, Array, LadderValue, ladder
from aligner.estimate.layout import bend_kernel, drift_rows, setting_rows, tilt_of

_PLACE_ROUNDS = 5
_PLACE_SETTLED = 1e-9


@dataclass(frozen=True, eq=False)
class Stand:
    """One circuit after some of the movements of a fit.

    settings (4,) [1] are the means; rows (4, unknowns) make them of the fit's unknowns. drift (2, unknowns) makes of
    them what ln y have drifted by.
    """

    frame: CircuitFrame
    fit: Fit
    settings: Array
    rows: Array
    drift: Array

    def at(self, z_hz: Array) -> "Curve":
        """The circuit at places z_hz [Hz], shape (n,); kept, because the same places are asked for again and again."""
        return _curve(self, z_hz.tobytes())

    def hz_once(self, z_hz: Array) -> Array:
        """Expected frequency [Hz] at places z_hz [Hz], shape (n,), that nobody asks for again: nothing is kept."""
        lny = ladder(self.frame.law(z_hz), self.settings, padded=self.padded).lny
        if self.has_drifted:
            lny = lny + tilt_of(self.frame, z_hz) @ self.drifted
        if self.spot_columns:
            lny = lny + bend_kernel(self.frame, z_hz, self.spots_hz) @ self.bend
        return self.frame.hz(lny)

    @cached_property
    def padded(self) -> bool:
        """Whether a padder, or a capacitance across the coil, is anything but nought."""
        return bool(self.settings[OUTER] or self.settings[SERIES])

    def push(self, setting: int) -> Array:
        """What moving a setting [1, its column] by one does to all settings (4,) [1]: a coil carries some along."""
        push = np.zeros(4)
        push[setting] = 1.0
        if setting == COIL:
            push[self.frame.carrier] = self.fit.mean[self.fit.layout.carried[self.frame.id]]
        return push

    @cached_property
    def has_drifted(self) -> bool:
        """Whether anything has, by then."""
        return bool(self.drift.any())

    @cached_property
    def drifted(self) -> Array:
        """What ln y have drifted by (2,) [1]: evenly, and from end to end of the scale."""
        return np.asarray(self.drift.dot(self.fit.mean))

    @cached_property
    def spots_hz(self) -> Array:
        """Where the circuit was seen [Hz], shape (spots,)."""
        return np.array([spot.hz for spot in self.fit.layout.spots[self.frame.id]])

    @cached_property
    def spot_columns(self) -> list[int]:
        """The columns [1] of its discrepancy there, (spots,)."""
        return [self.fit.layout.spot_column[self.frame.id, spot] for spot in self.fit.layout.spots[self.frame.id]]

    @cached_property
    def colouring(self) -> Array:
        """Inverse (spots, spots) [1/1] of the whitener, transposed."""
        return np.asarray(dtrtri(self.fit.whitener[self.frame.id], lower=True)[0].T)

    @cached_property
    def bend(self) -> Array:
        """What each seen spot (spots,) [1] adds to the discrepancy elsewhere, by its kernel (conditional mean)."""
        return np.asarray(self.colouring.dot(self.fit.mean[self.spot_columns]))


def stand_of(fit: Fit, circuit: str, events: tuple[Event, ...], before_seq: int) -> Stand:
    """A circuit by a fit as it stood just before an event.

    Parameters
    ----------
    fit : Fit
        the result
    circuit : str
        id
    events : tuple of Event
        oldest first
    before_seq : int [1]
        movements and drifts with a smaller number count [1]

    Returns
    -------
    Stand
        its settings [1] and what makes them
    """
    settings, rows = settings_at(fit, circuit, events, before_seq)
    return Stand(fit.frame.circuits[circuit], fit, settings, rows, drift_rows(fit.layout, circuit, events, before_seq))


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
    before_seq : int [1]
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


@lru_cache(maxsize=512)
def _curve(stand: Stand, z_hz: bytes) -> "Curve":
    return Curve(stand, np.frombuffer(z_hz))


@dataclass(frozen=True, eq=False)
class Curve:
    """A stand at places z_hz [Hz], shape (n,)."""

    stand: Stand
    z_hz: Array

    def lny(self, shift: Array | None = None) -> Array:
        """Expected ln y [1], shape (n,), after a shift (4,) [1] of the settings."""
        return self._whole(self._plain(shift).lny)

    def hz(self, shift: Array | None = None) -> Array:
        """Expected frequency [Hz], shape (n,), after a shift (4,) [1] of the settings."""
        return self._hz if shift is None else self.stand.frame.hz(self.lny(shift))

    def ladder(self, shift: Array | None = None) -> LadderValue:
        """Expected ln y [1], shape (n,), and its derivatives to the settings, (n, 4), after a shift (4,) [1]."""
        plain = self._plain(shift)
        return LadderValue(self._whole(plain.lny), plain.v, plain.shrink, plain.whole)

    def jacobian(self, shift: Array | None = None) -> Array:
        """Derivatives of ln y [1] to the unknowns, shape (n, unknowns), after a shift (4,) [1]."""
        stand = self.stand
        jacobian = np.asarray(self._plain(shift).by_setting.dot(stand.rows))
        if stand.spot_columns:
            jacobian[:, stand.spot_columns] += self._told
        if stand.has_drifted:
            jacobian += self._along.dot(stand.drift)
        return jacobian

    @cached_property
    def known(self) -> Array:
        """Covariance (n, n) [1] of ln y by the fit, the unseen part of the discrepancy included."""
        jacobian = self.jacobian()
        return _fixed(jacobian.dot(self.stand.fit.covariance).dot(jacobian.T) + self.unseen)

    @cached_property
    def variance(self) -> Array:
        """Of ln y at each place (n,) [1] by the fit: the diagonal of `known`."""
        return self.known.diagonal()

    @cached_property
    def unseen(self) -> Array:
        """What the seen spots leave open of the discrepancy, (n, n) [1]."""
        whole = bend_kernel(self.stand.frame, self.z_hz, self.z_hz)
        return _fixed(whole - self._told @ self._told.T if self.stand.spot_columns else whole)

    def _plain(self, shift: Array | None) -> LadderValue:
        """Without what drift and bends add."""
        stand = self.stand
        if shift is None:
            return ladder(self._u, stand.settings, padded=stand.padded)
        settings = stand.settings + shift
        return ladder(self._u, settings, padded=bool(settings[OUTER] or settings[SERIES]))

    def _whole(self, plain_lny: Array) -> Array:
        """With what drift and bends add to the circuit of plain settings."""
        return plain_lny + self._added

    @cached_property
    def _added(self) -> Array:
        """What drift and bends add to ln y (n,) [1]."""
        stand, added = self.stand, np.zeros(len(self.z_hz))
        if stand.has_drifted:
            added += self._along.dot(stand.drifted)
        if stand.spot_columns:
            added += self._reached.dot(stand.bend)
        return added

    @cached_property
    def _along(self) -> Array:
        return _ground(self.stand.frame, self.z_hz.tobytes())[1]

    @cached_property
    def _u(self) -> Array:
        return _ground(self.stand.frame, self.z_hz.tobytes())[0]

    @cached_property
    def _hz(self) -> Array:
        return _fixed(self.stand.frame.hz(self.lny()))

    @cached_property
    def _reached(self) -> Array:
        """Prior covariance (n, spots) [1] of the discrepancy with that at the seen spots."""
        return bend_kernel(self.stand.frame, self.z_hz, self.stand.spots_hz)

    @cached_property
    def _told(self) -> Array:
        """What carries the whitened discrepancy at the seen spots on to these places (n, spots) [1]."""
        return np.asarray(self._reached @ self.stand.colouring)


@lru_cache(maxsize=256)
def _ground(frame: CircuitFrame, z_hz: bytes) -> tuple[Array, Array]:
    """The tuning element and how drifts tilt at places: by the frame alone, so that it is kept from fit to fit."""
    places = np.frombuffer(z_hz)
    return _fixed(frame.law(places)), _fixed(tilt_of(frame, places))


def _fixed(values: Array) -> Array:
    """Values that are handed out more than once, so that nobody may write into them."""
    values.setflags(write=False)
    return values


@lru_cache(maxsize=256)
def received_places(oscillator: Stand, received_hz: tuple[float, ...]) -> Array:
    """The places where an oscillator stands one IF from received frequencies, by Newton steps.

    Parameters
    ----------
    oscillator : Stand [Hz]
        the oscillator, at some time
    received_hz : tuple of float [Hz]
        what is to be received

    Returns
    -------
    Array
        places on the scale [Hz], in the same order
    """
    frame, received = oscillator.frame, np.array(received_hz, dtype=np.float64)  # whole hertz may be integers
    z = received.copy()
    wanted = received + frame.offset_hz
    low, high = 0.5 * frame.low_hz, 2.0 * frame.high_hz
    for _ in range(_PLACE_ROUNDS):
        f = oscillator.hz_once(np.concatenate((z, z * 1.001)))
        slope = (f[len(z) :] - f[: len(z)]) / (0.001 * z)
        # An oscillator that absurd readings hold at one frequency has no slope: its places stay where they are.
        step = np.divide(f[: len(z)] - wanted, slope, out=np.zeros_like(z), where=slope != 0.0)
        z = np.minimum(np.maximum(z - step, low), high)
        if max(map(abs, step.tolist())) < _PLACE_SETTLED * low:
            break
    return _fixed(z)
