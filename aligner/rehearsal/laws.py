"""How each part's value depends on its position: numbers or arrays of positions in, values out."""

from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator

from aligner.rehearsal.parts import Coil, Diode, GangLaw, Section, Trimmer

Numbers = npt.NDArray[np.float64] | float


def inductance(coil: Coil, position: Numbers) -> Numbers:
    """Inductance [H] at positions [turn]."""
    if coil.law == "core":
        distance = (position - coil.centre) / coil.width
        return coil.inductance * (1 + coil.reach * np.exp(-distance * distance))
    share = position / coil.travel
    if coil.law == "spread":
        return coil.inductance / (1 + coil.reach * share * (1 + share) / 2)
    if coil.law == "slide":
        return coil.inductance * (1 - coil.reach * share * share * (3 - 2 * share))
    return coil.inductance + 0.0 * position


def self_capacitance(coil: Coil, inductance_h: Numbers) -> Numbers:
    """Self-capacitance [F]: a core or tighter turns raise it together with the inductance."""
    return coil.self_capacitance * (1 + coil.self_moves * (inductance_h / coil.inductance - 1))


def trimmer_capacitance(trimmer: Trimmer, position: Numbers) -> Numbers:
    """Capacitance [F] at positions [turn]."""
    span = trimmer.high - trimmer.low
    if trimmer.law == "rotary":
        return trimmer.low + span * (1 - np.cos(2 * np.pi * position)) / 2
    share = position / trimmer.travel
    if trimmer.law == "compression":
        return trimmer.low + span * share / (1 + trimmer.curvature * (1 - share))
    if trimmer.law == "piston":
        return trimmer.low + span * (share + 0.02 * np.sin(2 * np.pi * share))
    return trimmer.low + 0.0 * position


def diode_capacitance(diode: Diode, volts: Numbers) -> Numbers:
    """Capacitance [F] of diode and coupling capacitor.

    A swing of amplitude A raises the mean by A^2 / 4 times the curvature of C(V) (Taylor's series, mean of sin^2).
    """
    ratio = 1 + volts / diode.potential
    junction = diode.junction / ratio**diode.exponent
    if diode.swing:
        bend = diode.exponent * (diode.exponent + 1) / (diode.potential * ratio) ** 2
        junction = junction * (1 + diode.swing**2 / 4 * bend)
    alone = junction + diode.fixed
    return alone if diode.coupling == 0 else alone * diode.coupling / (alone + diode.coupling)


def gang_capacitance(law: GangLaw, section: Section, shaft: Numbers) -> Numbers:
    """Capacitance [F] of one section over the shaft, 0 closed to 1 open."""
    first, second, third = section.bends
    bent = first * (1 - 2 * shaft) ** 2 + second * np.sin(2 * np.pi * shaft) + third * np.sin(np.pi * shaft)
    plain = _by_rows(section.rows, shaft) if section.rows else _plain_gang(law, shaft)
    return section.scale * plain * (1 + bent) + section.offset


def _plain_gang(law: GangLaw, shaft: Numbers) -> Numbers:
    if law.rows:
        return _by_rows(law.rows, shaft)
    straight = law.high + (law.low - law.high) * shaft
    slow, fast = (law.high + law.stray) ** -0.5, (law.low + law.stray) ** -0.5
    by_frequency: Numbers = (slow + (fast - slow) * shaft) ** -2.0 - law.stray
    mixed: Numbers = (1 - law.blend) * straight + law.blend * by_frequency
    return mixed


def _by_rows(rows: tuple[tuple[float, float], ...], shaft: Numbers) -> Numbers:
    read: npt.NDArray[np.float64] = np.exp(np.asarray(_table(rows)(shaft), dtype=np.float64))
    return read


@lru_cache(maxsize=64)
def _table(rows: tuple[tuple[float, float], ...]) -> PchipInterpolator:
    at, value = np.array(rows).T
    return PchipInterpolator(at, np.log(value), extrapolate=True)


@lru_cache(maxsize=256)
def scale_rows(rows: tuple[tuple[float, float], ...]) -> PchipInterpolator:
    """A smooth curve through rows (at, value)."""
    at, value = np.array(rows).T
    return PchipInterpolator(at, value, extrapolate=True)
