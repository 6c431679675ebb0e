"""Faults of the engine that are known and not mended yet: each test says what should be, and why it is not."""

from random import Random

import pytest

from aligner.engine.answers import Cannot, Done, Reading, Undo
from aligner.engine.asks import Confirm, Peak, Read, Touch
from aligner.engine.run import survey
from aligner.errors import AnswerError
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM, MW, read, read_back

FAULTS = {"oscillator": (0.06, -0.05, 0.0, 0.0), "antenna": (-0.05, 0.06, 0.0, 0.0)}
BY_LEVEL = FM.replace('["resonance", "level"]', '["level"]')
FINAL = read_back('{ volts = "8 V", received = "108 MHz", quantity = "frequency", within = "75 kHz" }')


def fault(why: str) -> pytest.MarkDecorator:
    return pytest.mark.xfail(strict=True, reason=why)


def said(talk: Conversation, answer: Reading | Cannot) -> None:
    """Said and taken, or refused; either leaves a job that can be gone on with."""
    try:
        talk.say(answer)
    except AnswerError:
        return
    assert survey(talk.procedure, talk.history).steps


@fault("a frequency of nought or less that is insisted on is kept, and the survey raises ever after")
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@pytest.mark.parametrize("value", [0.0, -1.0])
@pytest.mark.parametrize("honest", [0, 2])
def test_a_frequency_that_cannot_be_leaves_the_job_whole(value: float, honest: int) -> None:
    talk = Conversation(read(FM))
    for _ in range(honest):
        talk.honest()
    said(talk, Reading(value, insist=True))


@fault("the same for a reading given with an end of travel, which is never questioned")
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@pytest.mark.parametrize("value", [0.0, -1.0])
def test_a_frequency_that_cannot_be_at_an_end_of_travel_leaves_the_job_whole(value: float) -> None:
    talk = Conversation(read(FM), FAULTS)
    talk.work_until(lambda ask: isinstance(ask, Touch))
    said(talk, Cannot("end-of-travel", value))


@fault("numbers beyond all measure overflow in plain Python powers")
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_a_frequency_beyond_all_measure_leaves_the_job_whole() -> None:
    said(Conversation(read(FM)), Reading(1e200, insist=True))


@fault("aligner.quantity.slips overflows when it multiplies the value by its factors; entry_for raises OverflowError")
def test_a_reading_near_the_greatest_number_is_questioned_as_any_other() -> None:
    assert Conversation(read(FM)).say(Reading(1.7e308)).doubt


@fault("10 ** (fall / 10) overflows for falls of more than 3080 dB")
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_a_level_beyond_all_measure_leaves_the_job_whole() -> None:
    talk = Conversation(read(BY_LEVEL), FAULTS)
    talk.work_until(lambda ask: isinstance(ask, Read) and ask.quantity == "level")
    said(talk, Reading(-4000.0, insist=True))


@fault("a wild reading that comes with an end of travel is taken without a question")
def test_a_wild_reading_at_an_end_of_travel_is_questioned() -> None:
    talk = Conversation(read(FM), FAULTS)
    talk.work_until(lambda ask: isinstance(ask, Touch))
    assert isinstance(talk.ask, Touch)
    assert talk.say(Cannot("end-of-travel", talk.ask.aim.value / 1e6)).doubt


@fault("where nothing could be read the prior alone is judged: held, at an uncertainty hundreds of times the tolerance")
@pytest.mark.parametrize("text", [FM, MW], ids=["fm", "mw"])
def test_a_set_of_which_nothing_was_seen_is_never_called_aligned(text: str) -> None:
    talk = Conversation(read(text))
    for _ in range(60):
        if talk.known.ask is None:
            break
        talk.say(Done() if isinstance(talk.ask, Confirm) else Cannot("no-reading"))
    assert talk.known.ask is None
    assert not talk.known.aligned


@fault("the read-back asks for the same reading for ever")
def test_a_read_back_that_cannot_be_read_ends() -> None:
    talk = Conversation(read(FM + FINAL))
    talk.work_until(lambda ask: ask.step == "final")
    talk.say(Cannot("no-reading"))
    assert talk.known.ask is None
    assert talk.report("final").state == "at-limit"


@fault("the same touch is asked for at the same point 18 times over, and each time counts as a touch")
def test_a_touch_where_nothing_can_be_read_is_not_asked_for_again_at_that_point() -> None:
    talk = Conversation(read(FM), FAULTS)
    first = talk.work_until(lambda ask: isinstance(ask, Touch))
    assert isinstance(first, Touch)
    talk.say(Cannot("no-reading"))
    again = talk.ask
    assert not (isinstance(again, Touch) and (again.adjuster, again.point) == (first.adjuster, first.point))


@fault("an answer that was questioned and not taken takes up an undo, which then takes back nothing")
def test_undo_takes_back_the_newest_answer_that_was_taken() -> None:
    talk = Conversation(read(FM))
    first = talk.ask
    talk.say(Reading(9.7e6))
    talk.honest()
    talk.honest()
    talk.say(Undo())
    talk.say(Undo())
    assert isinstance(first, Read)
    assert isinstance(talk.ask, Read)
    assert talk.ask.point == first.point
    with pytest.raises(AnswerError, match="nothing to take back"):
        talk.say(Undo())


@fault("levels below a peak are taken as decibels whatever the meter's law is")
def test_with_a_meter_of_unknown_law_only_peaks_are_asked_for() -> None:
    talk = Conversation(read(BY_LEVEL.replace('law = "log"', 'law = "unknown"')), FAULTS)
    for _ in range(60):
        if talk.known.ask is None:
            break
        assert not (isinstance(talk.ask, Read) and talk.ask.quantity == "level")
        talk.honest()


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


@fault("of sets that can be aligned, and are, a third end at limit after all touches: one point stays too uncertain")
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
