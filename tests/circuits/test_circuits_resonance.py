"""Falls, widths, and what a wand says."""

import numpy as np
import pytest

from aligner.circuits.resonance import detuning_of_fall, fall_ratios, loss_db, phase_rad, quality_of_width, width_hz
from aligner.circuits.wand import frequency_change, part_change, wand_detuning
from aligner.errors import CircuitError


def test_width_at_a_fall_is_the_distance_of_its_two_frequencies() -> None:
    below, above = fall_ratios(30, 6)
    assert (above - below) * 1e6 == pytest.approx(width_hz(1e6, 30, 6))
    assert loss_db(below * 1e6, 1e6, 30) == pytest.approx(6)
    assert quality_of_width(1e6, width_hz(1e6, 30, 6), 6) == pytest.approx(30)


def test_a_fall_cannot_be_negative() -> None:
    with pytest.raises(CircuitError, match="find the peak again"):
        detuning_of_fall(-0.1)


def test_small_and_large_falls_keep_their_digits() -> None:
    assert loss_db(1e6 * fall_ratios(50, 1e-9)[1], 1e6, 50) == pytest.approx(1e-9, rel=1e-4)
    assert loss_db(1e6 * fall_ratios(50, 90.0)[1], 1e6, 50) == pytest.approx(90)


def test_arrays_come_back_as_arrays_and_numbers_as_numbers() -> None:
    assert type(loss_db(1.01e6, 1e6, 50)) is float
    assert type(phase_rad(1.01e6, 1e6, 50)) is float
    assert type(frequency_change(0.01)) is float
    assert type(part_change(0.01)) is float
    assert loss_db(np.array([1.01e6, 1e6]), 1e6, 50) == pytest.approx([loss_db(1.01e6, 1e6, 50), 0])


@pytest.mark.parametrize("truth", [-0.01, -0.002, 0.0, 0.004, 0.015])
@pytest.mark.parametrize("pulls", [(-0.02, 0.02), (-0.03, 0.008)])
def test_three_levels_and_known_pulls_give_detuning_and_quality(truth: float, pulls: tuple[float, float]) -> None:
    levels = [-10 * np.log10(1 + (2 * 60 * (truth + pull)) ** 2) + 17.0 for pull in (0.0, *pulls)]
    verdict = wand_detuning((levels[0], levels[1], levels[2]), pulls)
    assert verdict.detuning == pytest.approx(truth, abs=1e-9)
    assert verdict.quality == pytest.approx(60)


def test_ferrite_raises_the_level_where_more_inductance_is_wanted() -> None:
    assert wand_detuning((-3.0, -0.5, -7.0), (-0.02, 0.02)).detuning > 0


def test_levels_on_no_resonance_curve_are_refused() -> None:
    with pytest.raises(CircuitError, match="lie on no resonance curve"):
        wand_detuning((-3.0, 0.0, 0.0), (-0.02, 0.02))
