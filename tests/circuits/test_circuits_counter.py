"""What a counter displays, and what it means."""

import numpy as np
import pytest

from aligner.circuits.counter import (
    Counting,
    displayed_from_received,
    displayed_resolution_hz,
    oscillator_from_displayed,
    oscillator_resolution_hz,
    received_from_displayed,
)
from aligner.errors import CircuitError


def test_resolution_of_the_display_is_that_of_the_divided_signal_where_it_is_shown() -> None:
    assert displayed_resolution_hz(Counting("divided", 64, 0.1)) == pytest.approx(10)
    assert oscillator_resolution_hz(Counting("divided", 64, 0.1)) == pytest.approx(640)
    assert displayed_resolution_hz(Counting("received", 64, 0.1)) == pytest.approx(640)
    assert displayed_resolution_hz(Counting("oscillator", 64, 0.1)) == pytest.approx(640)


def test_a_counter_that_shows_the_oscillator_has_divided_back_by_itself() -> None:
    assert oscillator_from_displayed(98.7e6, Counting("oscillator", 64, 0.1)) == 98.7e6


def test_arrays_go_through_as_well() -> None:
    counting = Counting("divided", 64, 0.1)
    shown = displayed_from_received(np.array([88e6, 108e6]), counting, 10.7e6)
    assert received_from_displayed(shown, counting, 10.7e6) == pytest.approx([88e6, 108e6])


@pytest.mark.parametrize(("prescaler", "gate_s"), [(0, 1.0), (1, 0.0), (1, float("nan"))])
def test_a_counter_that_cannot_be_is_refused(prescaler: int, gate_s: float) -> None:
    with pytest.raises(CircuitError, match="prescaler of 1 or more and a gate above 0 s"):
        Counting("divided", prescaler, gate_s)
