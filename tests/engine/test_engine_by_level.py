"""Circuits that are seen by level alone."""

from random import Random

from aligner.engine.answers import Cannot, Undo
from aligner.engine.asks import Peak, Read
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM, circuit, coverage, fm_head, oscillator, read, tracking

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


def test_a_peak_that_was_taken_back_is_asked_for_again_before_anything_else() -> None:
    talk = Conversation(read(BY_LEVEL), FAULTS)
    again = 0
    for _ in range(60):
        if talk.known.ask is None:
            break
        peaked = talk.ask
        talk.honest()
        if isinstance(peaked, Peak) and again < 4:
            talk.say(Undo())
            assert isinstance(talk.ask, Peak)
            assert (talk.ask.adjuster, talk.ask.point) == (peaked.adjuster, peaked.point)
            again += 1
    assert again == 4
    assert talk.report("antenna").state == "held"


def test_a_circuit_that_gave_nothing_is_peaked_once_the_one_beside_it_lets_a_signal_through() -> None:
    text = fm_head() + oscillator() + circuit("inner") + circuit("antenna") + coverage()
    text += tracking(of="inner", by='["level"]') + tracking(by='["level"]')
    talk = Conversation(read(text), {**FAULTS, "inner": (0.05, -0.04, 0.0, 0.0)})
    through, silent = False, 0
    for _ in range(200):
        if talk.known.ask is None:
            break
        ask = talk.ask
        if isinstance(ask, Peak) and ask.circuit == "inner" and not through:
            silent += 1
            talk.say(Cannot("no-reading"))
            continue
        through = through or isinstance(ask, Peak)
        talk.honest()
    assert 2 <= silent < 8  # at its places, one after the other; then the step is left
    assert (talk.report("inner").state, talk.report("antenna").state) == ("held", "held")


def test_a_peak_asked_for_within_tolerance_says_what_it_is_to_bring_elsewhere() -> None:
    reasons = []
    for seed in (2, 3):
        rng = Random(seed)
        faults = {name: (rng.gauss(0, 0.06), rng.gauss(0, 0.06), 0.0, 0.0) for name in ("oscillator", "antenna")}
        talk = Conversation(read(BY_LEVEL), faults)
        for _ in range(60):
            if talk.known.ask is None:
                break
            reasons += [talk.ask.why] if isinstance(talk.ask, Peak) else []
            talk.honest()
    within = [why for why in reasons if " But somewhere in the band" in why]
    assert within
    assert all("balanced over the band it would be at most about" in why for why in within)
    assert not any("MHz too" in why for why in within)
