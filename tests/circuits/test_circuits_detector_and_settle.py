"""S-curves and settles fitted, and what cannot be told yet."""

import math

import numpy as np
import pytest

from aligner.circuits.s_curve import SCurve, SCurveFit, fit_s_curve
from aligner.circuits.settle import Settle, fit_settle
from aligner.circuits.uncertain import CannotTell, Uncertain, averaged, covariance_of

CENTRE = 10.73e6
TRUTHS = [
    SCurve("quadrature", CENTRE, 120e3, 0.8, 0.05),
    SCurve("discriminator", CENTRE, 120e3, -0.8, 0.05, 1.25),
    SCurve("discriminator", CENTRE, 120e3, 0.8, 0.0, 1.8),
]


def s_readings(curve: SCurve, count: int, chance: np.random.Generator) -> tuple[tuple[float, float], ...]:
    hz = np.linspace(CENTRE - 250e3, CENTRE + 230e3, count)
    volts = curve.volts(hz) + chance.normal(0, 0.01, count)
    return tuple(zip(hz.tolist(), volts.tolist(), strict=True))


@pytest.mark.parametrize("truth", TRUTHS)
def test_s_curve_intervals_hold_the_truth(truth: SCurve) -> None:
    chance = np.random.default_rng(11)
    peak = truth.peak_x() * truth.half_width_hz
    expected = {"zero_hz": truth.zero_hz(), "low_peak_hz": CENTRE - peak, "high_peak_hz": CENTRE + peak}
    held = asked = 0
    for _ in range(12):
        fit = fit_s_curve(s_readings(truth, 9, chance), 0.01)
        assert isinstance(fit, SCurveFit)
        for name, value in expected.items():
            found = getattr(fit, name)
            asked += 1
            held += abs(found.value - value) <= 1.96 * found.sd
    assert held >= 0.86 * asked  # 95 % wanted; fewer than 31 of 36 has a chance of one in a hundred


def test_five_readings_are_enough_where_the_detector_is_known() -> None:
    points = s_readings(TRUTHS[0], 5, np.random.default_rng(4))
    fit = fit_s_curve(points, 0.01, ("quadrature",))
    assert isinstance(fit, SCurveFit)
    assert fit.zero_hz.value == pytest.approx(TRUTHS[0].zero_hz(), abs=4 * fit.zero_hz.sd)
    told = fit_s_curve(points, 0.01)
    assert isinstance(told, CannotTell)
    assert "7 readings or more" in told.why


def test_a_falling_curve_has_a_negative_slope() -> None:
    fit = fit_s_curve(s_readings(TRUTHS[1], 9, np.random.default_rng(4)), 0.01)
    assert isinstance(fit, SCurveFit)
    assert fit.slope_v_per_hz.value < 0
    assert fit.peaks_v[0] > fit.peaks_v[1]


def test_readings_on_one_side_of_zero_say_where_to_read() -> None:
    points = tuple((CENTRE + at * 2e4, 0.1 + 0.05 * at) for at in range(7))
    told = fit_s_curve(points, 0.01)
    assert isinstance(told, CannotTell)
    assert "no zero among the readings" in told.why
    assert told.take[0] < CENTRE


def warm_up(
    span_s: float, count: int, chance: np.random.Generator, tau: float = 600.0
) -> tuple[tuple[float, float], ...]:
    times = np.linspace(0, span_s, count)
    values = 98e6 + 30e3 * np.exp(-times / tau) + chance.normal(0, 300, count)
    return tuple(zip((times + 5000).tolist(), values.tolist(), strict=True))


def test_settle_intervals_hold_the_truth() -> None:
    chance = np.random.default_rng(12)
    held = asked = 0
    for _ in range(60):
        fit = fit_settle(warm_up(1500, 12, chance), 300)
        assert isinstance(fit, Settle)
        assert fit.time_constant_s is not None
        when, truth = fit.within_at_s(2e3), 5000 + 600 * math.log(15)
        asked += 3
        held += abs(fit.final.value - 98e6) <= 1.96 * fit.final.sd
        held += abs(when.value - truth) <= 1.96 * when.sd
        held += abs(fit.time_constant_s.value - 600) <= 1.96 * fit.time_constant_s.sd
    assert held >= 0.9 * asked


def early(span_s: float) -> tuple[list[str], int]:
    """What is said of sixty warm-ups cut short, and how many claims are wrong."""
    chance = np.random.default_rng(13)
    fits = [fit_settle(warm_up(span_s, 8, chance), 300) for _ in range(60)]
    said = [fit.why for fit in fits if isinstance(fit, CannotTell)]
    wrong = sum(isinstance(fit, Settle) and abs(fit.final.value - 98e6) > 1.96 * fit.final.sd for fit in fits)
    return said, wrong


def test_a_sixth_of_the_time_constant_looks_like_an_even_drift() -> None:
    said, wrong = early(100)
    assert len(said) == 60
    assert all("goes on evenly" in why for why in said)
    assert wrong == 0


def test_half_of_the_time_constant_is_mostly_too_little_to_say_where_it_ends() -> None:
    # Those that pass for a settle by chance are the quick ones, and wrong: there must be next to none of them.
    said, wrong = early(300)
    assert any("too little to say where it ends" in why for why in said)
    assert wrong <= 1


def test_two_thirds_of_the_time_constant_give_claims_that_are_mostly_true() -> None:
    said, wrong = early(400)
    assert len(said) < 50
    assert wrong <= 6


def test_a_set_that_stands_still_has_settled() -> None:
    chance = np.random.default_rng(14)
    points = tuple((60.0 * at, 98e6 + float(chance.normal(0, 300))) for at in range(8))
    fit = fit_settle(points, 300)
    assert isinstance(fit, Settle)
    assert fit.time_constant_s is None
    assert fit.within_at_s(1e3) == Uncertain(0.0, 0.0)
    assert fit.value(1e4) == fit.final.value


def test_an_even_drift_cannot_be_told_yet() -> None:
    told = fit_settle(tuple((60.0 * at, 98e6 + 2e3 * at) for at in range(8)), 100)
    assert isinstance(told, CannotTell)
    assert told.take[0] > 420


def test_too_few_readings_cannot_be_told_yet() -> None:
    for points in ((), ((0.0, 1.0),), ((0.0, 1.0), (60.0, 2.0), (120.0, 3.0))):
        told = fit_settle(points, 0.1)
        assert isinstance(told, CannotTell)
        assert len(told.take) == 1


def test_a_limit_wider_than_the_whole_swing_was_met_at_once() -> None:
    fit = fit_settle(warm_up(3000, 20, np.random.default_rng(15)), 300)
    assert isinstance(fit, Settle)
    assert fit.within_at_s(1e6) == Uncertain(5000.0, 0.0)
    assert fit.value(5000.0) == pytest.approx(98.03e6, abs=1.5e3)


def test_the_clock_of_the_readings_may_start_anywhere() -> None:
    points = warm_up(1500, 12, np.random.default_rng(16))
    moved = tuple((at + 1e6, value) for at, value in points)
    one, other = fit_settle(points, 300), fit_settle(moved, 300)
    assert isinstance(one, Settle)
    assert isinstance(other, Settle)
    assert other.within_at_s(2e3).value - one.within_at_s(2e3).value == pytest.approx(1e6, abs=0.1)


def test_what_readings_do_not_settle_gets_a_large_variance_and_never_none() -> None:
    covariance = covariance_of(np.array([[1.0, 1.0], [1.0, 1.0], [1.0, 1.0]]))
    assert np.all(np.diag(covariance) > 1e6)


def test_an_average_of_rivals_is_wider_than_the_best_alone() -> None:
    one = averaged([Uncertain(1.0, 0.1), Uncertain(2.0, 0.1)], [0.0, 0.0])
    assert (one.value, one.sd) == pytest.approx((1.0, math.sqrt(0.01 + 0.5)))
    assert averaged([Uncertain(1.0, 0.1), Uncertain(2.0, 0.1)], [0.0, 100.0]).sd == pytest.approx(0.1)
