"""Faults of the engine that are known and not mended yet: each test says what should be, and why it is not."""

import pytest

from aligner.engine.answers import Cannot, Reading
from aligner.engine.asks import Peak, Read
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


@fault("the read-back asks for the same reading for ever")
def test_a_read_back_that_cannot_be_read_ends() -> None:
    talk = Conversation(read(FM + FINAL))
    talk.work_until(lambda ask: ask.step == "final")
    talk.say(Cannot("no-reading"))
    assert talk.known.ask is None
    assert talk.report("final").state == "at-limit"


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


@fault("a voltage read back is compared with nought and not with the voltage of its place")
def test_a_voltage_read_back_is_compared_with_its_place() -> None:
    talk = Conversation(
        read(FM + read_back('{ volts = "5 V", received = "97 MHz", quantity = "volts", within = "0.2 V" }'))
    )
    talk.work_until(lambda ask: ask.step == "final")
    talk.say(Reading(5.05))
    assert talk.report("final").state == "held"


@fault("a step's own generator is read by the procedure and not used")
def test_a_step_with_a_generator_of_its_own_is_fed_by_it() -> None:
    own = FM + '[step.generator]\ninto = "mixer"\nthrough = "1 nF"\n'
    ask = Conversation(read(own)).work_until(lambda ask: ask.step == "antenna")
    assert isinstance(ask, Read | Peak)
    assert ask.generator is not None
    assert (ask.generator.into, ask.generator.through) == ("mixer", "1 nF")
