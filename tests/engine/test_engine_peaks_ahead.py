"""Where peaks are thought of before they are made: so near to each other that the best one is hardly missed."""

import numpy as np
import pytest

from aligner.engine.asks import Peak
from aligner.engine.bench import bench_of, goal_of, standing_of
from aligner.engine.peaking import Scene
from aligner.engine.peaks_ahead import _places
from aligner.engine.touches import plan_for
from aligner.engine.tracking import band_targets, targets_of
from aligner.estimate.best import errors_of
from aligner.procedure.model import TrackingStep
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM, MW, read

FAULTS = {"oscillator": (0.04, -0.03, 0.0, 0.02), "antenna": (-0.05, 0.06, 0.0, 0.0)}
STATED = 'by = "gang"\nlaw = "straight-capacitance"\nrange = ["12 pF", "365 pF"]'
BY_LEVEL = MW.replace("[counter]", '[meter]\nlaw = "log"\n[counter]').replace('["resonance", "level"]', '["level"]')


def _scene(talk: Conversation) -> Scene:
    bench = bench_of(talk.procedure, talk.history)
    step = next(s for s in talk.procedure.steps if isinstance(s, TrackingStep))
    belief, targets = bench.belief(step.band), targets_of(bench, step)
    circuit, own = belief.circuits[step.circuit], goal_of(belief, targets)
    plan = plan_for(bench, belief, circuit, (goal_of(belief, band_targets(bench, step)),), own, frozenset())
    return Scene(bench, step, belief, circuit, targets, targets, standing_of(circuit, belief, targets), plan)


@pytest.mark.parametrize("text", [BY_LEVEL, BY_LEVEL.replace('by = "gang"', STATED)], ids=["any plates", "straight"])
def test_from_place_to_place_of_a_gang_the_curve_changes_by_little_even_at_the_low_end(text: str) -> None:
    talk = Conversation(read(text), FAULTS)
    talk.work_until(lambda ask: isinstance(ask, Peak))
    scene = _scene(talk)
    places = tuple(_places(scene))
    settings = scene.plan.everything.settings  # as the circuit will run when it is right
    errors = errors_of(scene.circuit, goal_of(scene.belief, places), settings)
    whole = errors_of(scene.circuit, scene.plan.goal, settings)
    assert np.max(np.abs(np.diff(errors))) < 0.33 * np.ptp(whole)
    assert places[0].wanted_hz <= 545e3
    assert places[-1].wanted_hz == 1620e3


def test_by_voltage_the_places_are_even_over_the_band() -> None:
    talk = Conversation(read(FM.replace('["resonance", "level"]', '["level"]')), FAULTS | {"oscillator": (0.0,) * 4})
    talk.work_until(lambda ask: isinstance(ask, Peak))
    apart_hz = np.diff([t.wanted_hz for t in _places(_scene(talk))])
    assert apart_hz == pytest.approx(20.5e6 / 20, abs=0.11e6)
