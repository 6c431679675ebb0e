"""Read-back, the coupling of the generator that a step asks for, and the band that an ask belongs to."""

import re

import pytest

from aligner.engine.answers import Cannot, GoTo, Reading, SetAside
from aligner.engine.asks import Peak, Read
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM, read, read_back

FINAL = read_back('{ volts = "8 V", received = "108 MHz", quantity = "frequency", within = "75 kHz" }')


def test_a_read_back_that_cannot_be_read_ends() -> None:
    talk = Conversation(read(FM + FINAL))
    talk.work_until(lambda ask: ask.step == "final")
    talk.say(Cannot("no-reading"))
    assert talk.known.ask is None
    assert talk.report("final").state == "at-limit"


def test_a_voltage_read_back_is_compared_with_its_place() -> None:
    talk = Conversation(
        read(FM + read_back('{ volts = "5 V", received = "97 MHz", quantity = "volts", within = "0.2 V" }'))
    )
    talk.work_until(lambda ask: ask.step == "final")
    talk.say(Reading(5.05))
    assert talk.report("final").state == "held"


BY_LEVEL = FM.replace('["resonance", "level"]', '["level"]')


def level_at(mhz: float) -> str:
    return read_back(f'{{ point = "{mhz} MHz", quantity = "level", within = "0.5 dB" }}')


def peaks_of(talk: Conversation) -> list[tuple[float, float]]:
    """Where something was peaked on the level [Hz], and what was read there [dB]."""
    return [
        (entry.ask.generator.hz, entry.answer.value)
        for entry in talk.history.entries
        if isinstance(entry.ask, Peak) and isinstance(entry.answer, Reading) and entry.ask.generator is not None
    ]


def test_a_level_is_compared_with_the_peak_that_was_made_there() -> None:
    before = Conversation(read(BY_LEVEL))
    before.work_to_the_end()
    place_hz, _ = peaks_of(before)[-1]
    talk = Conversation(read(BY_LEVEL + level_at(place_hz / 1e6)))
    talk.work_until(lambda ask: ask.step == "final")
    peak = [db for hz, db in peaks_of(talk) if hz == place_hz][-1]
    talk.say(Reading(peak - 0.8))
    assert talk.report("final").state == "at-limit"
    assert talk.report("final").error == pytest.approx(-0.8, abs=0.05)


def test_a_level_where_nothing_was_peaked_is_not_called_held() -> None:
    talk = Conversation(read(BY_LEVEL + level_at(106)))
    talk.work_until(lambda ask: ask.step == "final")
    talk.say(Reading(-12.0))
    report = talk.report("final")
    assert (report.state, report.error) == ("at-limit", None)
    assert report.why == "nothing was peaked at 106 MHz before, so the level there tells nothing: leave it out"


def test_a_step_with_a_generator_of_its_own_is_fed_by_it() -> None:
    own = FM + '[step.generator]\ninto = "mixer"\nthrough = "1 nF"\n'
    ask = Conversation(read(own)).work_until(lambda ask: ask.step == "antenna")
    assert isinstance(ask, Read | Peak)
    assert ask.generator is not None
    assert (ask.generator.into, ask.generator.through) == ("mixer", "1 nF")


def test_a_reading_for_the_record_says_where_it_should_be() -> None:
    talk = Conversation(read(FM + FINAL), {})
    ask = talk.work_until(lambda ask: ask.step == "final")
    assert isinstance(ask, Read)
    assert ask.why == "For the record: oscillator should stand at 118.700 MHz here, within 75 kHz."


def test_a_reading_for_the_record_that_is_asked_for_again_says_after_which_adjuster() -> None:
    talk = Conversation(read(FM + FINAL), {"antenna": (-0.05, 0.06, 0.0, 0.0)})
    talk.work_until(lambda ask: ask.step == "antenna")
    talk.say(SetAside("no dip meter"))
    talk.work_to_the_end()
    talk.say(GoTo("antenna"))
    ask = talk.work_until(lambda ask: ask.step == "final")
    assert re.match(r"Read again, for antenna-(coil|trimmer) was turned since this was read\. For the rec", ask.why)
