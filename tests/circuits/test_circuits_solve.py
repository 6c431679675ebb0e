"""The numeric solve: what it reaches, and what it says when it does not."""

import numpy as np
import pytest

from aligner.circuits.solve import solve_circuit
from aligner.circuits.tank import TunedCircuit
from aligner.errors import CircuitError

PF, UH, KHZ = 1e-12, 1e-6, 1e3
GANG = np.array([280.0, 90.0, 30.0]) * PF  # invented
TRUTH = TunedCircuit(110 * UH, 14 * PF, 420 * PF, "tuning", 9 * PF)  # invented
START = TunedCircuit(150 * UH, 5 * PF, 300 * PF, "tuning", 9 * PF)


def test_three_parts_reach_three_targets() -> None:
    found = solve_circuit(START, GANG, TRUTH.resonance_hz(GANG), ("inductance", "trimmer", "padder"))
    assert found.worst_hz < 1e-3
    assert found.circuit.padder_f == pytest.approx(TRUTH.padder_f)
    assert found.circuit.trimmer_f == pytest.approx(TRUTH.trimmer_f)


def test_two_parts_reach_two_targets_with_the_padder_left_alone() -> None:
    wanted = TunedCircuit(110 * UH, 14 * PF, 300 * PF, "tuning", 9 * PF).resonance_hz(GANG[[0, 2]])
    found = solve_circuit(START, GANG[[0, 2]], wanted, ("inductance", "trimmer"))
    assert found.circuit.padder_f == START.padder_f
    assert found.circuit.inductance_h == pytest.approx(110 * UH)


def test_two_parts_leave_an_error_at_the_third_point() -> None:
    found = solve_circuit(START, GANG, TRUTH.resonance_hz(GANG), ("inductance", "trimmer"))
    assert found.worst_hz > 1 * KHZ
    assert np.any(found.error_hz > 0)
    assert np.any(found.error_hz < 0)


def test_a_part_at_the_end_of_its_travel_is_named() -> None:
    travel = {"trimmer": (3 * PF, 10 * PF)}
    found = solve_circuit(START, GANG, TRUTH.resonance_hz(GANG), ("inductance", "trimmer", "padder"), travel)  # type: ignore[arg-type]
    assert found.at_end == ("trimmer",)
    assert found.circuit.trimmer_f == pytest.approx(10 * PF)
    assert found.worst_hz > 100


def test_a_start_outside_the_travel_is_brought_inside() -> None:
    found = solve_circuit(
        START, GANG, TRUTH.resonance_hz(GANG), ("inductance", "trimmer", "padder"), {"inductance": (50 * UH, 120 * UH)}
    )
    assert found.worst_hz < 1e-3


def test_more_parts_than_points_are_refused() -> None:
    with pytest.raises(CircuitError, match="2 points do not settle inductance, trimmer, padder"):
        solve_circuit(START, GANG[:2], np.array([6e5, 1e6]), ("inductance", "trimmer", "padder"))


def test_a_padder_that_is_not_there_is_not_solved_for() -> None:
    with pytest.raises(CircuitError, match="do not settle padder"):
        solve_circuit(TunedCircuit(110 * UH, 14 * PF), GANG, np.array([6e5, 1e6, 1.5e6]), ("padder",))
