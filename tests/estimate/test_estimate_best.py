import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog, minimize

from aligner.estimate.belief import CircuitBelief, belief_of
from aligner.estimate.best import Best, Goal, Movable, best_of, least_subset
from aligner.estimate.ladder import COIL, INNER, SERIES
from tests.estimate.worked import Worked, frame, off
from tests.small_sets import FM, MW

BAND = np.linspace(87.5e6, 108e6, 9)
NEAR = 1e-3  # of a tolerance: four steps of Newton's method leave no more of the bend


def antenna(*shifts: float) -> CircuitBelief:
    own = frame(FM)
    worked = Worked(own, "antenna", off(own, "antenna", *shifts), sd_hz=1e3)
    worked.look(90e6, 98e6, 106e6)
    return worked.belief().circuits["antenna"]


def goal(z: np.ndarray, tolerance_hz: float = 150e3) -> Goal:
    return Goal(z, z.copy(), np.full(len(z), tolerance_hz))


COIL_ROW, TRIMMER_ROW = Movable("antenna-coil", COIL), Movable("antenna-trimmer", INNER)


def worst_after(circuit: CircuitBelief, aim: Goal, rows: tuple[Movable, ...], amounts: np.ndarray) -> float:
    settings_ = sum((x * circuit.push(m.setting) for m, x in zip(rows, amounts, strict=True)), np.zeros(4))
    return float(np.max(np.abs(circuit.hz(aim.z_hz, settings_) - aim.wanted_hz) / aim.tolerance_hz))


def brute_force(circuit: CircuitBelief, aim: Goal, rows: tuple[Movable, ...]) -> float:
    """The least greatest error by a chain of linear programmes, each about the last one's solution."""
    amounts = np.zeros(len(rows))
    pushes = np.array([circuit.push(m.setting) for m in rows])
    for _ in range(8):
        at = amounts @ pushes
        hz = circuit.hz(aim.z_hz, at)
        error = (hz - aim.wanted_hz) / aim.tolerance_hz
        slope = (-0.5 * hz / aim.tolerance_hz)[:, None] * (circuit.by_setting(aim.z_hz, at) @ pushes.T)
        ones = np.ones((len(error), 1))
        table = np.vstack([np.hstack([slope, -ones]), np.hstack([-slope, -ones])])
        limit = np.concatenate([-error, error])
        steps = [(max(-0.3, m.down - x), min(0.3, m.up - x)) for m, x in zip(rows, amounts, strict=True)]
        solved = linprog([0.0] * len(rows) + [1.0], A_ub=table, b_ub=limit, bounds=[*steps, (0.0, None)])
        assert solved.x is not None
        amounts = amounts + solved.x[:-1]
    return worst_after(circuit, aim, rows, amounts)


@settings(max_examples=15)
@given(st.floats(-0.1, 0.1), st.floats(-0.1, 0.1))
def test_two_adjusters_over_a_band_reach_the_minimax_of_linear_programmes(coil: float, trimmer: float) -> None:
    circuit = antenna(coil, trimmer, 0.0, 0.0)
    rows = (COIL_ROW, TRIMMER_ROW)
    found = best_of(circuit, goal(BAND), rows)
    assert found.worst <= brute_force(circuit, goal(BAND), rows) * (1.0 + NEAR) + NEAR


@settings(max_examples=10)
@given(st.floats(-0.1, 0.1), st.floats(-0.1, 0.1), st.sampled_from(["antenna-coil", "antenna-trimmer"]))
def test_one_adjuster_reaches_the_minimax_of_linear_programmes(coil: float, trimmer: float, one: str) -> None:
    circuit = antenna(coil, trimmer, 0.0, 0.0)
    rows = (COIL_ROW,) if one == "antenna-coil" else (TRIMMER_ROW,)
    least = brute_force(circuit, goal(BAND), rows)
    assert best_of(circuit, goal(BAND), rows).worst <= least * (1.0 + NEAR) + NEAR


@settings(max_examples=15)
@given(st.floats(-0.1, 0.1), st.floats(-0.1, 0.1), st.floats(1.0, 3.0))
def test_a_start_from_a_goal_that_is_near_leads_to_the_same_settings(
    coil: float, trimmer: float, beyond: float
) -> None:
    circuit, even = antenna(coil, trimmer, 0.0, 0.0), goal(BAND)
    rows = (COIL_ROW, TRIMMER_ROW)
    tolerance_hz = np.where((BAND > 89e6) & (BAND < 107e6), 1.0, beyond) * even.tolerance_hz
    anew = best_of(circuit, Goal(BAND, even.wanted_hz, tolerance_hz), rows)
    found = best_of(circuit, Goal(BAND, even.wanted_hz, tolerance_hz, near=even), rows)
    assert found.worst == pytest.approx(anew.worst, rel=1e-3, abs=1e-3)
    np.testing.assert_allclose(found.settings, anew.settings, atol=1e-5)


def test_three_adjusters_with_a_padder_do_no_worse_than_a_search_without_slopes() -> None:
    own = frame(MW)
    worked = Worked(own, "oscillator", off(own, "oscillator", 0.05, -0.04, 0.0, 0.06), sd_hz=5.0)
    worked.look(600e3, 1000e3, 1400e3)
    circuit = worked.belief().circuits["oscillator"]
    z = np.array([600e3, 1000e3, 1400e3])
    aim = Goal(z, z + 455e3, np.full(3, 2e3))
    rows = (Movable("c", COIL), Movable("t", INNER), Movable("p", SERIES))
    found = best_of(circuit, aim, rows)
    assert found.worst < 0.02  # as many adjusters as places: all three are met

    def worst(amounts: np.ndarray) -> float:
        return worst_after(circuit, aim, rows, amounts)

    settled = minimize(worst, np.zeros(3), method="Nelder-Mead")
    assert found.worst <= float(settled.fun) + 1e-6


def test_as_many_adjusters_as_places_meet_them_all() -> None:
    circuit = antenna(0.07, -0.05, 0.0, 0.0)
    assert best_of(circuit, goal(np.array([90e6, 106e6])), (COIL_ROW, TRIMMER_ROW)).worst < 1e-3


@pytest.mark.parametrize("shift", [0.06, -0.06])
def test_a_bound_is_kept_and_the_rest_still_does_its_best(shift: float) -> None:
    circuit = antenna(shift, 0.02, 0.0, 0.0)
    bound = Movable("antenna-coil", COIL, down=-0.01, up=0.02)
    rows = (bound, TRIMMER_ROW)
    found = best_of(circuit, goal(BAND), rows)
    assert -0.01 <= found.shifts["antenna-coil"] <= 0.02
    assert found.worst <= brute_force(circuit, goal(BAND), rows) * (1.0 + NEAR) + NEAR


def test_an_adjuster_with_no_travel_left_is_not_moved() -> None:
    circuit = antenna(0.06, 0.02, 0.0, 0.0)
    found = best_of(circuit, goal(BAND), (Movable("antenna-coil", COIL, 0.0, 0.0), TRIMMER_ROW))
    assert found.shifts["antenna-coil"] == 0.0


def test_nothing_to_move_leaves_the_errors_as_they_are() -> None:
    circuit = antenna(0.06, 0.02, 0.0, 0.0)
    found = best_of(circuit, goal(BAND), ())
    assert found.shifts == {}
    np.testing.assert_allclose(found.errors, (circuit.hz(BAND) - BAND) / 150e3)


def test_two_adjusters_of_one_setting_do_together_what_one_would() -> None:
    circuit = antenna(0.06, 0.02, 0.0, 0.0)
    twins = (COIL_ROW, Movable("second-coil", COIL), TRIMMER_ROW)
    alone = best_of(circuit, goal(BAND), (COIL_ROW, TRIMMER_ROW))
    both = best_of(circuit, goal(BAND), twins)
    assert both.worst == pytest.approx(alone.worst, rel=0.05, abs=0.02)
    carried = both.shifts["antenna-coil"] + both.shifts["second-coil"]
    assert carried == pytest.approx(alone.shifts["antenna-coil"], rel=0.05, abs=1e-3)


def test_a_circuit_that_stands_right_is_left_alone() -> None:
    own = frame(FM)
    circuit = belief_of(own, ()).circuits["oscillator"]
    z = np.array([87.5e6, 108e6])
    aim = Goal(z, z + 10.7e6, np.full(2, 50e3))
    rows = (Movable("oscillator-coil", COIL), Movable("oscillator-trimmer", INNER))
    chosen, _ = least_subset(circuit, aim, rows, frozenset(), 0.1, 0.5)
    assert chosen.shifts == {}


def test_one_adjuster_is_chosen_where_one_is_enough_and_both_where_they_are_not() -> None:
    chosen, everything = _chosen(0.06, 0.0)
    assert set(everything.shifts) == {"antenna-coil", "antenna-trimmer"}
    assert set(chosen.shifts) in ({"antenna-coil"}, {"antenna-coil", "antenna-trimmer"})
    both, _ = _chosen(0.08, -0.12)
    assert set(both.shifts) == {"antenna-coil", "antenna-trimmer"}


def _chosen(coil: float, trimmer: float) -> tuple[Best, Best]:
    ends = np.array([90e6, 106e6])
    return least_subset(antenna(coil, trimmer, 0.0, 0.0), goal(ends), (COIL_ROW, TRIMMER_ROW), frozenset(), 0.1, 0.5)


def test_an_adjuster_that_was_touched_already_needs_a_better_reason() -> None:
    ends = np.array([90e6, 106e6])
    rows = (COIL_ROW, TRIMMER_ROW)
    circuit = antenna(0.0, 0.003, 0.0, 0.0)
    strict, _ = least_subset(circuit, goal(ends), rows, frozenset(), 0.0, 0.0)
    lenient, _ = least_subset(circuit, goal(ends), rows, frozenset({"antenna-coil", "antenna-trimmer"}), 0.0, 50.0)
    assert strict.shifts
    assert not lenient.shifts
