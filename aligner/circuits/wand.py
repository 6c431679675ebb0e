"""What a small change of inductance or capacitance does, and what a wand's two ends say.

f = 1 / (2 pi sqrt(L C)) gives dF/F = -dL/2L = -dC/2C for small changes. Ferrite in the coil raises L, brass lowers it.
"""

import math
from dataclasses import dataclass

import numpy as np

from aligner.circuits.reals import Reals, like
from aligner.errors import CircuitError


def frequency_change(change: Reals) -> Reals:
    """Relative change of resonance for a relative change of inductance (or capacitance): (1 + x)^(-1/2) - 1.

    Parameters
    ----------
    change : float or array (n,) [1]
        dL/L or dC/C, above -1.

    Returns
    -------
    float or array (n,) [1]
        dF/F, exact; for small changes -x/2. Source: Thomson's formula.
    """
    return like(change, np.expm1(np.log1p(change) * -0.5))


def part_change(frequency_change: Reals) -> Reals:
    """Relative change of inductance (or capacitance) that moves the resonance so far: (1 + z)^-2 - 1.

    Parameters
    ----------
    frequency_change : float or array (n,) [1]
        dF/F, above -1.

    Returns
    -------
    float or array (n,) [1]
        dL/L or dC/C, exact; for small changes -2 z. Source: Thomson's formula.
    """
    return like(frequency_change, np.expm1(np.log1p(frequency_change) * -2))


@dataclass(frozen=True, slots=True)
class WandVerdict:
    """What three levels and two known pulls say.

    Attributes
    ----------
    detuning : float [1]
        (circuit's resonance - frequency applied) / frequency applied; positive wants more inductance.
    quality : float [1]
        Loaded Q that fits the three levels.
    """

    detuning: float
    quality: float


def wand_detuning(levels_db: tuple[float, float, float], pulls: tuple[float, float]) -> WandVerdict:
    """The signed detuning from the levels without wand, with ferrite and with brass, where the pulls are known.

    1/A^2 is a parabola in the detuning: 10^(-level/10) ~ 1 + 4 Q^2 (z + p)^2, p = 0 without wand. Three levels give
    its three coefficients, and these z and Q.

    Parameters
    ----------
    levels_db : (float, float, float) [dB]
        Level without wand, with ferrite, with brass; on a meter of known law, any reference.
    pulls : (float, float) [1]
        dF/F that ferrite (negative) and brass (positive) give in that coil.

    Returns
    -------
    WandVerdict [-]
        Detuning and Q. Valid near resonance, and where the brass's loss is small. Source: derived.

    Raises
    ------
    CircuitError
        Where the three levels lie on no resonance curve.
    """
    places = np.array([0.0, *pulls])
    powers = 10 ** (-(np.array(levels_db) - levels_db[0]) / 10)
    square, slope, level = (float(value) for value in np.polyfit(places, powers, 2))
    centre = slope / (2 * square) if square > 0 else math.nan
    rest = level - square * centre**2
    if not rest > 0:
        message = f"levels {levels_db} dB lie on no resonance curve; read them again, or the meter compresses"
        raise CircuitError(message)
    return WandVerdict(centre, math.sqrt(square / rest) / 2)
