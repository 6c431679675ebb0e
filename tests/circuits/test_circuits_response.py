"""Responses and their features; fits to a handful of readings, and how true their uncertainties are."""

import numpy as np
import pytest

from aligner.circuits.features import features
from aligner.circuits.response import (
    Cascade,
    Resonators,
    UnequalPair,
    ceramic_filter,
    delay_variation_s,
    group_delay_s,
    level_db,
    ripple_over_db,
)
from aligner.circuits.response_fit import Points, ResponseFit, fit_response
from aligner.circuits.uncertain import CannotTell
from aligner.errors import CircuitError

CENTRE = 10.73e6  # invented: a strip whose true centre is 30 kHz off nominal
STRIP = ceramic_filter(CENTRE, 180e3, 1.3)


def readings(
    response: Resonators, width_hz: float, count: int, chance: np.random.Generator, sd_db: float = 0.2
) -> Points:
    hz = np.linspace(response.centre_hz - 1.3 * width_hz, response.centre_hz + 1.1 * width_hz, count)
    levels = level_db(response, hz) - 31.0 + chance.normal(0, sd_db, count)
    return tuple(zip(hz.tolist(), levels.tolist(), strict=True))


@pytest.mark.parametrize("shape", ["single", "pair", "triple"])
def test_every_shape_is_one_at_its_centre(shape: str) -> None:
    one = Resonators(1e6, 50, shape, 1.4)  # type: ignore[arg-type]
    assert one.transfer(np.array([1e6]))[0] == pytest.approx(1)


def test_equal_qualities_make_the_unequal_pair_the_equal_one() -> None:
    hz = np.linspace(0.95e6, 1.05e6, 11)
    unequal = UnequalPair(1e6, (50, 50), 0.03)
    assert np.allclose(unequal.transfer(hz), Resonators(1e6, 50, "pair", 1.5).transfer(hz))


def test_levels_alone_cannot_tell_unequal_qualities() -> None:
    # Whatever the two Q, a pair of equal Q has the same level curve: readings of one are fitted by the other exactly.
    hz = np.linspace(0.9e6, 1.1e6, 15)
    unequal = UnequalPair(1e6, (60, 25), 0.05)
    fit = fit_response(tuple(zip(hz.tolist(), level_db(unequal, hz).tolist(), strict=True)), 0.05, ("pair",))
    assert isinstance(fit, ResponseFit)
    assert fit.rms_db < 0.01


def test_a_cascade_adds_levels_and_delays() -> None:
    hz = np.linspace(10.6e6, 10.8e6, 21)
    one, other = ceramic_filter(10.7e6, 230e3), ceramic_filter(10.72e6, 180e3)
    both = Cascade((one, other))
    assert level_db(both, hz) == pytest.approx(level_db(one, hz) + level_db(other, hz))
    assert group_delay_s(both, hz) == pytest.approx(group_delay_s(one, hz) + group_delay_s(other, hz), rel=1e-6)


def test_a_wider_filter_is_kinder_to_the_deviation() -> None:
    wide, narrow = ceramic_filter(10.7e6, 280e3), ceramic_filter(10.7e6, 180e3)
    assert delay_variation_s(wide, 10.7e6, 75e3) < delay_variation_s(narrow, 10.7e6, 75e3)
    assert ripple_over_db(wide, 10.7e6, 75e3) < ripple_over_db(narrow, 10.7e6, 75e3)


@pytest.mark.parametrize("flatness", [0.5, 1.0, 2.0, 4.0])
def test_a_ceramic_filter_has_the_width_it_was_given(flatness: float) -> None:
    one = ceramic_filter(10.7e6, 200e3, flatness)
    edges = 10.7e6 * np.array([(1 + (200e3 / 21.4e6) ** 2) ** 0.5 + sign * 200e3 / 21.4e6 for sign in (-1, 1)])
    assert level_db(one, edges) == pytest.approx([-3.0103, -3.0103], abs=1e-4)
    assert (features(one, 10.7e6, 200e3).ripple_db > 1e-3) == (flatness > 1)


def test_a_ceramic_filter_that_cannot_be_is_refused() -> None:
    with pytest.raises(CircuitError, match="no ceramic filter"):
        ceramic_filter(10.7e6, 180e3, 0.0)


def test_skew_shows_as_asymmetry_and_moves_no_centre_frequency_of_the_model() -> None:
    skewed = Resonators(CENTRE, 90, "triple", 1.2, 1, 0.15)
    seen = features(skewed, CENTRE, 170e3)
    assert seen.symmetry > 0.02
    assert skewed.transfer(np.array([CENTRE]))[0] == pytest.approx(1)


def test_widths_of_a_single_circuit_are_those_of_its_resonance_curve() -> None:
    seen = features(Resonators(1e6, 50), 1e6, 2e4)
    assert seen.width_3_hz == pytest.approx(1e6 / 50, rel=1e-6)
    assert seen.width_20_hz == pytest.approx(1e6 / 50 * 99**0.5, rel=1e-6)  # 20 dB: 1 + a^2 = 100
    assert (seen.peak_hz, seen.peak_db) == pytest.approx((1e6, 0.0), abs=1)


def test_a_response_without_a_peak_in_sight_is_refused() -> None:
    with pytest.raises(CircuitError, match="no peak between"):
        features(Resonators(1e6, 50), 2e6, 1e4)


TRUTHS = [
    ("single", Resonators(455e3, 40), 455e3 / 40),
    ("pair", Resonators(455e3, 70, "pair", 1.6), 13e3),
    ("strip", STRIP, 180e3),
    ("strip", Resonators(CENTRE, 80, "triple", 1.3, 1, 0.12), 190e3),
]


@pytest.mark.parametrize(("kind", "truth", "width_hz"), TRUTHS)
def test_the_kind_is_found_and_most_intervals_hold_the_truth(kind: str, truth: Resonators, width_hz: float) -> None:
    chance = np.random.default_rng(20)
    seen = features(truth, truth.centre_hz, width_hz)
    right, held, asked = 0, 0, 0
    for _ in range(12):
        fit = fit_response(readings(truth, width_hz, 9, chance))
        assert isinstance(fit, ResponseFit)
        right += fit.kind == kind
        for name in ("centre_hz", "width_3_hz", "width_20_hz"):
            found = getattr(fit, name)
            asked += 1
            held += abs(found.value - getattr(seen, name)) <= 1.96 * found.sd
    assert right >= 11
    assert held >= 0.86 * asked  # 95 % wanted; fewer than 31 of 36 has a chance of one in a hundred


def test_five_readings_give_the_centre_of_a_strip_off_nominal() -> None:
    fit = fit_response(readings(STRIP, 180e3, 5, np.random.default_rng(3)))
    assert isinstance(fit, ResponseFit)
    assert abs(fit.centre_hz.value - CENTRE) < 2.5 * fit.centre_hz.sd
    assert fit.centre_hz.sd < 15e3
    assert fit.centre_hz.value - 10.7e6 > 15e3


def test_more_readings_make_it_surer() -> None:
    few = fit_response(readings(STRIP, 180e3, 6, np.random.default_rng(5)))
    many = fit_response(readings(STRIP, 180e3, 41, np.random.default_rng(5)))
    assert isinstance(few, ResponseFit)
    assert isinstance(many, ResponseFit)
    assert many.centre_hz.sd < few.centre_hz.sd
    assert many.width_3_hz.sd < few.width_3_hz.sd


def test_a_width_beyond_the_readings_is_uncertain() -> None:
    hz = np.linspace(CENTRE - 110e3, CENTRE + 110e3, 7)
    shallow = fit_response(tuple(zip(hz.tolist(), level_db(STRIP, hz).tolist(), strict=True)))
    deep = fit_response(readings(STRIP, 180e3, 11, np.random.default_rng(1)))
    assert isinstance(shallow, ResponseFit)
    assert isinstance(deep, ResponseFit)
    assert shallow.deepest_db < 8
    assert deep.deepest_db > 20
    assert shallow.width_20_hz.sd > 3 * deep.width_20_hz.sd


def test_order_of_the_readings_does_not_matter() -> None:
    points = readings(STRIP, 180e3, 9, np.random.default_rng(7))
    assert fit_response(points[::-1]) == fit_response(points)


def test_coupling_and_ripple_of_an_overcoupled_pair_are_found() -> None:
    truth = Resonators(455e3, 70, "pair", 2.2)
    fit = fit_response(readings(truth, 18e3, 15, np.random.default_rng(2)))
    assert isinstance(fit, ResponseFit)
    assert fit.kind == "pair"
    assert fit.coupling is not None
    assert fit.coupling.value == pytest.approx(2.2, abs=3 * fit.coupling.sd)
    assert fit.ripple_db.value == pytest.approx(2.46, abs=3 * fit.ripple_db.sd + 0.01)  # 20 lg((1 + p^2) / 2p)
    assert fit.quality.value == pytest.approx(70, abs=3 * fit.quality.sd)


@pytest.mark.parametrize(
    ("points", "why", "take"),
    [
        (((1e6, 0.0), (1.1e6, -3.0)), "3 more readings", ()),
        (tuple((1e6 + at * 1e4, -float(at)) for at in range(6)), "hardly fallen", (0.99e6,)),
        (tuple((1e6 + at * 1e4, float(at)) for at in range(6)), "hardly fallen", (1.06e6,)),
        (tuple((1e6 + at * 1e4, 0.1 * (at % 2)) for at in range(6)), "hardly fallen", (0.99e6, 1.06e6)),
    ],
)
def test_what_cannot_be_told_is_said_with_where_to_read(points: Points, why: str, take: tuple[float, ...]) -> None:
    told = fit_response(points)
    assert isinstance(told, CannotTell)
    assert why in told.why
    assert told.take == pytest.approx(take)
