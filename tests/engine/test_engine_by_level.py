"""Circuits that are seen by level alone."""

from random import Random

from aligner.engine.asks import Read
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM, read

FAULTS = {"oscillator": (0.06, -0.05, 0.0, 0.0), "antenna": (-0.05, 0.06, 0.0, 0.0)}
BY_LEVEL = FM.replace('["resonance", "level"]', '["level"]')


def test_with_a_meter_of_unknown_law_only_peaks_are_asked_for() -> None:
    talk = Conversation(read(BY_LEVEL.replace('law = "log"', 'law = "unknown"')), FAULTS)
    for _ in range(60):
        if talk.known.ask is None:
            break
        assert not (isinstance(talk.ask, Read) and talk.ask.quantity == "level")
        talk.honest()


def test_by_level_a_set_without_noise_that_stands_within_tolerance_is_held() -> None:
    states = []
    for seed in (1, 10, 11, 12, 17):
        rng = Random(seed)
        faults = {name: (rng.gauss(0, 0.06), rng.gauss(0, 0.06), 0.0, 0.0) for name in ("oscillator", "antenna")}
        talk = Conversation(read(BY_LEVEL), faults)
        talk.work_to_the_end()
        report = talk.report("antenna")
        assert report.error is not None
        assert report.tolerance is not None
        if abs(report.error) <= report.tolerance:
            states.append(report.state)
    assert set(states) == {"held"}
