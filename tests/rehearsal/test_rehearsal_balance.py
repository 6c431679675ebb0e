import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from aligner.rehearsal.balance import balanced

NEAR = 1e-7  # both find the optimum to rounding; how far that goes depends on how alike the columns are


def _least(here: np.ndarray, slopes: np.ndarray, low: np.ndarray, high: np.ndarray) -> float:
    """The least greatest error by linear programming alone."""
    ones = np.ones((len(here), 1))
    rows = np.vstack([np.hstack([slopes, -ones]), np.hstack([-slopes, -ones])])
    bounds = [*zip(low, high, strict=True), (0.0, None)]
    cost = [0.0] * slopes.shape[1] + [1.0]
    solved = linprog(cost, A_ub=rows, b_ub=np.concatenate([-here, here]), bounds=bounds, method="highs")
    assert solved.x is not None
    return float(solved.x[-1])


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 3), st.integers(1, 33), st.sampled_from([0.1, 1.0, 1e6]))
def test_no_step_within_the_limits_leaves_less(seed: int, unknowns: int, places: int, reach: float) -> None:
    draw = np.random.default_rng(seed)
    x = np.linspace(-1.0, 1.0, places)
    slopes = np.stack([x**n + 0.1 * draw.normal(size=places) for n in range(unknowns)], axis=1)
    here, high = draw.normal(size=places), reach * draw.uniform(0.1, 1.0, size=unknowns)
    step = balanced(here, slopes, -high, high)
    assert step is not None
    assert np.all(np.abs(step) <= high * (1 + NEAR))
    assert np.max(np.abs(here + slopes @ step)) == pytest.approx(_least(here, slopes, -high, high), abs=NEAR)


def test_errors_of_turning_sign_are_left_at_one_place_more_than_there_are_unknowns() -> None:
    x = np.linspace(-1.0, 1.0, 201)
    step = balanced(x**2, np.stack([np.ones(201), x], axis=1), np.full(2, -9.0), np.full(2, 9.0))
    assert step is not None
    # The straight line nearest to x^2 on -1 to 1 is 1/2 (Chebyshev's polynomial of second order is 2 x^2 - 1).
    np.testing.assert_allclose(step, [-0.5, 0.0], atol=1e-6)


def test_an_unknown_that_moves_nothing_is_no_hindrance() -> None:
    here = np.array([1.0, 2.0, 4.0])
    slopes = np.stack([np.ones(3), np.zeros(3)], axis=1)
    step = balanced(here, slopes, np.full(2, -9.0), np.full(2, 9.0))
    assert step is not None
    assert step[0] == pytest.approx(-2.5)
