import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from aligner.estimate.ladder import COIL, INNER, OUTER, SERIES, ladder

U = np.linspace(0.45, 3.2, 7)
STEP = 1e-6
AGREE = 1e-6  # a central difference of 1e-6 leaves about 1e-9 of curvature and 1e-10 of rounding


@st.composite
def settings(draw: st.DrawFn) -> np.ndarray:
    """Settings of circuits that can be: y is far from nought at every place."""
    inner, outer = draw(st.floats(-0.3, 0.8)), draw(st.floats(0.0, 0.8))
    return np.array([draw(st.floats(-1.0, 1.0)), inner, outer, draw(st.floats(0.0, 1.5))])


@given(settings())
def test_derivatives_to_the_settings_are_those_of_finite_differences(own: np.ndarray) -> None:
    value = ladder(U, own)
    for column in (COIL, INNER, OUTER, SERIES):
        step = np.eye(4)[column] * STEP
        slope = (ladder(U, own + step).lny - ladder(U, own - step).lny) / (2 * STEP)
        np.testing.assert_allclose(value.by_setting[:, column], slope, rtol=AGREE, atol=AGREE)


@given(settings())
def test_a_coil_multiplies_and_a_trimmer_across_the_coil_adds(own: np.ndarray) -> None:
    y = np.exp(ladder(U, own).lny)
    coil = np.exp(ladder(U, own + np.array([0.1, 0.0, 0.0, 0.0])).lny)
    outer = np.exp(ladder(U, own + np.array([0.0, 0.0, 0.1, 0.0])).lny)
    np.testing.assert_allclose(coil / y, np.exp(0.1), rtol=1e-12)
    np.testing.assert_allclose(outer - y, 0.1 * np.exp(own[COIL]), rtol=1e-9)


@given(settings())
def test_without_a_padder_it_does_not_matter_where_the_trimmer_lies(own: np.ndarray) -> None:
    plain = np.array([own[COIL], own[INNER], 0.0, 0.0])
    across_coil = np.array([own[COIL], 0.0, own[INNER], 0.0])
    np.testing.assert_allclose(ladder(U, plain).lny, ladder(U, across_coil).lny, rtol=1e-12)


@given(settings())
def test_a_padder_with_its_trimmer_on_the_tuning_side_shifts_one_over_y_by_one_constant(own: np.ndarray) -> None:
    with_padder = np.array([own[COIL], own[INNER], 0.0, own[SERIES]])
    without = with_padder * np.array([1.0, 1.0, 1.0, 0.0])
    shift = np.exp(-ladder(U, with_padder).lny) - np.exp(-ladder(U, without).lny)
    np.testing.assert_allclose(shift, own[SERIES] * np.exp(-own[COIL]), rtol=1e-9, atol=1e-12)


def test_each_place_may_have_settings_of_its_own() -> None:
    rows = np.array([[0.1, 0.0, 0.0, 0.3], [0.2, 0.1, 0.0, 0.0]])
    together = ladder(U[:2], rows).lny
    alone = [float(ladder(U[n : n + 1], rows[n]).lny[0]) for n in range(2)]
    np.testing.assert_allclose(together, alone, rtol=1e-14)


def test_settings_that_cannot_be_give_finite_numbers() -> None:
    value = ladder(U, np.array([0.0, -5.0, 0.0, 2.0]))
    assert np.isfinite(value.lny).all()
    assert np.isfinite(value.by_setting).all()
