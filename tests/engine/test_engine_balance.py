"""The balance over the band: where the curve is read for it, when it is worth a touch, how the points keep room."""

import numpy as np
import pytest

from aligner.engine.asks import Read, Touch
from aligner.engine.bench import bench_of, goal_of, movables
from aligner.engine.touches import doubt_once_set, gain_of, plan_for
from aligner.engine.tracking import _leaning, band_targets, targets_of
from aligner.estimate.best import Goal, best_of, doubts_of, errors_of
from aligner.procedure.model import TrackingStep
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM, MW, read

FAULTS = {"oscillator": (0.04, -0.03, 0.0, 0.02), "antenna": (-0.08, 0.1, 0.0, 0.0)}


def _step(talk: Conversation) -> TrackingStep:
    return next(s for s in talk.procedure.steps if isinstance(s, TrackingStep))


def _places_before_the_first_touch(talk: Conversation, circuit: str, quantity: str) -> list[float]:
    talk.work_until(lambda ask: isinstance(ask, Touch) and ask.circuit == circuit)
    asks = [e.ask for e in talk.history.entries if isinstance(e.ask, Read) and e.ask.quantity == quantity]
    return [p for ask in asks if (p := ask.point.received or ask.point.dial) is not None]


def test_a_band_that_runs_far_beyond_the_points_is_read_there_once_before_the_first_touch() -> None:
    talk = Conversation(read(MW), FAULTS)
    places = _places_before_the_first_touch(talk, "antenna", "resonance")
    assert places[:3] == [600e3, 1000e3, 1400e3]
    assert 525e3 in places[3:]
    assert len(places) == len(set(places)) <= 5
    assert "No point of the step" in [e.ask for e in talk.history.entries if isinstance(e.ask, Read)][-1].why
    talk.work_to_the_end()
    beyond = [e.ask for e in talk.history.entries if isinstance(e.ask, Read) and e.ask.point.received == 525e3]
    assert len(beyond) == 1


def test_a_band_that_the_points_reach_over_is_read_at_the_points_only() -> None:
    talk = Conversation(read(FM), {"oscillator": (0.03, -0.03, 0.0, 0.0), "antenna": (-0.04, 0.05, 0.0, 0.0)})
    assert _places_before_the_first_touch(talk, "antenna", "resonance") == [90e6, 98e6, 106e6]


def test_however_narrow_the_tolerance_two_places_beyond_the_points_are_enough() -> None:
    talk = Conversation(read(MW.replace('"5 kHz"', '"20 Hz"')), FAULTS)
    places = _places_before_the_first_touch(talk, "antenna", "resonance")
    assert set(places) == {525e3, 600e3, 1000e3, 1400e3, 1620e3}
    assert len(places) == 5


@pytest.mark.parametrize("spare", [0.1, 0.3, 0.5, 0.7, 0.9])
def test_the_band_stands_back_from_the_points_no_further_than_they_need(spare: float) -> None:
    talk = Conversation(read(MW), FAULTS)
    talk.work_until(lambda ask: isinstance(ask, Touch) and ask.circuit == "antenna")
    bench, step = bench_of(talk.procedure, talk.history), _step(talk)
    belief = bench.belief("")
    circuit, own = belief.circuits["antenna"], goal_of(belief, targets_of(bench, step))
    whole = goal_of(belief, band_targets(bench, step))
    goals = (whole, *_leaning(whole, own), own)
    rows = movables(bench, belief, circuit)
    left = [np.max(np.abs(errors_of(circuit, own, best_of(circuit, g, rows).settings))) for g in goals]
    plan = plan_for(bench, belief, circuit, goals, own, frozenset(), spare=spare)
    assert plan.goal is next((g for g, most in zip(goals, left, strict=True) if most <= 1.0 - spare), own)


@pytest.mark.parametrize("room", [0.3, 0.6, 0.8])
def test_no_settings_that_leave_the_points_their_room_are_better_for_the_band(room: float) -> None:
    talk = Conversation(read(MW), FAULTS)
    talk.work_until(lambda ask: isinstance(ask, Touch) and ask.circuit == "antenna")
    bench, step = bench_of(talk.procedure, talk.history), _step(talk)
    belief = bench.belief("")
    circuit, rows = belief.circuits["antenna"], movables(bench, belief, belief.circuits["antenna"])
    own, whole = goal_of(belief, targets_of(bench, step)), goal_of(belief, band_targets(bench, step))
    best_points = float(np.max(np.abs(best_of(circuit, own, rows).errors)))
    even = best_of(circuit, whole, rows)
    even_points = float(np.max(np.abs(errors_of(circuit, own, even.settings))))
    spare = 1.0 - (best_points + room * (even_points - best_points))  # between what the points need and an even balance
    plan = plan_for(bench, belief, circuit, (whole, *_leaning(whole, own), own), own, frozenset(), spare=spare)
    chosen = plan.everything.settings

    def worst(goal: Goal, settings: np.ndarray) -> float:
        return float(np.max(np.abs(errors_of(circuit, goal, settings))))

    assert worst(own, chosen) <= 1.0 - spare < even_points
    far = 2.0 * np.max(np.abs(chosen - even.settings))
    tried = chosen[:2] + np.random.default_rng(1).uniform(-far, far, (3000, 2))
    others = [np.array([*pair, 0.0, 0.0]) for pair in tried]
    left = [worst(whole, one) for one in others if worst(own, one) <= 1.0 - spare]
    assert len(left) > 30
    assert worst(whole, chosen) <= 1.04 * min(left)  # the points are given room in steps of 1.04


def test_a_circuit_within_its_points_is_touched_where_that_betters_the_band() -> None:
    talk = Conversation(read(MW), {"oscillator": FAULTS["oscillator"], "antenna": (0.0, 0.0, 0.0, 0.0)})
    asked: list[float] = []
    for _ in range(60):
        if isinstance(talk.ask, Touch) and talk.ask.circuit == "antenna":
            bench, step = bench_of(talk.procedure, talk.history), _step(talk)
            belief = bench.belief("")
            own, whole = goal_of(belief, targets_of(bench, step)), goal_of(belief, band_targets(bench, step))
            circuit = belief.circuits["antenna"]
            asked.append(float(np.max(np.abs(errors_of(circuit, own)))))
            plan = plan_for(bench, belief, circuit, (whole, *_leaning(whole, own), own), own, frozenset())
            assert gain_of(circuit, plan) > 0.2 or asked[-1] > 0.6
            break
        if talk.known.ask is None:
            break
        talk.honest()
    assert asked


def test_what_readings_at_both_ends_leave_in_doubt_is_less_than_the_doubt_now() -> None:
    talk = Conversation(read(MW), FAULTS)
    talk.work_until(lambda ask: isinstance(ask, Touch) and ask.circuit == "antenna")
    talk.honest()
    bench, step = bench_of(talk.procedure, talk.history), _step(talk)
    belief = bench.belief("")
    circuit, own = belief.circuits["antenna"], goal_of(belief, targets_of(bench, step))
    now = float(np.max(doubts_of(circuit, own)))
    assert 0.0 < doubt_once_set(circuit, own) < 0.5 * now
