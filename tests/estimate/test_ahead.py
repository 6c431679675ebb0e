"""Peaks priced before they are made, against what peaks do to drawn circuits."""

from dataclasses import replace

import numpy as np
import pytest

from aligner.estimate.ahead import Ground, Peaks, Price, first_peak, worths
from aligner.estimate.best import Goal, Movable
from aligner.estimate.ladder import COIL as COIL_SETTING
from tests.estimate.worked import Worked, frame
from tests.small_sets import FM

PLACES = np.linspace(-1.0, 1.0, 5)
COIL, TRIMMER = np.ones(5), 1.0 + 0.5 * PLACES


def ground(errors: np.ndarray, covariance: np.ndarray) -> Ground:
    return Ground(errors, covariance, np.array([False, True, False, True, False]), 5.0)


def peaks(*chosen: tuple[int, int], sd: float = 0.1, room: float = np.inf) -> Peaks:
    """Each chosen peak is an adjuster (0 coil, 1 trimmer) and a place."""
    adjuster, place = np.array(chosen).T
    return Peaks(
        adjuster=adjuster,
        place=place,
        push=np.array([(COIL, TRIMMER)[n] for n in adjuster]),
        sd=np.full(len(chosen), sd),
        down=np.full(len(chosen), -room),
        up=np.full(len(chosen), room),
    )


def drawn(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    root = 0.3 * rng.normal(size=(5, 5))
    return rng.normal(size=5), root @ root.T


def peaked(errors: np.ndarray, push: np.ndarray, place: int, missed: np.ndarray) -> np.ndarray:
    return np.asarray(errors + ((missed - errors[:, place]) / push[place])[:, None] * push)


def worth_of_draws(errors: np.ndarray, about: Ground) -> float:
    """The worth by the mean and the scatter of drawn errors."""
    return float(about.worth(errors.mean(axis=0), errors.var(axis=0)))


def test_a_peak_and_a_pair_are_worth_what_they_leave_of_drawn_circuits() -> None:
    rng = np.random.default_rng(7)
    mean, covariance = drawn(rng)
    about = ground(mean, covariance)
    draws = rng.multivariate_normal(mean, covariance, size=40_000)
    now, once, twice = worths(about, peaks((0, 0), (1, 4)))
    coil = peaked(draws, COIL, 0, 0.1 * rng.normal(size=40_000))
    both = peaked(coil, TRIMMER, 4, 0.1 * rng.normal(size=40_000))
    other = peaked(peaked(draws, TRIMMER, 4, 0.1 * rng.normal(size=40_000)), COIL, 0, 0.1 * rng.normal(size=40_000))
    assert now == pytest.approx(worth_of_draws(draws, about), abs=0.05)
    assert once[0] == pytest.approx(worth_of_draws(coil, about), abs=0.05)
    # After a pair the same two may follow once more; none of the two orders does better than the best of both.
    assert twice[0] == pytest.approx(min(worth_of_draws(both, about), once[0]), abs=0.05)
    assert twice[1] == pytest.approx(min(worth_of_draws(other, about), once[1]), abs=0.05)


def test_a_peak_beyond_the_end_of_travel_is_no_plan() -> None:
    mean, covariance = np.full(5, 2.0), np.eye(5) * 0.01
    _, once, twice = worths(ground(mean, covariance), peaks((0, 0), (1, 4), room=0.5))
    assert not np.isfinite(once).any()
    assert not np.isfinite(twice).any()


def test_a_point_that_may_be_outside_costs_what_being_wrong_costs_times_its_chance() -> None:
    errors = np.array([0.9, 0.1, 0.0, 0.5, 0.9])
    now, _, _ = worths(ground(errors, np.zeros((5, 5))), peaks((0, 0)))
    assert now == pytest.approx(0.9)
    now, _, _ = worths(ground(errors, np.diag([0.0, 0.0, 0.0, 0.25**2, 0.0])), peaks((0, 0)))
    assert now == pytest.approx(
        0.9 + 5.0 * 0.02275, abs=1e-4
    )  # two standard errors: 2.275 % (any table of the normal law)


def test_how_far_a_circuit_is_to_be_reckoned_counts_its_doubt_as_much_as_its_error() -> None:
    known, vague = np.zeros((5, 5)), np.diag([0.0, 0.0, 36.0, 0.0, 0.0])
    errors = np.array([0.9, -3.0, 0.0, 0.5, 0.9])
    assert ground(errors, known).farthest == pytest.approx(3.0)
    assert ground(errors, vague).farthest == pytest.approx(6.0)


@pytest.mark.parametrize(("noise", "q", "worth"), [(1.0, 1.0, True), (4.0, 1.0, False), (4.0, 4.0, True)])
def test_a_peak_is_worth_what_a_hand_of_this_bench_finds_in_widths_of_this_circuit(
    noise: float, q: float, *, worth: bool
) -> None:
    own = frame(FM)
    worked = Worked(own, "antenna", np.array(own.circuits["antenna"].start))
    worked.look(90e6, 98e6, 106e6)
    circuit = replace(worked.belief().circuits["antenna"], noise=noise)
    circuit = replace(circuit, stand=replace(circuit.stand, frame=replace(circuit.frame, q=q * circuit.frame.q)))
    places = np.array([90e6, 98e6, 106e6])
    # Known to some hertz, and everywhere off by three tenths of what is allowed; a peak is found to one tenth of that.
    goal = Goal(places, circuit.hz(places) + 60e3, np.full(3, 200e3))
    rows = (Movable("antenna-coil", COIL_SETTING, -1.0, 1.0),)
    first = first_peak((circuit,), goal, 3, rows, [(0, 1)], Price(touch=0.08, wrong=5.0, peak=0.0125))
    assert (first is not None) == worth
