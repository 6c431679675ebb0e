"""Peaks still to come, priced before they are made: what each, and each pair, will leave of a circuit's errors.

A peak nails the circuit to the generator at one place g, as well as the peak is found (sd). With r(p) what the adjuster
moves the circuit at a place p for each unit at g, the errors e and their covariance V become

    e'(p) = e(p) - r(p) e(g),        V' = T V T^T + sd^2 r r^T,        T = 1 - r (row of g),

whatever will be read: it is the step of a Kalman filter with a movement of which nothing is known and the measured
value nought (derived here).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from aligner.estimate.belief import CircuitBelief
from aligner.estimate.best import Goal, Movable, errors_of
from aligner.estimate.ladder import Array

_LEAST_SD = 1e-6  # in tolerances
_OUT = np.inf
_NEAR = 4.0
"""In tolerances: a circuit farther off than this moves by more than its derivatives tell."""


@dataclass(frozen=True, slots=True)
class Ground:
    """A circuit at n places: errors (n,) and their covariance (n, n), both in tolerances [1].

    own (n,) tells the step's own points, which must be within one tolerance; wrong is what it costs to be outside [1].
    """

    errors: Array
    covariance: Array
    own: NDArray[np.bool_]
    wrong: float

    @property
    def farthest(self) -> float:
        """The greatest error, or standard error by which derivatives cannot tell any more [1, in tolerances]."""
        sd = np.sqrt(np.maximum(np.diag(self.covariance), 0.0))
        return float(max(np.max(np.abs(self.errors)), np.max(sd)))

    def worth(self, errors: Array, variance: Array) -> Array:
        """Greatest error with its standard error added, and what being wrong at own points is expected to cost [1].

        Parameters
        ----------
        errors, variance : Array [1]
            in tolerances [1], shape (..., n)
        """
        sd = np.sqrt(np.maximum(variance, 0.0))
        most = np.max(np.abs(errors) + sd, axis=-1)
        own = (1.0 - np.abs(errors[..., self.own])) / np.maximum(sd[..., self.own], _LEAST_SD)
        return np.asarray(most + self.wrong * np.max(ndtr(-own), axis=-1))


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


@dataclass(frozen=True, slots=True)
class Price:
    """What a plan is judged by.

    touch is what each has to better, wrong what it costs to end with a point outside its tolerance [1, in tolerances];
    peak is the standard error of a peak in widths f/Q [1] where readings scatter as usual.
    """

    touch: float
    wrong: float
    peak: float


Where = Sequence[tuple[int, int]]
"""Peaks that can be made: an index of the adjusters, and one of the places."""


def worths(ground: Ground, peaks: Peaks) -> tuple[float, Array, Array]:
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
    there = peaks.push[rows, peaks.place]
    ratio = peaks.push / there[:, None]
    shift = -ground.errors[peaks.place] / there
    once = np.where(_within(shift, peaks), _after(ground, ground.errors, ground.covariance, peaks, ratio), _OUT)
    twice = np.full(len(rows), _OUT)
    for n in np.nonzero(np.isfinite(once))[0]:
        r, g = ratio[n], peaks.place[n]
        errors = ground.errors - r * ground.errors[g]
        crossed = np.outer(r, ground.covariance[g])
        nailed = ground.covariance[g, g] + peaks.sd[n] ** 2
        covariance = ground.covariance - crossed - crossed.T + nailed * np.outer(r, r)
        moved = np.where(peaks.adjuster == peaks.adjuster[n], shift[n], 0.0)
        again = moved - errors[peaks.place] / there
        then = np.where(_within(again, peaks), _after(ground, errors, covariance, peaks, ratio), _OUT)
        twice[n] = float(np.min(then))
    return float(ground.worth(ground.errors, np.diag(ground.covariance))), once, twice


def _within(shift: Array, peaks: Peaks) -> NDArray[np.bool_]:
    return np.asarray((peaks.down <= shift) & (shift <= peaks.up))


def _after(ground: Ground, errors: Array, covariance: Array, peaks: Peaks, ratio: Array) -> Array:
    """What the circuit is worth after each peak (m,) [1], from errors (n,) and covariance (n, n)."""
    at = peaks.place
    left = errors - ratio * errors[at][:, None]
    nailed = covariance[at, at] + peaks.sd**2
    variance = np.diag(covariance) - 2.0 * ratio * covariance[at] + ratio**2 * nailed[:, None]
    return ground.worth(left, variance)


def first_peak(
    circuits: tuple[CircuitBelief, ...], goal: Goal, own: int, rows: tuple[Movable, ...], where: Where, price: Price
) -> int | None:
    """Which peak the best plan of one or two begins with, each at its price; None where none is worth it.

    Parameters
    ----------
    circuits : tuple of CircuitBelief [1]
        the circuit by every fit that is credible; the one by which it would end worst counts
    goal : Goal [Hz]
        n places; the last are the step's own points
    own : int [1]
        how many those are
    rows : tuple of Movable [1]
        the adjusters
    where : sequence of tuple of int [1]
        m peaks: an index of rows and an index of the goal's places each
    price : Price
        what a touch and a wrong end cost

    Returns
    -------
    int or None
        an index of where [1]
    """
    grounds = [_ground(circuit, goal, own, price.wrong) for circuit in circuits]
    if not where or max(ground.farthest for ground in grounds) > _NEAR:
        return None
    ends = [worths(g, _peaks(c, goal, rows, where, price.peak)) for g, c in zip(grounds, circuits, strict=True)]
    now, once, twice = (np.max(np.array(one), axis=0) for one in zip(*ends, strict=True))
    total = np.minimum(once + price.touch, twice + 2.0 * price.touch)
    first = int(np.argmin(total))
    return first if total[first] < now else None


def strengths(circuit: CircuitBelief, goal: Goal, rows: tuple[Movable, ...]) -> list[list[float]]:
    """How far [Hz] a unit of each adjuster's setting (rows,) [1] moves a circuit at the places of a goal [Hz]."""
    return np.abs(_pushes(circuit, goal, rows) * goal.tolerance_hz).tolist() if rows else []


def _ground(circuit: CircuitBelief, goal: Goal, own: int, wrong: float) -> Ground:
    scale = 0.5 * circuit.hz(goal.z_hz) / goal.tolerance_hz
    points = np.arange(len(scale)) >= len(scale) - own
    covariance = circuit.covariance(goal.z_hz) * np.outer(scale, scale)
    return Ground(errors_of(circuit, goal), covariance, points, wrong)


def _pushes(circuit: CircuitBelief, goal: Goal, rows: tuple[Movable, ...]) -> Array:
    """What a unit of each adjuster's setting does to the errors, (rows, n) [in tolerances]."""
    by_setting = circuit.by_setting(goal.z_hz) * (-0.5 * circuit.hz(goal.z_hz) / goal.tolerance_hz)[:, None]
    return np.array([by_setting @ circuit.push(row.setting) for row in rows])


def _peaks(circuit: CircuitBelief, goal: Goal, rows: tuple[Movable, ...], where: Where, peak: float) -> Peaks:
    adjuster, place = np.array(where, dtype=np.int64).T
    return Peaks(
        adjuster=adjuster,
        place=place,
        push=_pushes(circuit, goal, rows)[adjuster],
        sd=circuit.noise * peak * goal.wanted_hz[place] / circuit.quality[0] / goal.tolerance_hz[place],
        down=np.array([rows[n].down for n in adjuster]),
        up=np.array([rows[n].up for n in adjuster]),
    )
