"""Neighbours among preferred values."""

import math

import pytest

from aligner.circuits.preferred import nearest_preferred, neighbours
from aligner.errors import CircuitError


def test_a_preferred_value_is_its_own_neighbour() -> None:
    assert neighbours(4.7e-12, "E12") == (4.7e-12, 4.7e-12)


def test_neighbours_enclose_a_value_over_the_edge_of_a_decade() -> None:
    assert neighbours(9.5e-12, "E12") == (8.2e-12, 10e-12)
    assert neighbours(0.99e-6, "E6") == (0.68e-6, 1.0e-6)


def test_nearest_over_the_edge_of_a_decade() -> None:
    assert nearest_preferred(9.5e-12, "E12") == 10e-12
    assert nearest_preferred(372e-12, "E24") == 360e-12


@pytest.mark.parametrize("value", [0.0, -1e-12, math.nan, math.inf])
def test_values_without_neighbours_are_refused(value: float) -> None:
    with pytest.raises(CircuitError, match="above zero"):
        neighbours(value, "E12")
