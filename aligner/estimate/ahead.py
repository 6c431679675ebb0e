"""Peaks still to come, priced before they are made: what each, and each pair, will leave of a circuit's errors.

A peak nails the circuit to the generator at one place g, as well as the peak is found (sd). With r(p) what the adjuster
moves the circuit at a place p for each unit at g, the errors e and their covariance V become

    e'(p) = e(p) - r(p) e(g),        V' = T V T^T + sd^2 r r^T,        T = 1 - r (row of g),

whatever will be read: it is the step of a Kalman filter with a movement of which nothing is known and the measured
value nought (derived here).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from aligner.estimate.ladder import Array

_UNSAFE = 2.0
"""How much more than the band's error counts what a point, its doubt added, lies outside its tolerance."""
_OUT = np.inf


@dataclass(frozen=True, slots=True)
class Ground:
    """A circuit at n places: errors (n,) and their covariance (n, n), both in tolerances [1].

    own (n,) tells the step's own points, which must be within one tolerance with `safe` standard errors [1] added.
    """

    errors: Array
    covariance: Array
    own: NDArray[np.bool_]
    safe: float

    def worth(self, errors: Array, variance: Array) -> Array:
        """Greatest error with its standard error added, and what own points are not safe by: [1], over the last axis.

        errors and variance are in tolerances [1], shape (..., n).
        """
        sd = np.sqrt(np.maximum(variance, 0.0))
        most = np.max(np.abs(errors) + sd, axis=-1)
        own = np.max(np.abs(errors[..., self.own]) + self.safe * sd[..., self.own], axis=-1)
        return np.asarray(most + _UNSAFE * np.maximum(own - 1.0, 0.0))


@dataclass(frozen=True, slots=True)
class Peaks:
    """All peaks that can be made, m of them.

    adjuster (m,) numbers the adjusters, place (m,) is an index of the ground; push (m, n) is what a unit of the
    adjuster's setting does to each error [1, in tolerances], sd (m,) how well the peak is found [1, in tolerances],
    down and up (m,) how far the setting may go [1].
    """

    adjuster: NDArray[np.int64]
    place: NDArray[np.int64]
    push: Array
    sd: Array
    down: Array
    up: Array


def priced(ground: Ground, peaks: Peaks) -> tuple[float, Array, Array]:
    """What a circuit is worth now, after each peak, and after the best second peak that follows each.

    Parameters
    ----------
    ground : Ground [1]
        n places, in tolerances [1]
    peaks : Peaks [1]
        m of them

    Returns
    -------
    tuple of float and Array
        worth [1] now; after one (m,); after two (m,), infinite where none is possible
    """
    rows = np.arange(len(peaks.place))
    ratio = peaks.push / peaks.push[rows, peaks.place][:, None]
    variance = np.diag(ground.covariance)
    shift = -ground.errors[peaks.place] / peaks.push[rows, peaks.place]
    once = np.where(_within(shift, peaks), _after(ground, ground.errors, ground.covariance, peaks, ratio), _OUT)
    twice = np.full(len(rows), _OUT)
    for n in np.nonzero(np.isfinite(once))[0]:
        r, g = ratio[n], peaks.place[n]
        errors = ground.errors - r * ground.errors[g]
        crossed = np.outer(r, ground.covariance[g])
        nailed = ground.covariance[g, g] + peaks.sd[n] ** 2
        covariance = ground.covariance - crossed - crossed.T + nailed * np.outer(r, r)
        again = -errors[peaks.place] / peaks.push[rows, peaks.place] + np.where(
            peaks.adjuster == peaks.adjuster[n], shift[n], 0.0
        )
        then = np.where(_within(again, peaks), _after(ground, errors, covariance, peaks, ratio), _OUT)
        twice[n] = float(np.min(then))
    return float(ground.worth(ground.errors, variance)), once, twice


def _within(shift: Array, peaks: Peaks) -> NDArray[np.bool_]:
    return np.asarray((peaks.down <= shift) & (shift <= peaks.up))


def _after(ground: Ground, errors: Array, covariance: Array, peaks: Peaks, ratio: Array) -> Array:
    """What the circuit is worth after each peak (m,) [1], from errors (n,) and covariance (n, n)."""
    at = peaks.place
    left = errors - ratio * errors[at][:, None]
    nailed = covariance[at, at] + peaks.sd**2
    variance = np.diag(covariance) - 2.0 * ratio * covariance[at] + ratio**2 * nailed[:, None]
    return ground.worth(left, variance)
