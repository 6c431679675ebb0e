"""Tuning laws between end values and from tables; never extrapolated."""

import math

import numpy as np
import pytest

from aligner.circuits.laws import Law, StraightLaw, VaractorLaw
from aligner.circuits.tables import Rows, TableLaw, checked_rows, fit_varactor, varactor_law
from aligner.errors import CircuitError

PF = 1e-12

GANG: Rows = ((0.0, 12 * PF), (0.25, 60 * PF), (0.5, 150 * PF), (0.75, 260 * PF), (1.0, 365 * PF))  # invented
DIODE: Rows = ((1.0, 20.1 * PF), (2.0, 16.3 * PF), (4.0, 12.6 * PF), (8.0, 8.9 * PF))  # invented

LAWS: list[Law] = [
    StraightLaw("capacitance", (0.0, 1.0), (12 * PF, 365 * PF)),
    StraightLaw("frequency", (550e3, 1600e3), (365 * PF, 43 * PF)),
    VaractorLaw(30 * PF, 0.7, 0.5, 2 * PF, (0.5, 9.0)),
    TableLaw(GANG),
    TableLaw(DIODE, "varactor"),
]


@pytest.mark.parametrize("law", LAWS)
def test_position_and_capacitance_are_inverses(law: Law) -> None:
    for part in (0.0, 0.1, 0.5, 0.77, 1.0):
        position = law.span[0] + part * (law.span[1] - law.span[0])
        assert law.position(law.capacitance_f(position)) == pytest.approx(position, abs=1e-7 * law.span[1])


@pytest.mark.parametrize("law", LAWS)
def test_no_law_is_extrapolated(law: Law) -> None:
    low, high = law.span
    for outside in (low - 0.01 * (high - low), high + 0.01 * (high - low), math.nan):
        with pytest.raises(CircuitError, match="not extrapolated"):
            law.capacitance_f(outside)
    with pytest.raises(CircuitError, match="not extrapolated"):
        law.capacitance_f(np.array([low, high, 2 * high]))
    with pytest.raises(CircuitError, match=r"capacitance \[F\] .* not extrapolated"):
        law.position(1e-9)


@pytest.mark.parametrize("law", LAWS)
def test_rounding_at_the_ends_is_no_extrapolation(law: Law) -> None:
    low, high = law.span
    assert law.capacitance_f(high + 1e-12 * (high - low)) == pytest.approx(law.capacitance_f(high))


@pytest.mark.parametrize("law", LAWS)
def test_arrays_give_what_their_elements_give(law: Law) -> None:
    positions = np.linspace(*law.span, 7)
    one_by_one = [law.capacitance_f(float(position)) for position in positions]
    assert law.capacitance_f(positions) == pytest.approx(one_by_one)
    assert all(type(value) is float for value in one_by_one)


def test_straight_capacitance_is_straight() -> None:
    assert LAWS[0].capacitance_f(0.5) == pytest.approx(188.5 * PF)


def test_straight_frequency_gives_even_steps_of_frequency() -> None:
    law = StraightLaw("frequency", (0.0, 1.0), (400 * PF, 100 * PF))
    frequencies = law.capacitance_f(np.linspace(0, 1, 5)) ** -0.5
    assert np.diff(frequencies) == pytest.approx(np.diff(frequencies)[0])


def test_a_table_never_overshoots_between_its_rows() -> None:
    # A kink that an ordinary cubic spline would ring at.
    law = TableLaw(((0.0, 1.0), (1.0, 1.01), (2.0, 5.0), (3.0, 5.01)))
    values = law.capacitance_f(np.linspace(0, 3, 301))
    assert np.all(np.diff(values) > 0)
    assert values.max() <= 5.01


def test_a_varactor_table_bends_as_a_power_law_does() -> None:
    # Between rows of a true power law the interpolation in ln C on ln(V + 0.7) stays within half a percent.
    truth = VaractorLaw(30 * PF, 0.7, 0.5, 2 * PF)
    table = TableLaw(tuple((volts, truth.capacitance_f(volts)) for volts in (1.0, 2.0, 4.0, 8.0)), "varactor")
    volts = np.linspace(1, 8, 50)
    assert np.max(np.abs(table.capacitance_f(volts) / truth.capacitance_f(volts) - 1)) < 5e-3


def test_two_rows_of_a_varactor_are_joined_by_a_straight_line_in_logarithms() -> None:
    law = TableLaw(((1.0, 20 * PF), (8.0, 9 * PF)), "varactor")
    part = (math.log(3.7) - math.log(1.7)) / (math.log(8.7) - math.log(1.7))
    assert law.capacitance_f(3.0) == pytest.approx(20 * PF * (9 / 20) ** part)


def test_rows_may_come_in_any_order() -> None:
    assert TableLaw(GANG[::-1]).rows == GANG


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        (((1.0, 2e-11),), "two rows or more, not 1"),
        (((1.0, 2e-11), (1.0, 1e-11)), "each position once"),
        (((1.0, 2e-11), (2.0, 3e-11), (3.0, 1e-11)), "only rising or only falling"),
        (((1.0, 2e-11), (2.0, 0.0)), "above 0 F"),
        (((1.0, 2e-11), (2.0, math.nan)), "above 0 F"),
        (((1.0, 2e-11), (2.0, 2e-11)), "only rising or only falling"),
    ],
)
def test_a_faulty_table_is_refused_with_the_row_named(rows: Rows, message: str) -> None:
    with pytest.raises(CircuitError, match=message):
        checked_rows(rows)


def test_a_varactor_table_begins_at_no_negative_voltage() -> None:
    with pytest.raises(CircuitError, match="reverse voltages"):
        TableLaw(((-1.0, 3e-11), (2.0, 1e-11)), "varactor")


def test_six_rows_of_a_power_law_are_fitted_and_five_are_interpolated() -> None:
    truth = VaractorLaw(30 * PF, 0.7, 0.5, 2 * PF)
    table = tuple((volts, truth.capacitance_f(volts)) for volts in (0.5, 1.0, 2.0, 4.0, 6.0, 9.0))
    law = varactor_law(table)
    assert isinstance(law, VaractorLaw)
    assert law.span == (0.5, 9.0)
    assert law.capacitance_f(3.0) == pytest.approx(truth.capacitance_f(3.0), rel=1e-4)
    assert isinstance(varactor_law(table[:5]), TableLaw)


def test_a_fit_needs_as_many_rows_as_unknowns() -> None:
    with pytest.raises(CircuitError, match="4 unknowns"):
        fit_varactor(DIODE[:3])


def test_a_fit_stands_noise_of_a_table_rounded_to_tenths() -> None:
    truth = VaractorLaw(30 * PF, 0.7, 0.5, 2 * PF)
    volts = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0)
    rounded = tuple((one, round(truth.capacitance_f(one) / PF, 1) * PF) for one in volts)
    law = fit_varactor(rounded).law
    assert law.capacitance_f(np.array(volts)) == pytest.approx(truth.capacitance_f(np.array(volts)), rel=5e-3)


def test_straight_laws_need_two_unlike_ends() -> None:
    with pytest.raises(CircuitError, match="two unlike ends"):
        StraightLaw("capacitance", (0.0, 1.0), (12 * PF, 12 * PF))


def test_an_endless_power_law_reaches_no_less_than_its_package() -> None:
    law = VaractorLaw(30 * PF, 0.7, 0.5, 2 * PF)
    assert law.position(law.capacitance_f(1000.0)) == pytest.approx(1000.0)
    with pytest.raises(CircuitError, match="no voltage gives"):
        law.position(2 * PF)
