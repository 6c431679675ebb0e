"""The S-curve of FM detectors against derived values and the words of the trade."""

import math

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from aligner.circuits.s_curve import SCurve, fit_s_curve
from aligner.circuits.uncertain import CannotTell

CENTRE, QUALITY = 10.7e6, 40.0
HALF = CENTRE / (2 * QUALITY)


def test_quadrature_peaks_are_f0_over_q_apart() -> None:
    # Derived, verified numerically: x/(1 + x^2) peaks at x = -1 and 1 with 0.5.
    curve = SCurve("quadrature", CENTRE, HALF, 1.0)
    top = minimize_scalar(lambda hz: -curve.volts(hz), bounds=(CENTRE, CENTRE + 4 * HALF), method="bounded")
    bottom = minimize_scalar(curve.volts, bounds=(CENTRE - 4 * HALF, CENTRE), method="bounded")
    assert float(top.x) - float(bottom.x) == pytest.approx(CENTRE / QUALITY, rel=1e-4)
    assert curve.volts(float(top.x)) == pytest.approx(1.0)


@pytest.mark.parametrize(("apart", "peak"), [(1.0, 1.1662), (1.25, 1.3713), (1.5, 1.5913), (2.0, 2.0559)])
def test_balanced_slope_detector_peaks_where_computed(apart: float, peak: float) -> None:
    # Computed: circuits at x = -a and a; the peak lies a little outside.
    curve = SCurve("discriminator", CENTRE, HALF, 1.0, apart=apart)
    assert curve.peak_x() == pytest.approx(peak, abs=1e-4)
    top = minimize_scalar(lambda hz: -curve.volts(hz), bounds=(CENTRE, CENTRE + 4 * HALF), method="bounded")
    assert (float(top.x) - CENTRE) / HALF == pytest.approx(peak, abs=1e-4)


def readings(curve: SCurve, count: int = 9) -> tuple[tuple[float, float], ...]:
    hz = np.linspace(CENTRE - 2.2 * HALF, CENTRE + 2.2 * HALF, count)
    return tuple(zip(hz.tolist(), curve.volts(hz).tolist(), strict=True))


@pytest.mark.parametrize("detector", ["quadrature", "discriminator"])
def test_zero_stands_at_the_centre_and_the_curve_turns_over_at_the_edges(detector: str) -> None:
    # rfessentials.com on FM discriminators: zero at centre, linear through the pass-band, turning over at the edges.
    curve = SCurve(detector, CENTRE, HALF, 0.8)  # type: ignore[arg-type]
    fit = fit_s_curve(readings(curve), 0.005)
    assert not isinstance(fit, CannotTell)
    assert fit.zero_hz.value == pytest.approx(CENTRE, abs=10)
    assert fit.low_peak_hz.value < CENTRE - fit.linear_span_hz.value / 2
    assert fit.high_peak_hz.value > CENTRE + fit.linear_span_hz.value / 2
    assert curve.volts(CENTRE + 3 * HALF) < curve.volts(CENTRE + curve.peak_x() * HALF)


def test_equal_and_opposite_readings_at_the_edges_are_symmetry() -> None:
    # J. B. Hoag, Basic Radio, sec. 34 (vias.org/basicradio/basic_radio_34_08.html): secondary for zero at the centre,
    # then equal and opposite readings at the two edges; if unequal the primary is adjusted, and the zero set again.
    even = fit_s_curve(readings(SCurve("discriminator", CENTRE, HALF, 0.8)), 0.005)
    uneven = fit_s_curve(readings(SCurve("discriminator", CENTRE, HALF, 0.8, 0.1)), 0.005)
    assert not isinstance(even, CannotTell)
    assert not isinstance(uneven, CannotTell)
    assert even.symmetry.value == pytest.approx(0, abs=1e-4)
    assert even.peaks_v[0] == pytest.approx(-even.peaks_v[1], rel=1e-3)
    assert uneven.symmetry.value > 0.1
    assert uneven.zero_hz.value < CENTRE - 1e3


def test_slope_of_a_quadrature_detector_is_its_sensitivity() -> None:
    # Derived: 2A/h volts a hertz at the centre. 1.2 V peak to peak for 10 kHz deviation either side is 60 uV/Hz, as in
    # R. Blake, Electronic Communication Systems, example 6.7, p. 245.
    curve = SCurve("quadrature", CENTRE, HALF, 60e-6 * HALF / 2)
    fit = fit_s_curve(readings(curve), 1e-4)
    assert not isinstance(fit, CannotTell)
    assert fit.slope_v_per_hz.value == pytest.approx(1.2 / 20e3, rel=1e-3)
    # 5 % from the tangent: x^2 / (1 + x^2) = 0.05.
    assert fit.linear_span_hz.value == pytest.approx(2 * HALF * math.sqrt(0.05 / 0.95), rel=1e-3)
