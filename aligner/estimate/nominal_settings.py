"""The settings that a circuit is meant to have: those that bring it right at its own points by nominal values."""

from typing import Literal

import numpy as np

from aligner.estimate.ladder import SERIES, Array, ladder


def settings_through(
    u: Array, lny: Array, *, padded: bool, across: Literal["tuning", "coil"]
) -> tuple[float, float, float, float]:
    """Settings that meet targets: exact for two settings at two places and three at three, else least squares.

    Parameters
    ----------
    u : Array [1]
        the tuning element at the places, shape (n,)
    lny : Array [1]
        ln y that is wanted there, shape (n,)
    padded : bool [-]
        whether there is a padder
    across : "tuning" or "coil" [-]
        where the trimmer of a padded circuit lies

    Returns
    -------
    tuple of four floats
        l, a, b, s [1], as in `ladder`
    """
    if not padded:
        return _pair(u, np.exp(lny))
    trial = np.linspace(-0.25, 0.8, 211) if across == "tuning" else np.linspace(0.01, 2.0, 200)
    errors = [_padded(u, lny, float(x), across)[1] for x in trial]
    lowest = int(np.argmin(errors))
    low, high = trial[max(lowest - 1, 0)], trial[min(lowest + 1, len(trial) - 1)]
    finer = np.linspace(low, high, 401)
    best = min((_padded(u, lny, float(x), across) for x in finer), key=lambda pair: pair[1])
    return best[0]


def _pair(u: Array, y: Array) -> tuple[float, float, float, float]:
    slope, shift = np.polyfit(u, y, 1)
    return (float(np.log(slope)), float(shift / slope), 0.0, 0.0)


def _padded(
    u: Array, lny: Array, trial: float, across: Literal["tuning", "coil"]
) -> tuple[tuple[float, float, float, float], float]:
    """Settings for one trial value of the setting that enters non-linearly, and the squared misfit in ln y."""
    y = np.exp(lny)
    if across == "tuning":  # 1/y = (s + 1/(u + a)) / exp(l): linear in 1/exp(l) and s/exp(l)
        if np.any(u + trial <= 1e-3):
            return (0.0, 0.0, 0.0, 0.0), np.inf
        factor, shift = np.polyfit(1.0 / (u + trial), 1.0 / y, 1)
        settings = (-np.log(factor), trial, 0.0, shift / factor) if factor > 0 else None
    else:  # y = exp(l) (u / (1 + s u) + b)
        factor, shift = np.polyfit(u / (1.0 + trial * u), y, 1)
        settings = (np.log(factor), 0.0, shift / factor, trial) if factor > 0 else None
    if settings is None or settings[SERIES] < 0.0:
        return (0.0, 0.0, 0.0, 0.0), np.inf
    misfit = ladder(u, np.array(settings)).lny - lny
    return tuple(float(x) for x in settings), float(misfit @ misfit)  # type: ignore[return-value]
