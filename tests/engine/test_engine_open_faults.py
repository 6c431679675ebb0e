"""Faults of the engine that are known and not mended yet: each test says what should be, and why it is not."""

import pytest

from aligner.engine.answers import Reading
from aligner.engine.asks import Read
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM, read, read_back

FAULTS = {"oscillator": (0.06, -0.05, 0.0, 0.0), "antenna": (-0.05, 0.06, 0.0, 0.0)}
BY_LEVEL = FM.replace('["resonance", "level"]', '["level"]')
FINAL = read_back('{ volts = "8 V", received = "108 MHz", quantity = "frequency", within = "75 kHz" }')


def fault(why: str) -> pytest.MarkDecorator:
    return pytest.mark.xfail(strict=True, reason=why)


@fault("aligner.quantity.slips overflows when it multiplies the value by its factors; entry_for raises OverflowError")
def test_a_reading_near_the_greatest_number_is_questioned_as_any_other() -> None:
    assert Conversation(read(FM)).say(Reading(1.7e308)).doubt


@fault("a bench that has only a wand or a stage voltage is asked for a resonance, which it cannot read")
@pytest.mark.parametrize("way", ["wand", "stage-voltage"])
def test_only_the_ways_of_seeing_that_a_procedure_lists_are_asked_for(way: str) -> None:
    talk = Conversation(read(FM.replace('["resonance", "level"]', f'["{way}"]')), FAULTS)
    for _ in range(60):
        if talk.known.ask is None:
            break
        ask = talk.ask
        assert not (isinstance(ask, Read) and ask.quantity == "resonance")
        talk.honest()
