"""Tracking along the tuning, its loss, and the best points."""

import numpy as np
import pytest

from aligner.circuits.minimax import best_points, error_curve, minimax_points
from aligner.circuits.padding import three_point, two_point_trimmer
from aligner.circuits.reals import Array
from aligner.circuits.tracking import oscillator_error_hz, tracking_curve, tracking_error_hz
from aligner.errors import CircuitError

PF, UH, KHZ, MHZ = 1e-12, 1e-6, 1e3, 1e6
MEDIUM = (525 * KHZ, 1605 * KHZ, 455 * KHZ)


def test_signs_are_those_agreed() -> None:
    assert tracking_error_hz(1010.0, 1455.0, 455.0, "above") == 10
    assert tracking_error_hz(1010.0, 545.0, 455.0, "below") == 10
    assert oscillator_error_hz(1450.0, 1000.0, 455.0, "above") == -5


def test_a_curve_of_circuits_is_the_curve_of_the_closed_form() -> None:
    points = (600 * KHZ, 1000 * KHZ, 1500 * KHZ)
    design = three_point(points, 455 * KHZ, "above", 200 * UH, "coil")
    curve = tracking_curve(design.signal, design.oscillator, np.linspace(40, 450, 200) * PF, 455 * KHZ, "above")
    expected = error_curve(np.array(points), curve.received_hz, 455 * KHZ, "above", "padded", "relative")
    assert curve.detuning == pytest.approx(expected, abs=1e-12)


def test_oscillator_below_has_its_curve_too() -> None:
    points = (90 * MHZ, 98 * MHZ, 106 * MHZ)
    design = three_point(points, 10.7 * MHZ, "below", 0.1 * UH, "tuning")
    curve = tracking_curve(design.signal, design.oscillator, np.linspace(28, 42, 50) * PF, 10.7 * MHZ, "below")
    expected = error_curve(np.array(points), curve.received_hz, 10.7 * MHZ, "below", "padded", "relative")
    assert curve.detuning == pytest.approx(expected, abs=1e-12)


def test_loss_of_a_curve_is_zero_where_tracking_is_exact() -> None:
    design = two_point_trimmer(450 * KHZ, 1600 * KHZ, 455 * KHZ, "above", 300 * PF)
    ends = np.array([300 * PF, design.signal.tuning_for_f(1600 * KHZ)])
    curve = tracking_curve(design.signal, design.oscillator, ends, 455 * KHZ, "above")
    assert curve.loss_db(60) == pytest.approx([0, 0], abs=1e-9)
    assert curve.received_hz == pytest.approx([450 * KHZ, 1600 * KHZ])


def test_worst_place_is_that_of_the_largest_relative_detuning() -> None:
    design = two_point_trimmer(450 * KHZ, 1600 * KHZ, 455 * KHZ, "above", 300 * PF)
    curve = tracking_curve(design.signal, design.oscillator, np.linspace(24, 300, 500) * PF, 455 * KHZ, "above")
    received_hz, error_hz = curve.worst()
    assert error_hz / received_hz == pytest.approx(-np.max(np.abs(curve.detuning)))
    assert 450 * KHZ < received_hz < 1600 * KHZ


def test_equal_relative_detuning_costs_less_at_worst_than_equal_hertz() -> None:
    # The greatest loss of the signal circuits counts, and it follows the relative detuning.
    at_hz = np.linspace(MEDIUM[0], MEDIUM[1], 2001)
    worst = {}
    for measure in ("relative", "hz"):
        points = np.array(best_points(*MEDIUM, "above", "padded", measure).points_hz)
        worst[measure] = np.max(np.abs(error_curve(points, at_hz, MEDIUM[2], "above", "padded", "relative")))
    assert worst["relative"] < 0.75 * worst["hz"]


def test_three_adjusters_track_far_better_than_two() -> None:
    padded = best_points(*MEDIUM, "above", "padded")
    unpadded = best_points(*MEDIUM, "above", "unpadded")
    assert padded.worst < unpadded.worst / 10


def test_extremes_alternate_and_include_the_ends() -> None:
    best = best_points(*MEDIUM, "above", "padded")
    signs = [error > 0 for _, error in best.extremes]
    assert signs == [False, True, False, True]
    assert (best.extremes[0][0], best.extremes[-1][0]) == (MEDIUM[0], MEDIUM[1])


def test_hardware_and_points_must_fit() -> None:
    with pytest.raises(CircuitError, match="track at 3 points, not at 2"):
        error_curve(np.array([1e6, 2e6]), np.array([1.5e6]), 455e3, "above", "padded", "hz")


def test_a_curve_that_cannot_be_made_even_is_refused() -> None:
    def lopsided(points_hz: Array, at_hz: Array) -> Array:
        return np.where(at_hz <= points_hz[0], 1e-3, 1.0) + 0 * at_hz

    with pytest.raises(CircuitError, match="no best tracking points"):
        minimax_points(lopsided, 1e6, 2e6, 1)


@pytest.mark.parametrize("points", [(600 * KHZ, 1000 * KHZ, 1500 * KHZ)])
def test_three_points_below_with_no_room_for_the_oscillator_are_refused(points: tuple[float, float, float]) -> None:
    with pytest.raises(CircuitError, match="no padder and trimmer track"):
        three_point(points, 700 * KHZ, "below", 200 * UH, "coil")
