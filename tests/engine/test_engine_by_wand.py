"""Circuits that are seen by a wand or by a stage voltage alone."""

import pytest

from aligner.engine.asks import Read, Wand
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM, read

FAULTS = {"oscillator": (0.06, -0.05, 0.0, 0.0), "antenna": (-0.05, 0.06, 0.0, 0.0)}
BY_WAND = FM.replace('["resonance", "level"]', '["wand"]')


def test_a_bench_that_has_only_a_wand_is_asked_for_no_resonance() -> None:
    talk = Conversation(read(BY_WAND), FAULTS)
    tests = 0
    for _ in range(60):
        ask = talk.known.ask
        if ask is None:
            break
        tests += isinstance(ask, Wand)
        assert not (isinstance(ask, Read) and ask.quantity == "resonance")
        talk.honest()
    assert talk.known.ask is None
    assert tests > 0


@pytest.mark.parametrize("fault", [-0.06, 0.06])
def test_a_circuit_that_is_off_either_way_is_brought_within_tolerance_by_the_wand(fault: float) -> None:
    talk = Conversation(read(BY_WAND), {"antenna": (fault, -fault, 0.0, 0.0)})
    talk.work_to_the_end()
    tolerance = talk.report("antenna").tolerance
    assert tolerance is not None
    for received_hz in (90e6, 98e6, 106e6):
        assert abs(talk.set.hz("antenna", received_hz) - received_hz) < tolerance


def test_a_bench_that_sees_by_a_stage_voltage_alone_is_asked_for_no_resonance() -> None:
    talk = Conversation(read(FM.replace('["resonance", "level"]', '["stage-voltage"]')), FAULTS)
    for _ in range(60):
        ask = talk.known.ask
        if ask is None:
            break
        assert not (isinstance(ask, Read) and ask.quantity == "resonance")
        talk.honest()
    assert talk.known.ask is None
