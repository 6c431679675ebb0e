"""How far a response keeps out what stands beside the wanted signal."""

import numpy as np

from aligner.circuits.response import Response, level_db


def neighbours_db(response: Response, centre_hz: float, away_hz: tuple[float, ...]) -> tuple[float, ...]:
    """Level at each distance from the centre, the mean of both sides in decibels.

    Parameters
    ----------
    response : Response [-]
        The response.
    centre_hz : float [Hz]
        Its centre.
    away_hz : tuple of float (n,) [Hz]
        Distances from the centre.

    Returns
    -------
    tuple of float (n,) [dB]
        Levels against a response of 1. Source: definition.
    """
    away = np.array(away_hz)
    levels = (level_db(response, centre_hz + away) + level_db(response, centre_hz - away)) / 2.0
    return tuple(float(level) for level in levels)
