"""The universal resonance curve of one tuned circuit, and back from a fall in level to the detuning.

|H| = 1 / sqrt(1 + a^2), a = Q (f/f0 - f0/f), exact for a series circuit (and for a parallel one seen as a resistance
across L and C) whose Q is taken at f0; near resonance a = 2 Q (f - f0) / f0.
"""

import math

import numpy as np

from aligner.circuits.reals import Reals, like
from aligner.errors import CircuitError

_DB_OF_LN = 10 / math.log(10)


def detuning(frequency_hz: Reals, resonance_hz: Reals | float, quality: float) -> Reals:
    """Detuning in half widths: a = Q (f/f0 - f0/f).

    Parameters
    ----------
    frequency_hz : float or array (n,) [Hz]
        Frequency applied.
    resonance_hz : float or array (n,) [Hz]
        Resonance of the circuit.
    quality : float [1]
        Loaded Q.

    Returns
    -------
    float or array (n,) [1]
        Detuning, positive above resonance. Source: issuhub.com/view/index/5762?pageIndex=188, eqs 3.4.9 and 3.4.10.
    """
    return (frequency_hz / resonance_hz - resonance_hz / frequency_hz) * quality


def loss_db(frequency_hz: Reals, resonance_hz: Reals | float, quality: float) -> Reals:
    """How far the level lies below the peak: 10 lg(1 + a^2).

    Parameters
    ----------
    frequency_hz : float or array (n,) [Hz]
        Frequency applied.
    resonance_hz : float or array (n,) [Hz]
        Resonance of the circuit.
    quality : float [1]
        Loaded Q.

    Returns
    -------
    float or array (n,) [dB]
        Loss, zero at resonance and positive elsewhere. Source: see `detuning`.
    """
    units = detuning(frequency_hz, resonance_hz, quality)
    return like(units, np.log1p(units * units) * _DB_OF_LN)


def phase_rad(frequency_hz: Reals, resonance_hz: Reals | float, quality: float) -> Reals:
    """Phase of the response against its phase at resonance: -arctan(a).

    Parameters
    ----------
    frequency_hz : float or array (n,) [Hz]
        Frequency applied.
    resonance_hz : float or array (n,) [Hz]
        Resonance of the circuit.
    quality : float [1]
        Loaded Q.

    Returns
    -------
    float or array (n,) [rad]
        Phase, negative (lagging) above resonance. Source: see `detuning`.
    """
    units = detuning(frequency_hz, resonance_hz, quality)
    return like(units, -np.arctan(units))


def detuning_of_fall(fall_db: Reals) -> Reals:
    """The detuning at which the level has fallen so far: a = sqrt(10^(dB/10) - 1).

    Parameters
    ----------
    fall_db : float or array (n,) [dB]
        Fall below the peak, zero or more.

    Returns
    -------
    float or array (n,) [1]
        Detuning in half widths, without sign. Source: `loss_db` read backwards.

    Raises
    ------
    CircuitError
        Where the fall is negative: the level cannot rise above the peak.
    """
    if np.any(np.less(fall_db, 0)):
        message = f"a level cannot lie above the peak: the fall is {np.min(fall_db):g} dB; find the peak again"
        raise CircuitError(message)
    return like(fall_db, np.sqrt(np.expm1(fall_db / _DB_OF_LN)))


def fall_ratios(quality: float, fall_db: float) -> tuple[float, float]:
    """The two frequencies of equal fall, relative to the resonance: r = sqrt(1 + (a/2Q)^2) -/+ a/2Q.

    Parameters
    ----------
    quality : float [1]
        Loaded Q.
    fall_db : float [dB]
        Fall below the peak, zero or more.

    Returns
    -------
    (float, float) [1]
        Lower and upper f/f0; their product is 1. With a fixed generator and a moving circuit they are f0/f just as
        well. Source: a = Q (r - 1/r) solved for r.
    """
    half = detuning_of_fall(fall_db) / (2 * quality)
    root = math.hypot(1.0, half)
    return root - half, root + half


def width_hz(resonance_hz: float, quality: float, fall_db: float = 10 * math.log10(2)) -> float:
    """The width between the two points of equal fall: B = a f0 / Q.

    Parameters
    ----------
    resonance_hz : float [Hz]
        Resonance.
    quality : float [1]
        Loaded Q.
    fall_db : float [dB]
        Fall below the peak; half power (3.01 dB) unless given.

    Returns
    -------
    float [Hz]
        Full width; exact, since the two ratios differ by a/Q. Source: derived from `fall_ratios`.
    """
    return detuning_of_fall(fall_db) * resonance_hz / quality


def quality_of_width(resonance_hz: float, width_hz: float, fall_db: float = 10 * math.log10(2)) -> float:
    """The loaded Q that has a width at a fall: Q = a f0 / B.

    Parameters
    ----------
    resonance_hz : float [Hz]
        Resonance.
    width_hz : float [Hz]
        Full width at that fall.
    fall_db : float [dB]
        Fall below the peak; half power (3.01 dB) unless given.

    Returns
    -------
    float [1]
        Loaded Q. Source: `width_hz` solved for Q.
    """
    return detuning_of_fall(fall_db) * resonance_hz / width_hz


def tolerance_hz(resonance_hz: float, quality: float, loss_db: float) -> float:
    """The detuning that costs a given loss, as a half width: B/2 = a f0 / 2Q.

    Parameters
    ----------
    resonance_hz : float [Hz]
        Resonance.
    quality : float [1]
        Loaded Q.
    loss_db : float [dB]
        Loss that is put up with.

    Returns
    -------
    float [Hz]
        Half width. Source: half of `width_hz`.
    """
    return width_hz(resonance_hz, quality, loss_db) / 2
