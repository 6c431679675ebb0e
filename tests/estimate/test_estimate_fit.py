from dataclasses import replace

import numpy as np
import pytest

from aligner.circuits.exact_pair import exact_pair
from aligner.estimate.belief import CircuitBelief, belief_of
from aligner.estimate.best import Goal, Movable, best_of
from aligner.estimate.events import Fallen, Sighted, Spot
from aligner.estimate.ladder import COIL, INNER, OUTER, SERIES
from tests.estimate.worked import Worked, frame, off
from tests.small_sets import FM, MW, PADDED_MORE

ENDS = (87.5e6, 108e6)
WANTED = (98.2e6, 118.7e6)
F3 = (600e3, 1000e3, 1400e3)
CARRIED = 0.06  # a coil carries a few percent of its movement into the trimmer's setting: its self-capacitance


def fm(*shifts: float) -> Worked:
    own = frame(FM)
    return Worked(own, "oscillator", off(own, "oscillator", *shifts), sd_hz=50.0)


def mw(*shifts: float, across: str = "tuning") -> Worked:
    own = frame(MW.replace(PADDED_MORE, f'trimmer-across = "{across}"'))
    return Worked(own, "oscillator", off(own, "oscillator", *shifts), sd_hz=1.0)


def to_the_targets(circuit: CircuitBelief, ends: tuple[float, ...], wanted: tuple[float, ...]) -> dict[str, float]:
    rows = (Movable("coil", COIL), Movable("trimmer", INNER))
    return best_of(circuit, Goal(np.array(ends), np.array(wanted), np.full(len(ends), 1e3)), rows).shifts


@pytest.mark.parametrize("shifts", [(0.08, -0.1, 0.0, 0.0), (-0.12, 0.05, 0.0, 0.0), (0.02, 0.15, 0.0, 0.0)])
def test_two_readings_give_the_factor_and_the_shift_of_the_exact_pair(shifts: tuple[float, ...]) -> None:
    worked = fm(*shifts)
    worked.look(*ENDS)
    circuit = worked.belief().circuits["oscillator"]
    pair = exact_pair((worked.hz(ENDS[0]), worked.hz(ENDS[1])), WANTED)
    moved = to_the_targets(circuit, ENDS, WANTED)
    # k = exp(coil). The prior draws a little, and the discrepancy at each place has a share in what is read there.
    assert np.exp(moved["coil"]) == pytest.approx(pair.factor, abs=0.01)


@pytest.mark.parametrize("shifts", [(0.08, -0.1, 0.0, 0.0), (-0.12, 0.05, 0.0, 0.0)])
def test_the_half_way_aim_of_the_coil_is_one_over_the_root_of_k_y1(shifts: tuple[float, ...]) -> None:
    worked = fm(*shifts)
    worked.look(*ENDS)
    circuit = worked.belief().circuits["oscillator"]
    found = worked.hz(ENDS[0]), worked.hz(ENDS[1])
    factor = exact_pair(found, WANTED).factor
    aim_by_pair = found[0] / np.sqrt(factor)
    alone = to_the_targets(circuit, ENDS, WANTED)["coil"] * worked.push("oscillator-coil")
    aim = float(circuit.hz(np.array(ENDS[:1]), alone)[0])
    way = abs(aim_by_pair - found[0])
    assert abs(aim - aim_by_pair) < CARRIED * way + 1e3


@pytest.mark.parametrize("shifts", [(0.08, -0.1, 0.0, 0.0), (-0.12, 0.05, 0.0, 0.0)])
def test_the_pair_worked_through_ends_on_both_targets_with_one_touch_each(shifts: tuple[float, ...]) -> None:
    worked = fm(*shifts)
    worked.look(*ENDS)
    circuit = worked.belief().circuits["oscillator"]
    moved = to_the_targets(circuit, ENDS, WANTED)
    alone = moved["coil"] * worked.push("oscillator-coil")
    worked.turn_to("oscillator-coil", ENDS[0], float(circuit.hz(np.array(ENDS[:1]), alone)[0]))
    worked.look(ENDS[0])
    worked.turn_to("oscillator-trimmer", ENDS[1], WANTED[1])
    error = np.array([worked.hz(z) for z in ENDS]) - np.array(WANTED)
    assert np.all(np.abs(error) < 50e3)  # the tolerance of the shipped procedure, of errors of megahertz at first


@pytest.mark.parametrize("across", ["tuning", "coil"])
def test_three_readings_recover_a_circuit_with_a_padder_between_them(across: str) -> None:
    shifts = (0.06, 0.05, 0.0, -0.07) if across == "tuning" else (0.06, 0.0, 0.05, -0.07)
    worked = mw(*shifts, across=across)
    before = np.abs(worked.belief().circuits["oscillator"].hz(np.array([800e3])) - worked.hz(800e3))[0]
    worked.look(*F3)
    assert np.all(np.abs(worked.error_hz(F3)) < 100.0)
    assert abs(worked.error_hz([800e3])[0]) < 0.1 * before + 600.0  # what the bend of a gang may hide between points


def test_turns_teach_the_effect_of_an_adjuster_and_its_sense() -> None:
    for per_turn in (0.04, -0.04):
        worked = fm(0.05, 0.0, 0.0, 0.0)
        own = frame(FM)
        worked = Worked(own, "antenna", off(own, "antenna", 0.05, 0.0, 0.0, 0.0), sd_hz=2e3)
        worked.look(90e6, 106e6)
        for turns in (2.0, -1.0, 1.5):
            worked.turn("antenna-coil", per_turn * turns, turns)
            worked.look(90e6, 106e6)
        learned = worked.belief().effect("antenna-coil")
        assert learned is not None
        assert learned[0] == pytest.approx(per_turn, rel=0.15)
        assert learned[1] < 0.25 * abs(per_turn)


def test_an_adjuster_whose_turns_nobody_counted_has_no_effect_that_is_known() -> None:
    worked = fm(0.05, 0.0, 0.0, 0.0)
    worked.look(*ENDS)
    worked.turn("oscillator-trimmer", 0.05)
    worked.look(*ENDS)
    assert worked.belief().effect("oscillator-trimmer") is None


def test_a_movement_of_unknown_size_makes_the_circuit_uncertain_and_a_reading_makes_it_sure_again() -> None:
    worked = fm(0.05, 0.02, 0.0, 0.0)
    z = np.array(ENDS)
    worked.look(*ENDS)
    sure = worked.belief().circuits["oscillator"].sd_hz(z)
    worked.turn("oscillator-trimmer", -0.06)
    vague = worked.belief().circuits["oscillator"].sd_hz(z)
    worked.look(*ENDS)
    again = worked.belief().circuits["oscillator"].sd_hz(z)
    assert np.all(vague > 20.0 * sure)
    assert np.all(again < 3.0 * sure)


@pytest.mark.parametrize("coil", [-0.2, -0.1, 0.1, 0.2])
def test_a_reading_that_is_right_by_chance_is_no_witness_against_one_that_is_far_off(coil: float) -> None:
    worked = fm(coil, 0.0, 0.0, 0.0)
    worked.turn_to("oscillator-trimmer", ENDS[1], WANTED[1])
    worked.events.clear()
    worked.look(*ENDS)
    circuit = worked.belief().circuits["oscillator"]
    assert not circuit.fit.weights
    assert circuit.hz(np.array(ENDS)) == pytest.approx([worked.hz(z) for z in ENDS], abs=1e3)


@pytest.mark.parametrize("slip", [0.9, 1.12])
def test_a_wild_reading_is_weighed_down_when_later_ones_contradict_it(slip: float) -> None:
    worked = fm(0.03, -0.02, 0.0, 0.0)
    worked.look(ENDS[0])
    true = worked.events[0]
    assert isinstance(true, Sighted)
    wild = Sighted(1, "oscillator", true.spot, true.hz * slip, true.sd_hz)
    worked.events = [wild]
    worked.look(*ENDS, *ENDS, *ENDS)
    fit = worked.belief().circuits["oscillator"].fit
    assert fit.weights[1] < 0.01
    assert np.all(np.abs(worked.error_hz(ENDS)) < 0.002 * 98e6)
    assert all(weight > 0.5 for seq, weight in fit.weights.items() if seq != 1)


def test_a_fall_tells_how_far_the_circuit_is_but_not_the_side_unless_it_is_said() -> None:
    usual = frame(FM)
    known_q = {c: replace(row, q=60.0, q_sd=0.02) for c, row in usual.circuits.items()}
    own = replace(usual, circuits=known_q)
    spot = Spot(98e6, "received")
    for sign in (-1, 1):
        peaked = Sighted(1, "antenna", Spot(90e6, "received"), 90e6, 20e3)
        fallen = Fallen(2, "antenna", spot, 98e6, 6.0, 0.1, sign)
        circuit = Worked(own, "antenna", off(own, "antenna", 0.0)).belief((peaked, fallen)).circuits["antenna"]
        away = float(circuit.lny(np.array([98e6]))[0] - own.circuits["antenna"].lny(np.array([98e6]))[0])
        # 6 dB down on a single tuned circuit is 2 Q df/f = sqrt(10^0.6 - 1) = 1.7265; derived.
        assert sign * away == pytest.approx(1.7265 / 60.0, rel=0.3)


def scatter(worked: Worked) -> np.ndarray:
    """The covariance by brute force: the same fit of many draws of the readings."""
    rng = np.random.default_rng(11)
    found = []
    for _ in range(400):
        noisy = [
            Sighted(e.seq, e.circuit, e.spot, e.hz + rng.normal(0.0, e.sd_hz), e.sd_hz) if isinstance(e, Sighted) else e
            for e in worked.events
        ]
        found.append(belief_of(worked.frame, tuple(noisy)).circuits["oscillator"].fit.mean)
    return np.cov(np.array(found).T)


def test_the_covariance_is_that_of_a_numerical_hessian() -> None:
    # For least squares the covariance is the inverse of half the Hessian of r^2 / sd^2 plus the priors'; derived. Where
    # readings are true the residuals are nought, so that the second derivatives of the model drop out.
    own = frame(FM)
    worked = Worked(own, "oscillator", off(own, "oscillator", 0.0, 0.0, 0.0, 0.0), sd_hz=30e3)
    worked.look(87.5e6, 98e6, 108e6)
    circuit = worked.belief().circuits["oscillator"]
    z = np.array([88e6, 100e6, 108e6])
    seen = np.array([87.5e6, 98e6, 108e6])
    jacobian = np.array([_slope(circuit, seen, column) for column in range(circuit.fit.layout.count)]).T
    sd = 2.0 * 30e3 / own.circuits["oscillator"].wanted_hz(seen)
    spread = np.array(own.circuits["oscillator"].spread)
    alive = np.array([n for n in range(circuit.fit.layout.count) if n >= len(spread) or spread[n] > 0.0])
    prior = np.diag([spread[n] ** -2 if n < len(spread) else _prior_of(circuit, n) ** -2 for n in alive])
    part = jacobian[:, alive] / sd[:, None]
    by_hand = np.linalg.inv(part.T @ part + prior)
    rows = circuit.jacobian(z)[:, alive]
    told = circuit.jacobian(z) @ circuit.fit.covariance @ circuit.jacobian(z).T
    np.testing.assert_allclose(told, rows @ by_hand @ rows.T, rtol=2e-3)


def _prior_of(circuit: CircuitBelief, column: int) -> float:
    """Discrepancies are whitened: their prior is one. What a coil carries with it has a prior of its own."""
    layout = circuit.fit.layout
    return circuit.frame.carried[1] if column in layout.carried.values() else 1.0


def _slope(circuit: CircuitBelief, z: np.ndarray, column: int) -> np.ndarray:
    """d ln y / d unknown at all the spots that were seen, by moving the mean of that unknown."""
    step = 1e-6
    rows = circuit.stand.rows[:, column]
    by_setting = (circuit.lny(z, step * rows) - circuit.lny(z, -step * rows)) / (2 * step)
    bend = np.zeros((len(z), circuit.fit.layout.count))
    bend[:, sorted(circuit.fit.layout.spot_column.values())] = circuit.fit.whitener[circuit.frame.id]
    return np.asarray(by_setting + bend[:, column])


def test_draws_of_noise_scatter_as_the_covariance_says() -> None:
    worked = fm(0.04, -0.03, 0.0, 0.0)
    worked.sd_hz = 50e3
    worked.look(*ENDS, *ENDS)
    circuit = worked.belief().circuits["oscillator"]
    z = np.array(ENDS)
    rows = circuit.jacobian(z)
    told = np.diag(rows @ circuit.fit.covariance @ rows.T)
    seen = np.diag(rows @ scatter(worked) @ rows.T)
    # Readings are far better than the priors, so the scatter is nearly the whole of it: 400 draws tell it to 7 %.
    np.testing.assert_allclose(seen / told, 1.0, atol=0.25)


def test_no_event_at_all_gives_the_priors() -> None:
    own = frame(MW)
    fit = belief_of(own, ()).circuits["oscillator"].fit
    spread = np.array(own.circuits["oscillator"].spread)
    np.testing.assert_allclose(np.sqrt(np.diag(fit.covariance)[:4]), spread, rtol=1e-9)
    np.testing.assert_allclose(fit.mean[[COIL, INNER, OUTER, SERIES]], 0.0, atol=1e-12)
