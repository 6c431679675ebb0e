"""A tuned circuit and its inverses."""

import numpy as np
import pytest

from aligner.circuits.tank import (
    Across,
    TunedCircuit,
    capacitance_for_f,
    resonance_hz,
    series_f,
    unseries_f,
    width_at_hz,
)
from aligner.errors import CircuitError

PF, UH = 1e-12, 1e-6

CIRCUITS = [
    TunedCircuit(100 * UH, 12 * PF),
    TunedCircuit(100 * UH, 12 * PF, strays_f=5 * PF),
    TunedCircuit(100 * UH, 12 * PF, 400 * PF, "tuning", 5 * PF),
    TunedCircuit(100 * UH, 12 * PF, 400 * PF, "coil", 5 * PF),
]


def test_capacitance_without_padder_is_the_sum() -> None:
    assert CIRCUITS[1].capacitance_f(100 * PF) == pytest.approx(117 * PF)


def test_trimmer_lies_before_or_behind_the_padder() -> None:
    assert CIRCUITS[2].capacitance_f(100 * PF) == pytest.approx(400 * 112 / 512 * PF + 5 * PF)
    assert CIRCUITS[3].capacitance_f(100 * PF) == pytest.approx(80 * PF + 17 * PF)


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_every_part_is_found_again_from_the_resonance(circuit: TunedCircuit) -> None:
    tuning_f = 150 * PF
    found = circuit.resonance_hz(tuning_f)
    assert circuit.tuning_for_f(found) == pytest.approx(tuning_f)
    assert circuit.inductance_for_h(found, tuning_f) == pytest.approx(circuit.inductance_h)
    assert circuit.trimmer_for_f(found, tuning_f) == pytest.approx(circuit.trimmer_f)
    if circuit.padder_f is not None:
        assert circuit.padder_for_f(found, tuning_f) == pytest.approx(circuit.padder_f)


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_arrays_give_what_their_elements_give(circuit: TunedCircuit) -> None:
    tuning_f = np.array([50.0, 100.0, 300.0]) * PF
    one_by_one = [circuit.resonance_hz(float(value)) for value in tuning_f]
    assert circuit.resonance_hz(tuning_f) == pytest.approx(one_by_one)
    assert all(type(value) is float for value in one_by_one)


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_y_is_the_inverse_square_of_the_resonance(circuit: TunedCircuit) -> None:
    assert circuit.y_s2(80 * PF) == pytest.approx(circuit.resonance_hz(80 * PF) ** -2)


@pytest.mark.parametrize("across", ["tuning", "coil"])
def test_a_frequency_out_of_reach_gives_a_capacitance_that_cannot_be(across: Across) -> None:
    circuit = TunedCircuit(100 * UH, 12 * PF, 400 * PF, across, 5 * PF)
    too_low_hz = resonance_hz(100 * UH, 500 * PF)  # the padder leaves less than 417 pF
    assert circuit.tuning_for_f(too_low_hz) < 0


def test_series_and_back() -> None:
    assert series_f(100 * PF, 400 * PF) == pytest.approx(80 * PF)
    assert unseries_f(80 * PF, 400 * PF) == pytest.approx(100 * PF)
    assert series_f(100 * PF) == 100 * PF


def test_thomson_both_ways() -> None:
    assert capacitance_for_f(resonance_hz(100 * UH, 100 * PF), 100 * UH) == pytest.approx(100 * PF)
    assert capacitance_for_f(resonance_hz(100 * UH, 100 * PF), 100 * PF) == pytest.approx(100 * UH)


def test_widths_need_frequencies_above_zero() -> None:
    with pytest.raises(CircuitError, match="above 0 Hz"):
        width_at_hz(0.0, 1e6, 1e4, "constant-q")
