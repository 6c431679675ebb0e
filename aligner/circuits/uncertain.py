"""A value with its uncertainty, and "cannot tell yet" as a value."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from aligner.circuits.reals import Array

_SUPPOSED = 3
"""Readings' worth of trust in what the instrument is supposed to be."""


@dataclass(frozen=True, slots=True)
class Uncertain:
    """A value and its standard uncertainty.

    Attributes
    ----------
    value : float [any]
        Best value.
    sd : float [as value]
        One standard deviation.
    """

    value: float
    sd: float


@dataclass(frozen=True, slots=True)
class CannotTell:
    """There is no honest answer yet.

    Attributes
    ----------
    why : str [-]
        One sentence for people: what is missing.
    take : tuple of float [Hz or s]
        Where (or when) further readings would settle it, the most useful first.
    """

    why: str
    take: tuple[float, ...] = ()


def covariance_of(jacobian: Array) -> Array:
    """Covariance of the unknowns of a least-squares fit whose residuals have unit variance: (J^T J)^-1.

    Parameters
    ----------
    jacobian : array (n, k) [residual by unknown]
        Derivatives of the residuals at the solution, priors included.

    Returns
    -------
    array (k, k) [product of two unknowns]
        Covariance. Columns are brought to one size first; what the readings do not settle gets a very large variance,
        never none, as a pseudo-inverse would give it. Source: linear propagation of errors.
    """
    size = np.sqrt(np.sum(jacobian**2, axis=0))
    size = np.where(size > 0, size, 1.0)
    scaled = jacobian / size
    inverse = np.linalg.inv(scaled.T @ scaled + 1e-13 * np.eye(len(size)))
    covariance: Array = inverse / np.outer(size, size)
    return covariance


def criterion(left: Array, sd: float, unknowns: int) -> float:
    """Information criterion of a fit: n ln(s^2 + RSS/n) + k ln n; the lowest is the best story.

    Parameters
    ----------
    left : array (n,) [as the readings]
        What the fit leaves.
    sd : float [as the readings]
        s, standard uncertainty of one reading.
    unknowns : int [1]
        k, number of unknowns.

    Returns
    -------
    float [1]
        Criterion. Source: with good fits chi-square plus k ln n, with poor ones the criterion of G. Schwarz, Estimating
        the Dimension of a Model (1978), from memory.
    """
    count = len(left)
    return count * math.log(sd**2 + float(left @ left) / count) + unknowns * math.log(count)


def noise_factor(left: Array, sd: float, unknowns: int) -> float:
    """What the standard errors of a fit are to be multiplied with, its readings being as good as they show themselves.

    Parameters
    ----------
    left : array (n,) [as the readings]
        What the fit leaves.
    sd : float [as the readings]
        s, standard uncertainty of one reading as it is supposed to be.
    unknowns : int [1]
        k, number of unknowns that the readings settle.

    Returns
    -------
    float [1]
        sqrt((RSS + m s^2) / (f s^2)) * t / 1.96 with f = n - k + m degrees of freedom: the supposed uncertainty counts
        as m = 3 readings more, and t, the 95 % point of Student's distribution of f, pays for how few there are.
        Source: the scaled t of an unknown variance with a conjugate prior; any text on Bayesian regression.
    """
    freedom = max(len(left) - unknowns, 0) + _SUPPOSED
    scale = (float(left @ left) + _SUPPOSED * sd**2) / (freedom * sd**2)
    return math.sqrt(scale) * float(student.ppf(0.975, freedom)) / 1.959964


def averaged(rivals: Sequence[Uncertain], criteria: Sequence[float]) -> Uncertain:
    """The best fit's value, with how far rival fits disagree added to its uncertainty.

    Parameters
    ----------
    rivals : sequence (m,) of Uncertain [any]
        The value by each fit, the best one first.
    criteria : sequence (m,) of float [1]
        Their information criteria.

    Returns
    -------
    Uncertain [as rivals]
        Value of the first; variance sum of w (own variance + squared distance), w ~ exp(-criterion / 2). Source:
        mixture of the fits.
    """
    weights = [math.exp(-(one - criteria[0]) / 2) for one in criteria]
    value = rivals[0].value
    spread = sum(
        weight * (rival.sd**2 + (rival.value - value) ** 2) for weight, rival in zip(weights, rivals, strict=True)
    )
    return Uncertain(value, math.sqrt(spread / sum(weights)))
