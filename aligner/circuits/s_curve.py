"""The S-curve of an FM detector: zero, peaks, slope, linear span, symmetry.

With x = 2 Q (f - f0) / f0 = (f - f0) / h:

quadrature      v = A 2x / (1 + x^2)                                    peaks at x = -1 and 1
discriminator   v = A (1/sqrt(1 + (x - b)^2) - 1/sqrt(1 + (x + b)^2))   two resonances b half widths either side

The second stands for discriminators and ratio detectors, whose two halves see the sum and the difference of two
voltages; b is how far apart they work. A constant is added to both: a curve whose halves are unlike, or a meter with an
offset. The zero is where the curve crosses zero volts, wherever that is.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.optimize import brentq, least_squares

from aligner.circuits.reals import Array, Reals, like
from aligner.circuits.response_fit import Points
from aligner.circuits.uncertain import CannotTell, Uncertain, averaged, covariance_of, criterion

Detector = Literal["quadrature", "discriminator"]

_SEEN = ("zero_hz", "low_peak_hz", "high_peak_hz", "slope_v_per_hz", "linear_span_hz", "symmetry")
_LEAST_READINGS = 5
_LEAST_TO_CHOOSE = 7  # with fewer either kind may fit by chance
_LN_APART_SD = 0.7
_APART = 1.0  # about what gives the longest straight part


@dataclass(frozen=True, slots=True)
class SCurve:
    """The values of an S-curve.

    Attributes
    ----------
    detector : "quadrature" or "discriminator" [-]
        Which of the two curves.
    centre_hz : float [Hz]
        Where its two halves meet.
    half_width_hz : float [Hz]
        h = f0 / 2Q.
    height_v : float [V]
        A, with the sign of the slope.
    offset_v : float [V]
        Constant.
    apart : float [1]
        b, of no meaning for a quadrature detector.
    """

    detector: Detector
    centre_hz: float
    half_width_hz: float
    height_v: float
    offset_v: float = 0.0
    apart: float = _APART

    def volts(self, frequency_hz: Reals) -> Reals:
        """Voltage at a frequency.

        Parameters
        ----------
        frequency_hz : float or array (n,) [Hz]
            Frequencies.

        Returns
        -------
        float or array (n,) [V]
            Voltage. Source: the module's equations; the quadrature curve is the phase of one tuned circuit times its
            amplitude, derived.
        """
        x = (frequency_hz - self.centre_hz) / self.half_width_hz
        if self.detector == "quadrature":
            return x * 2 / (x * x + 1) * self.height_v + self.offset_v
        above, below = 1 / np.hypot(1, x - self.apart), 1 / np.hypot(1, x + self.apart)
        return like(frequency_hz, (above - below) * self.height_v + self.offset_v)

    def peak_x(self) -> float:
        """Where the curve turns over, in half widths from its centre.

        Returns
        -------
        float [1]
            1 for a quadrature detector. Source: zero of the derivative.
        """
        if self.detector == "quadrature":
            return 1.0

        def slope(x: float) -> float:
            below, above = x + self.apart, x - self.apart
            return float(below * (1 + below * below) ** -1.5 - above * (1 + above * above) ** -1.5)

        return float(brentq(slope, 0.3 * self.apart, self.apart + 3.0))

    def zero_hz(self) -> float:
        """Where the curve crosses zero volts between its peaks; not a number where it does not.

        Returns
        -------
        float [Hz]
            Frequency. Source: root (Brent).
        """
        reach = self.peak_x() * self.half_width_hz
        low, high = self.centre_hz - reach, self.centre_hz + reach
        if self.volts(low) * self.volts(high) > 0:
            return math.nan
        return float(brentq(self.volts, low, high, xtol=1e-9 * self.half_width_hz))


@dataclass(frozen=True, slots=True)
class SCurveFit:
    """A fitted S-curve.

    Attributes
    ----------
    curve : SCurve [-]
        The curve.
    zero_hz : Uncertain [Hz]
        Where it crosses zero volts.
    low_peak_hz : Uncertain [Hz]
        The turning point below.
    high_peak_hz : Uncertain [Hz]
        The turning point above.
    peaks_v : (float, float) [V]
        Voltages of the lower and the upper turning point.
    slope_v_per_hz : Uncertain [V/Hz]
        Slope at the zero.
    linear_span_hz : Uncertain [Hz]
        Span around the zero over which the curve stays within 5 % of its tangent.
    symmetry : Uncertain [1]
        Sum of the two peak voltages over their difference, zero for equal and opposite peaks.
    rms_v : float [V]
        Root mean square of what the fit leaves.
    """

    curve: SCurve
    zero_hz: Uncertain
    low_peak_hz: Uncertain
    high_peak_hz: Uncertain
    peaks_v: tuple[float, float]
    slope_v_per_hz: Uncertain
    linear_span_hz: Uncertain
    symmetry: Uncertain
    rms_v: float


def fit_s_curve(
    points: Points, sd_v: float, detectors: tuple[Detector, ...] = ("quadrature", "discriminator")
) -> SCurveFit | CannotTell:
    """The S-curve behind a handful of readings.

    Parameters
    ----------
    points : tuple of (float, float) [Hz; V]
        Readings in any order, on both sides of the zero: five or more where the kind is given, else seven.
    sd_v : float [V]
        Standard uncertainty of one reading.
    detectors : tuple of "quadrature", "discriminator" [-]
        Kinds that are possible; the one that explains the readings best with the fewest unknowns is taken.

    Returns
    -------
    SCurveFit or CannotTell [-]
        The fit, or what is missing. Source: least squares with the information criterion n ln(s^2 + RSS/n) + k ln n.
    """
    ordered = tuple(sorted(points))
    lacking = _lacking(ordered, _LEAST_READINGS if len(detectors) == 1 else _LEAST_TO_CHOOSE)
    if lacking:
        return lacking
    hz, volts = np.array(ordered).T
    fits = [_fit(detector, hz, volts, sd_v) for detector in detectors]
    good = [fit for fit in fits if fit is not None and math.isfinite(fit[1].zero_hz.value)]
    if not good:
        return CannotTell("the curve that fits these readings crosses no zero; read again closer to the middle", ())
    good.sort(key=lambda fit: fit[0])
    criteria, reports = zip(*good, strict=True)
    combined = {name: averaged([getattr(report, name) for report in reports], criteria) for name in _SEEN}
    best: SCurveFit = reports[0]
    return SCurveFit(curve=best.curve, peaks_v=best.peaks_v, rms_v=best.rms_v, **combined)


def _lacking(points: Points, least: int) -> CannotTell | None:
    if len({hz for hz, _ in points}) < least:
        return CannotTell(f"{least} readings or more at unlike frequencies are needed, on both sides of the zero", ())
    volts = [value for _, value in points]
    if min(volts) < 0 < max(volts):
        return None
    span = points[-1][0] - points[0][0]
    nearer_low = abs(volts[0]) < abs(volts[-1])
    beyond = points[0][0] - span / 4 if nearer_low else points[-1][0] + span / 4
    return CannotTell(f"no zero among the readings; read at {beyond / 1e6:.6g} MHz", (beyond,))


def _fit(detector: Detector, hz: Array, volts: Array, sd_v: float) -> tuple[float, SCurveFit] | None:
    middle, span, height = float(hz[0] + hz[-1]) / 2, float(hz[-1] - hz[0]), float(np.ptp(volts)) / 2
    count = 4 + (detector == "discriminator")

    def curve(unknowns: Array) -> SCurve:
        centre, width, rise, offset, apart = (*(float(value) for value in unknowns), 0.0)[:5]
        half = span * math.exp(width)
        return SCurve(detector, middle + centre * span, half, rise * height, offset * height, _APART * math.exp(apart))

    def residuals(unknowns: Array) -> Array:
        miss = (curve(unknowns).volts(hz) - volts) / sd_v
        prior = unknowns[4] / _LN_APART_SD if count > 4 else 0.0
        return np.append(miss, prior)

    sign = math.copysign(1.0, float(np.polyfit(hz - middle, volts, 1)[0]))
    starts = [[0.0, width, way, 0.0, 0.0][:count] for width in (-2.0, -1.0, 0.0) for way in (sign, -sign)]
    bounds = [-1.0, -5.0, -20.0, -2.0, -1.5][:count], [1.0, 3.0, 20.0, 2.0, 1.5][:count]
    found = min((least_squares(residuals, start, bounds=bounds) for start in starts), key=lambda one: float(one.cost))
    best = np.asarray(found.x)
    if not math.isfinite(curve(best).zero_hz()):
        return None
    left = residuals(best)[:-1] * sd_v
    inflation = max(1.0, float(left @ left) / sd_v**2 / max(len(hz) - count, 1))
    covariance = covariance_of(np.asarray(found.jac)) * inflation
    rms = math.sqrt(float(left @ left) / len(hz))
    return criterion(left, sd_v, count), _report(curve, best, covariance, rms)


def _report(curve: Callable[[Array], SCurve], best: Array, covariance: Array, rms_v: float) -> SCurveFit:
    at_best = _seen(curve(best))
    steps = np.eye(len(best)) * 1e-5
    gradients = np.array([(_seen(curve(best + step)) - _seen(curve(best - step))) / 2e-5 for step in steps]).T
    spreads = np.sqrt(np.einsum("ij,jk,ik->i", gradients, covariance, gradients))
    named = {
        name: Uncertain(float(value), float(spread))
        for name, value, spread in zip(_SEEN, at_best, spreads, strict=True)
    }
    fitted = curve(best)
    peaks = fitted.volts(named["low_peak_hz"].value), fitted.volts(named["high_peak_hz"].value)
    return SCurveFit(curve=fitted, peaks_v=peaks, rms_v=rms_v, **named)


def _seen(curve: SCurve) -> Array:
    """Zero, both peaks, slope, linear span and symmetry of a curve."""
    reach = curve.peak_x() * curve.half_width_hz
    low, high = curve.centre_hz - reach, curve.centre_hz + reach
    low_v, high_v = curve.volts(low), curve.volts(high)
    zero = curve.zero_hz()
    step = 1e-4 * curve.half_width_hz
    slope = (curve.volts(zero + step) - curve.volts(zero - step)) / (2 * step)
    linear = _straight(curve, zero, slope, high) + _straight(curve, zero, slope, low)
    return np.array([zero, low, high, slope, linear, (low_v + high_v) / (high_v - low_v)])


def _straight(curve: SCurve, zero_hz: float, slope: float, peak_hz: float) -> float:
    """How far [Hz] from the zero towards a peak the curve stays within 5 % of its tangent."""

    def bend(part: float) -> float:
        away = part * (peak_hz - zero_hz)
        return abs(curve.volts(zero_hz + away) / (slope * away) - 1) - 0.05

    grid = np.linspace(0.02, 1.0, 50)
    past = [part for part in grid.tolist() if bend(part) > 0]
    if not past or past[0] == grid[0]:
        return abs(peak_hz - zero_hz) * (0.0 if past else 1.0)
    return float(brentq(bend, past[0] - (grid[1] - grid[0]), past[0])) * abs(peak_hz - zero_hz)
