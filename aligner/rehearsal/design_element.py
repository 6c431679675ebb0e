"""The tuning element of the design: a gang or a diode, wide enough for the bands that it has to cover."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares

from aligner.procedure.model import Band, CoverageStep, Procedure
from aligner.rehearsal.laws import Numbers, diode_capacitance, gang_capacitance
from aligner.rehearsal.parts import Diode, GangLaw, Section

MARGIN = 0.03  # a gang covers so much more than the band at each end: three-point tracking bends away there
Vector = npt.NDArray[np.float64]
PLAIN = Section(1.0, 0.0, (0.0, 0.0, 0.0))


@dataclass(frozen=True)
class Element:
    """The tuning element of the design and where its ends are ([V] or shaft)."""

    ends: tuple[float, float]
    reach: tuple[float, float]
    diode: Diode | None = None
    gang: GangLaw | None = None

    def farad(self, tuning: Numbers, section: Section = PLAIN) -> Numbers:
        """Capacitance [F] at positions of the tuning, of a plain section unless another is named."""
        if self.diode is not None:
            return diode_capacitance(self.diode, tuning)
        assert self.gang is not None  # noqa: S101 - one of the two is always there
        return gang_capacitance(self.gang, section, tuning)


def element_for(procedure: Procedure, scale: float) -> Element:
    """The element that the widest band (by ratio) needs, with all capacitances scaled."""
    band = widest(procedure)
    low, high = band.low_hz, band.high_hz
    if procedure.tuning.by == "voltage":
        return _diode_element(procedure, scale, (high / low) ** 2, high)
    ratio = (high * (1 + MARGIN) / (low * (1 - MARGIN))) ** 2
    return Element((0.0, 1.0), (0.0, 1.0), gang=_gang_law(procedure, scale, ratio, (low, high)))


def widest(procedure: Procedure) -> Band:
    """The band that a curve by dial belongs to, else the one of the greatest ratio of its ends."""
    at = [row[0] for row in procedure.tuning.curve] if procedure.tuning.by == "gang" else []
    rows = [band for band in procedure.bands if at and band.low_hz <= max(at) and min(at) <= band.high_hz]
    return max(rows or procedure.bands, key=lambda band: band.high_hz / band.low_hz)


def _gang_law(procedure: Procedure, scale: float, ratio: float, band: tuple[float, float]) -> GangLaw:
    tuning = procedure.tuning
    if tuning.curve:
        share = MARGIN * 2
        rows = tuple(
            (share + (1 - 2 * share) * (hz - band[0]) / (band[1] - band[0]), farad) for hz, farad in tuning.curve
        )
        return GangLaw(min(row[1] for row in rows), max(row[1] for row in rows), 0.0, 0.0, rows)
    least = (12e-12 if band[1] < 5e6 else 6e-12) * scale
    span = tuning.span or (least, least * (ratio + 3.0 * (ratio - 1)))
    blend = {"straight-capacitance": 0.0, "straight-frequency": 1.0, None: 0.6}[tuning.law]
    return GangLaw(min(span), max(span), 3.0 * min(span), blend)


def _volts(procedure: Procedure) -> tuple[float, float]:
    if procedure.tuning.span:
        return procedure.tuning.span
    rows = [point.place.volts for step in procedure.steps if isinstance(step, CoverageStep) for point in step.points]
    known = [volts for volts in rows if volts is not None]
    return (min(known), max(known)) if len(known) > 1 else (2.0, 8.0)


def _diode_element(procedure: Procedure, scale: float, ratio: float, high_hz: float) -> Element:
    low, high = _volts(procedure)
    reach = (max(0.3, 0.7 * low), 1.25 * high)
    if procedure.tuning.curve:
        return Element((low, high), reach, _fitted(procedure.tuning.curve))
    potential = 0.7
    exponent = math.log(ratio + 1.1 * (ratio - 1)) / math.log((potential + high) / (potential + low))
    least = 9e-12 * (108e6 / high_hz) ** 0.25 * scale
    junction = least * (1 + high / potential) ** exponent
    diode = Diode(junction, potential, exponent, 0.03 * least, 60 * least, 0.0)
    return Element((low, high), reach, diode)


def _fitted(curve: tuple[tuple[float, float], ...]) -> Diode:
    """A diode through a table of (V, F); the rest of the misfit is what tables and diodes differ by anyway."""
    volts, farad = np.array(curve).T

    def diode(guess: Vector) -> Diode:
        return Diode(math.exp(guess[0]), 0.7, math.exp(guess[1]), 0.0, 0.0, 0.0)

    def misfit(guess: Vector) -> Vector:
        return np.asarray(np.log(diode_capacitance(diode(guess), volts) / farad))

    return diode(least_squares(misfit, [math.log(farad[0] * 2), math.log(0.5)]).x)
