"""Nominal values: exact through two places, balanced over many, and refused where there are none."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.circuits.nominal import (
    along_tuning,
    balanced_circuit,
    best_on_scale,
    circuit_through,
    even_places_hz,
    nominal_circuit,
)
from aligner.circuits.tank import TunedCircuit
from aligner.errors import CircuitError

COILS = st.floats(1e-8, 1e-3)
SHARES = st.floats(0.05, 2.0)


@given(COILS, SHARES)
def test_coil_and_trimmer_come_back_from_two_places_of_a_circuit(coil_h: float, share: float) -> None:
    made = TunedCircuit(coil_h, share * 50e-12)
    spots = [(c, float(made.resonance_hz(c))) for c in (200e-12, 30e-12)]
    found = circuit_through(spots[0], spots[1])
    assert found.inductance_h == pytest.approx(coil_h, rel=1e-9)
    assert found.trimmer_f == pytest.approx(made.trimmer_f, rel=1e-7)


@pytest.mark.parametrize("second", [(100e-12, 2e6), (200e-12, 3e6)])
def test_two_places_that_no_coil_joins_are_refused(second: tuple[float, float]) -> None:
    with pytest.raises(CircuitError, match="no coil and trimmer give"):
        circuit_through((100e-12, 1e6), second)


@pytest.mark.parametrize("measure", ["relative", "hz"])
def test_over_three_places_the_errors_alternate_and_are_equal_in_the_measure(measure: str) -> None:
    tuning, wanted = np.array([300e-12, 120e-12, 40e-12]), np.array([600e3, 1000e3, 1500e3])
    found = balanced_circuit(tuning, wanted, "hz" if measure == "hz" else "relative")
    errors = found.resonance_hz(tuning) - wanted
    errors = errors if measure == "hz" else errors / wanted
    assert np.all(np.sign(errors[:-1]) == -np.sign(errors[1:]))
    # Errors of some per cent: each better weight takes the unevenness down by that much.
    assert np.abs(errors) == pytest.approx(np.full(3, np.abs(errors).mean()), rel=1e-3)


def test_no_other_coil_and_trimmer_near_by_balance_better() -> None:
    tuning, wanted = np.array([300e-12, 120e-12, 90e-12, 40e-12]), np.array([600e3, 930e3, 1070e3, 1500e3])
    found = balanced_circuit(tuning, wanted, "relative")

    def worst(circuit: TunedCircuit) -> float:
        return float(np.max(np.abs(circuit.resonance_hz(tuning) / wanted - 1)))

    best = worst(found)
    for coil in (0.999, 1.001):
        for more_f in (-0.05e-12, 0.0, 0.05e-12):
            assert worst(TunedCircuit(found.inductance_h * coil, found.trimmer_f + more_f)) > best


def test_one_place_settles_the_coil_and_leaves_the_trimmer() -> None:
    found = nominal_circuit(TunedCircuit(1.0, 10e-12), ((90e-12, 1e6),), ("inductance",), "hz")
    assert found.circuit.trimmer_f == 10e-12
    assert found.error_hz == pytest.approx((0.0,), abs=1e-6)


@given(st.floats(1.2, 8.0), st.floats(0.02, 0.5), st.sampled_from(["tuning", "coil"]))
def test_a_padded_circuit_is_brought_to_three_places_that_one_of_its_kind_reaches(
    padder: float, trimmer: float, across: str
) -> None:
    shape = TunedCircuit(130e-6, trimmer * 100e-12, padder * 300e-12, "coil" if across == "coil" else "tuning")
    spots = tuple((c, float(shape.resonance_hz(c))) for c in (300e-12, 100e-12, 40e-12))
    found = nominal_circuit(shape, spots, ("inductance", "padder", "trimmer"), "hz")
    assert np.max(np.abs(found.error_hz)) < 1.0


def test_a_circuit_without_capacitance_left_has_no_curve() -> None:
    with pytest.raises(CircuitError, match="no capacitance left"):
        along_tuning(TunedCircuit(1e-4, -50e-12), TunedCircuit(1e-4, 0.0), np.array([40e-12]), 455e3, "above")


def test_the_best_points_on_what_is_received_and_on_the_dial_are_nearly_but_not_quite_the_same() -> None:
    band = 540e3, 1600e3
    dial = best_on_scale(band, 455e3, "above", "padded", "hz", "signal")
    received = best_on_scale(band, 455e3, "above", "padded", "hz", "received")
    assert dial.worst == pytest.approx(4675.0, rel=5e-3)  # computed minimax of the oscillator's error over the dial
    assert received.points_hz == pytest.approx(dial.points_hz, rel=0.01)
    assert received.worst != dial.worst


def test_even_places_are_even_and_hold_both_ends() -> None:
    places = even_places_hz(1.0, 3.0, 5)
    assert places.tolist() == [1.0, 1.5, 2.0, 2.5, 3.0]
