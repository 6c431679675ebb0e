"""The best tracking points: those that make the greatest error over the band least.

An error curve with n tracking points has n + 1 extremes: one at each end of the band and one between each two points.
At the minimax all are equal in size (Chebyshev's equioscillation); the points are found by making them so, starting
from Chebyshev's nodes, much as in the exchange of Remez.

Two kinds of hardware: "padded" (coil, trimmer and padder; three points) and "unpadded" (coil and trimmer; two points).
Two measures: "relative", the signal circuit's detuning (f_signal - f_received) / f_received, which costs equal loss at
equal Q; and "hz", the error in Hz of the circuit that takes the padder.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from scipy.optimize import least_squares, minimize_scalar

from aligner.circuits.exact_pair import exact_pair
from aligner.circuits.padding import padded_law
from aligner.circuits.reals import Array
from aligner.circuits.superhet import Side, oscillator_hz
from aligner.errors import CircuitError

Hardware = Literal["padded", "unpadded"]
Measure = Literal["relative", "hz"]
Errors = Callable[[Array, Array], Array]
"""Errors (points (n,) [Hz], frequencies (m,) [Hz]) -> (m,): zero at the points."""

_GRID = 65  # per stretch between two points; the extreme is then refined
_UNEVEN = 1e-6  # of the greatest error


@dataclass(frozen=True, slots=True)
class BestPoints:
    """Tracking points at which the greatest error is least.

    Attributes
    ----------
    points_hz : tuple of float [Hz]
        The points, rising.
    worst : float [as the measure]
        The greatest error over the band, as a size.
    extremes : tuple of (float, float) [Hz; as the measure]
        Where the error is greatest, and the error with its sign.
    """

    points_hz: tuple[float, ...]
    worst: float
    extremes: tuple[tuple[float, float], ...]


def chebyshev_points_hz(low_hz: float, high_hz: float, count: int) -> Array:
    """Chebyshev's nodes: mid + half span * cos(pi (k + 1/2) / n).

    Parameters
    ----------
    low_hz : float [Hz]
        Lower end of the band.
    high_hz : float [Hz]
        Upper end of the band.
    count : int [1]
        Number of points.

    Returns
    -------
    array (count,) [Hz]
        The nodes, rising. Source: numpy.polynomial.chebyshev.chebpts1; as a rule for tracking points common practice.
    """
    nodes: Array = np.polynomial.chebyshev.chebpts1(count)
    return (low_hz + high_hz) / 2 + (high_hz - low_hz) / 2 * nodes


def error_curve(
    points_hz: Array, at_hz: Array, intermediate_hz: float, side: Side, hardware: Hardware, measure: Measure
) -> Array:
    """The tracking error over a band of circuits that are exact at given points, on one tuning element.

    Parameters
    ----------
    points_hz : array (2,) or (3,) [Hz]
        Frequencies at which tracking is exact: three for "padded", two for "unpadded".
    at_hz : array (m,) [Hz]
        Where the error is wanted: frequencies received; with "hz" and the oscillator above, the signal circuit's
        resonance, as published curves have it.
    intermediate_hz : float [Hz]
        Intermediate frequency.
    side : "above" or "below" [-]
        Where the oscillator stands.
    hardware : "padded" or "unpadded" [-]
        Coil, trimmer and padder; or coil and trimmer.
    measure : "relative" or "hz" [-]
        Relative detuning of the signal circuit, or the error in Hz of the circuit that takes the padder: oscillator
        above, the oscillator (its sign is the opposite of the tracking error's); oscillator below, the signal circuit.

    Returns
    -------
    array (m,) [1 or Hz]
        Error with its sign. The result does not depend on the coil, nor on where the trimmer lies. Source: derived
        from `padded_law` and `exact_pair`.
    """
    shift = 0.0 if side == "above" else intermediate_hz
    padded_of, plain_of = _follow(points_hz - shift, intermediate_hz, hardware)
    if side == "below":
        error = padded_of(at_hz - shift) - at_hz
        return error / at_hz if measure == "relative" else error
    if measure == "hz":
        return padded_of(at_hz) - at_hz - intermediate_hz
    return plain_of(oscillator_hz(at_hz, intermediate_hz, side)) / at_hz - 1


def _follow(
    plain_hz: Array, apart_hz: float, hardware: Hardware
) -> tuple[Callable[[Array], Array], Callable[[Array], Array]]:
    points = tuple(float(point) for point in plain_hz)
    if hardware == "padded" and len(points) == 3:
        law = padded_law((points[0], points[1], points[2]), apart_hz)
        return law.padded_hz, law.plain_hz
    if hardware == "unpadded" and len(points) == 2:
        pair = exact_pair((points[0], points[1]), (points[0] + apart_hz, points[1] + apart_hz))

        def padded(plain: Array) -> Array:
            found: Array = (pair.factor * plain**-2 + pair.shift_s2) ** -0.5
            return found

        def plain(padded: Array) -> Array:
            found: Array = ((padded**-2 - pair.shift_s2) / pair.factor) ** -0.5
            return found

        return padded, plain
    message = f"{hardware} circuits track at {3 if hardware == 'padded' else 2} points, not at {len(points)}"
    raise CircuitError(message)


def best_points(
    low_hz: float, high_hz: float, intermediate_hz: float, side: Side, hardware: Hardware, measure: Measure = "relative"
) -> BestPoints:
    """The best tracking points of a band.

    Parameters
    ----------
    low_hz : float [Hz]
        Lower end of the band received.
    high_hz : float [Hz]
        Upper end of the band received.
    intermediate_hz : float [Hz]
        Intermediate frequency.
    side : "above" or "below" [-]
        Where the oscillator stands.
    hardware : "padded" or "unpadded" [-]
        Coil, trimmer and padder (three points); or coil and trimmer (two points).
    measure : "relative" or "hz" [-]
        What is made least, see `error_curve`.

    Returns
    -------
    BestPoints [-]
        Points, greatest error and extremes. Source: Chebyshev's equioscillation theorem.
    """

    def errors(points: Array, at: Array) -> Array:
        return error_curve(points, at, intermediate_hz, side, hardware, measure)

    return minimax_points(errors, low_hz, high_hz, 3 if hardware == "padded" else 2)


def minimax_points(errors: Errors, low_hz: float, high_hz: float, count: int) -> BestPoints:
    """The points that make the extremes of any error curve equal in size.

    Parameters
    ----------
    errors : callable (array (count,) [Hz], array (m,) [Hz]) -> array (m,) [any]
        The error over the band of hardware that is exact at the points.
    low_hz : float [Hz]
        Lower end of the band.
    high_hz : float [Hz]
        Upper end of the band.
    count : int [1]
        Number of points.

    Returns
    -------
    BestPoints [-]
        Points, greatest error and extremes. Source: Chebyshev's equioscillation theorem.

    Raises
    ------
    CircuitError
        Where the extremes cannot be made equal.
    """

    def points_of(unknowns: Array) -> Array:
        gaps = np.exp(np.append(unknowns, -unknowns.sum()))
        points: Array = low_hz + (high_hz - low_hz) * np.cumsum(gaps)[:-1] / gaps.sum()
        return points

    def unevenness(unknowns: Array) -> Array:
        sizes = np.log([abs(error) for _, error in _extremes(errors, points_of(unknowns), low_hz, high_hz)])
        uneven: Array = np.diff(sizes)
        return uneven

    first = np.diff([low_hz, *chebyshev_points_hz(low_hz, high_hz, count), high_hz])
    start = np.log(first) - np.log(first).mean()
    found = least_squares(unevenness, start[:-1], xtol=1e-14, ftol=1e-14, gtol=1e-14)
    if np.max(np.abs(found.fun)) > _UNEVEN:
        message = f"no best tracking points found from {low_hz:g} to {high_hz:g} Hz; give the points yourself"
        raise CircuitError(message)
    points = points_of(np.asarray(found.x))
    extremes = _extremes(errors, points, low_hz, high_hz)
    return BestPoints(tuple(float(point) for point in points), max(abs(error) for _, error in extremes), extremes)


def _extremes(errors: Errors, points_hz: Array, low_hz: float, high_hz: float) -> tuple[tuple[float, float], ...]:
    edges = [low_hz, *(float(point) for point in points_hz), high_hz]
    return tuple(_extreme(errors, points_hz, left, right) for left, right in pairwise(edges))


def _extreme(errors: Errors, points_hz: Array, left_hz: float, right_hz: float) -> tuple[float, float]:
    def size(at_hz: float) -> float:
        return -abs(float(errors(points_hz, np.array([at_hz]))[0]))

    grid = np.linspace(left_hz, right_hz, _GRID)
    at = int(np.argmax(np.abs(errors(points_hz, grid))))
    best = float(grid[at])
    if 0 < at < _GRID - 1:
        near = minimize_scalar(
            size, bounds=(grid[at - 1], grid[at + 1]), method="bounded", options={"xatol": 1e-9 * right_hz}
        )
        best = float(near.x)
    return best, float(errors(points_hz, np.array([best]))[0])
