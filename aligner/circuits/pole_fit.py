"""Poles fitted to levels: the curve itself, for circuits of whatever kind."""

import math

import numpy as np
from scipy.optimize import least_squares

from aligner.circuits.candidates import Candidate, sds_of, seen_at
from aligner.circuits.features import features
from aligner.circuits.poles import Poles, pole_slopes
from aligner.circuits.reals import Array
from aligner.circuits.resonance import detuning
from aligner.circuits.response import level_db
from aligner.circuits.uncertain import covariance_of, criterion, noise_factor
from aligner.errors import CircuitError

MOST_POLES = 8
"""More resonators than that no strip for one signal has (common practice, no source)."""
_PLACE_SD = 2.0  # [half widths]: resonators far outside the pass-band do nothing
_ENOUGH = 1e-5  # of the squares and of the unknowns: criteria closer than that are alike
_HALF_SD = 1.0  # of the logarithm


def pole_candidate(hz: Array, levels: Array, sd_db: float, count: int, middle: tuple[float, float]) -> Candidate | None:
    """The response of so many poles that lies nearest to some readings.

    Parameters
    ----------
    hz : array (n,) [Hz]
        Frequencies.
    levels : array (n,) [dB]
        Levels read.
    sd_db : float [dB]
        Standard uncertainty of one reading.
    count : int [1]
        Number of poles.
    middle : (float, float) [Hz]
        About the middle and the width of the pass-band.

    Returns
    -------
    Candidate or None [-]
        The response; None where that makes no filter. Source: least squares with weak priors, from the poles of a
        maximally flat filter of that width (S. Butterworth, On the Theory of Filter Amplifiers, 1930; from memory).
    """
    top_hz, width_hz = middle
    x = detuning(hz, top_hz, top_hz / width_hz)

    def built(unknowns: Array) -> Poles:
        places, halves = unknowns[1 : 1 + count], np.exp(unknowns[1 + count :])
        return Poles(top_hz, width_hz, tuple(places.tolist()), tuple(halves.tolist()))

    def residuals(unknowns: Array) -> Array:
        priors = np.concatenate([unknowns[1 : 1 + count] / _PLACE_SD, unknowns[1 + count :] / _HALF_SD])
        return np.concatenate([(level_db(built(unknowns), hz) + unknowns[0] - levels) / sd_db, priors])

    def jacobian(unknowns: Array) -> Array:
        priors = np.concatenate([np.full(count, 1 / _PLACE_SD), np.full(count, 1 / _HALF_SD)])
        seen = _slopes(x, unknowns, count) / sd_db
        return np.vstack([seen, np.hstack([np.zeros((2 * count, 1)), np.diag(priors)])])

    found = least_squares(residuals, _start(levels, count), jac=jacobian, method="lm", ftol=_ENOUGH, xtol=_ENOUGH)
    best, response = np.asarray(found.x), built(np.asarray(found.x))
    left = level_db(response, hz) + best[0] - levels
    try:
        seen = features(response, top_hz, width_hz)
    except CircuitError:  # poles that make no peak, or no skirts
        return None
    covariance = covariance_of(jacobian(best)) * noise_factor(left, sd_db, len(best)) ** 2
    at = detuning(seen_at(seen), top_hz, top_hz / width_hz)
    return Candidate(
        kind="poles",
        response=response,
        reference_db=float(best[0]),
        own={},
        criterion=criterion(left, 0.25 * sd_db, len(best)),
        rms_db=math.sqrt(float(left @ left) / len(left)),
        features=seen,
        sds=sds_of(response, seen, _slopes(at, best, count), covariance, (float(hz[0]), float(hz[-1]))),
    )


def _slopes(x: Array, unknowns: Array, count: int) -> Array:
    """Derivatives of the level to all unknowns, the reference first."""
    to_halves = np.exp(unknowns[1 + count :])
    return np.hstack([np.ones((len(x), 1)), pole_slopes(x, unknowns[1 : 1 + count], to_halves)])


def _start(levels: Array, count: int) -> Array:
    angle = (np.arange(count) + 0.5) / count * math.pi
    return np.concatenate([[float(levels.max())], -np.cos(angle), np.log(np.sin(angle))])
