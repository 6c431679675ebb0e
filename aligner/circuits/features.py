"""What people ask of a response: peak, centre, widths, ripple, symmetry."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from aligner.circuits.reals import Array
from aligner.circuits.response import Response, level_db
from aligner.errors import CircuitError

_GRID = 801
_HALF_POWER_DB = 3.0102999566398120


@dataclass(frozen=True, slots=True)
class Features:
    """Features of a response.

    Attributes
    ----------
    peak_hz : float [Hz]
        Where the level is greatest (the lower one of two equal peaks).
    peak_db : float [dB]
        Level there, against a response of 1.
    centre_hz : float [Hz]
        Geometric middle of the outermost half-power (-3 dB) points: circuits in tune are symmetrical about it.
    width_3_hz : float [Hz]
        Distance of the outermost half-power points.
    width_20_hz : float [Hz]
        Distance of the outermost -20 dB points.
    ripple_db : float [dB]
        Peak to dip between the outermost peaks, zero where there is one peak.
    symmetry : float [1]
        How far the geometric middle of the -20 dB points lies above the centre, in -20 dB widths; zero in tune.
    edges_3_hz : (float, float) [Hz]
        The outermost half-power points.
    edges_20_hz : (float, float) [Hz]
        The outermost -20 dB points.
    dip_hz : float [Hz]
        Where the level is least between the outermost peaks; of a single peak, half way to an edge on its flatter side.
    """

    peak_hz: float
    peak_db: float
    centre_hz: float
    width_3_hz: float
    width_20_hz: float
    ripple_db: float
    symmetry: float
    edges_3_hz: tuple[float, float]
    edges_20_hz: tuple[float, float]
    dip_hz: float


def features(response: Response, centre_hz: float, width_hz: float) -> Features:
    """Features of a response, found on the curve.

    Parameters
    ----------
    response : Response [-]
        The response.
    centre_hz : float [Hz]
        About where it is centred.
    width_hz : float [Hz]
        About its -3 dB width: three of these each side are searched for peaks.

    Returns
    -------
    Features [-]
        The features. Source: definitions.

    Raises
    ------
    CircuitError
        Where the response never falls by 20 dB.
    """
    grid = np.linspace(max(centre_hz - 3 * width_hz, 0.02 * centre_hz), centre_hz + 3 * width_hz, _GRID)
    levels = level_db(response, grid)
    tops = _tops(response, grid, levels)
    peak_hz, peak_db = max(tops, key=lambda top: top[1])
    low_3, high_3 = edges_hz(response, tops, peak_db - _HALF_POWER_DB, width_hz)
    low_20, high_20 = edges_hz(response, tops, peak_db - 20.0, width_hz)
    dip_hz, dip_db = _dip(response, tops, (low_3, high_3))
    ripple = peak_db - dip_db if len(tops) > 1 else 0.0
    middle = math.sqrt(low_3 * high_3)
    symmetry = (math.sqrt(low_20 * high_20) - middle) / (high_20 - low_20)
    widths = high_3 - low_3, high_20 - low_20
    ends = (low_3, high_3), (low_20, high_20)
    return Features(peak_hz, peak_db, middle, *widths, ripple, symmetry, *ends, dip_hz)


def _dip(response: Response, tops: list[tuple[float, float]], edges: tuple[float, float]) -> tuple[float, float]:
    """The dip between the outermost peaks, or where one would be if there were two."""
    if len(tops) > 1:
        places = np.linspace(tops[0][0], tops[-1][0], _GRID)
        levels = level_db(response, places)
        return float(places[np.argmin(levels)]), float(levels.min())
    places = (np.array(edges) + tops[0][0]) / 2.0
    levels = level_db(response, places)
    return float(places[np.argmax(levels)]), float(levels.max())


def _tops(response: Response, grid: Array, levels: Array) -> list[tuple[float, float]]:
    """Every peak inside the grid as (frequency, level), refined."""
    inside = np.flatnonzero((levels[1:-1] >= levels[:-2]) & (levels[1:-1] > levels[2:])) + 1
    tops = []
    for at in inside:
        found = minimize_scalar(lambda hz: -_level(response, hz), bounds=(grid[at - 1], grid[at + 1]), method="bounded")
        tops.append((float(found.x), -float(found.fun)))
    if not tops:
        message = f"no peak between {grid[0]:.6g} and {grid[-1]:.6g} Hz; sweep over more of the band"
        raise CircuitError(message)
    return tops


def edges_hz(
    response: Response, tops: list[tuple[float, float]], edge_db: float, width_hz: float
) -> tuple[float, float]:
    """The outermost frequencies at which a response has fallen to a level.

    Parameters
    ----------
    response : Response [-]
        The response.
    tops : list of (float, float) [Hz; dB]
        Its peaks, by frequency.
    edge_db : float [dB]
        The level.
    width_hz : float [Hz]
        About the width: the first step of the search outward.

    Returns
    -------
    (float, float) [Hz]
        Lower and upper edge. Source: definition.

    Raises
    ------
    CircuitError
        Where the response does not fall so far.
    """
    high = [hz for hz, level in tops if level >= edge_db]
    return _edge(response, high[0], edge_db, -width_hz), _edge(response, high[-1], edge_db, width_hz)


def _edge(response: Response, start_hz: float, edge_db: float, step_hz: float) -> float:
    inner = start_hz
    for _ in range(60):
        # Downwards by shares of what is left, so that zero is never crossed.
        outer = inner + step_hz if step_hz > 0 else inner * inner / (inner - step_hz)
        if _level(response, outer) < edge_db:
            return float(brentq(lambda hz: _level(response, hz) - edge_db, inner, outer, xtol=1e-9 * start_hz))
        inner, step_hz = outer, step_hz * 1.5
    message = f"the response does not fall to {edge_db:.3g} dB; it is no filter"
    raise CircuitError(message)


def _level(response: Response, frequency_hz: float) -> float:
    return float(level_db(response, np.array([frequency_hz]))[0])
