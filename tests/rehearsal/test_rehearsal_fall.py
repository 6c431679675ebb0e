"""A hand that turns on past a peak until the level has fallen."""

import numpy as np

from aligner.rehearsal.turning import _watched_fall


def test_the_hand_stops_where_the_level_has_fallen_so_far() -> None:
    levels = np.array([0.0, -0.5, -1.5, -3.1, -5.0])
    assert _watched_fall(levels, -3.0) == (True, 3)


def test_a_hand_that_stands_before_the_peak_goes_over_it_first() -> None:
    levels = np.array([-4.0, -2.0, 0.0, -2.0, -4.5])
    assert _watched_fall(levels, -3.0) == (True, 4)


def test_a_second_peak_further_on_is_not_gone_over() -> None:
    levels = np.array([0.0, -3.5, -6.0, -3.0, 0.0, -3.0, -6.0])
    assert _watched_fall(levels, -3.0) == (True, 1)


def test_a_level_that_rises_again_too_early_sends_the_hand_back_to_the_lowest_point() -> None:
    levels = np.array([0.0, -0.4, -0.9, -0.7, -0.4, 0.0, -0.5])
    assert _watched_fall(levels, -3.0) == (False, 2)


def test_at_the_end_of_the_thread_the_hand_stops_there() -> None:
    levels = np.array([0.0, -0.4, -0.9])
    assert _watched_fall(levels, -3.0) == (False, 2)
