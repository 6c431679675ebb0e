import pytest

from aligner.errors import InstrumentError
from aligner.readings.lines import LineFault, LineValue, understand
from aligner.readings.scpi import Asking, Conversation, Identity, ScpiFault, identity, number, scpi_fault
from tests.readings.transcript import Ticks, Transcript


def test_a_counter_is_identified_asked_and_checked_for_errors() -> None:
    exchanges: list[tuple[bytes, bytes | None]] = [
        (b"*IDN?\n", b"INVENTED,CNT-1,0,1.2\r\n"),
        (b"READ?\n", b"+3.83594000E+005\n"),
        (b"READ?\n", b"9.91E37\n"),
        (b"SYST:ERR?\n", b'0,"No error"\n'),
    ]
    with Transcript(exchanges, chunk=3) as wire:
        talk = Conversation(wire)
        assert talk.identify() == Identity("INVENTED", "CNT-1", "0", "1.2")
        assert talk.measure() == 383594.0
        assert talk.measure() is None
        talk.check()


def test_what_stands_in_the_error_queue_is_raised_oldest_first() -> None:
    exchanges: list[tuple[bytes, bytes | None]] = [
        (b"SYST:ERR?\n", b'-113,"Undefined header"\n'),
        (b"SYST:ERR?\n", b'-200,"Execution error"\n'),
        (b"SYST:ERR?\n", b'+0,"No error"\n'),
    ]
    with Transcript(exchanges) as wire, pytest.raises(InstrumentError) as caught:
        Conversation(wire).check()
    assert str(caught.value) == "the instrument reports -113 Undefined header; -200 Execution error"


def test_an_error_queue_without_end_is_given_up() -> None:
    exchanges: list[tuple[bytes, bytes | None]] = [(b"SYST:ERR?\n", b'-350,"Queue overflow"\n')] * 32
    with Transcript(exchanges) as wire, pytest.raises(InstrumentError, match="more than 32 entries"):
        Conversation(wire).check()


def test_an_instrument_that_does_not_answer_is_named_with_the_query() -> None:
    with Transcript([(b"READ?\n", None)]) as wire, pytest.raises(InstrumentError) as caught:
        Conversation(wire, clock=Ticks()).measure()
    assert str(caught.value) == "no answer to READ? in 3 s: is it on, is the baud rate right?"


def test_the_dialogue_asks_once_for_each_answer() -> None:
    exchanges: list[tuple[bytes, bytes | None]] = [
        (b"*CLS\n", None),
        (b"*IDN?\n", b"INVENTED,CNT-1,0,1.2\n"),
        (b"CONF:FREQ\n", None),
        (b"SYST:ERR?\n", b'0,"No error"\n'),
        (b"READ?\n", b"383594\n"),
        (b"READ?\n", b"383595\n"),
    ]
    with Transcript(exchanges, chunk=5) as wire:
        dialogue = Asking(setup=("CONF:FREQ",))
        dialogue.begin(wire)
        assert dialogue.identity == Identity("INVENTED", "CNT-1", "0", "1.2")
        lines = [line for _ in range(4) for line in dialogue.lines(wire)]
    assert lines == [b"383594", b"383595"]


def test_a_query_that_the_instrument_does_not_know_is_told_in_its_own_words() -> None:
    exchanges: list[tuple[bytes, bytes | None]] = [
        (b"READ?\n", None),
        (b"SYST:ERR?\n", b'-113,"Undefined header"\n'),
        (b"SYST:ERR?\n", b'0,"No error"\n'),
    ]
    with Transcript(exchanges) as wire:
        dialogue = Asking(clock=Ticks(1.0), timeout_s=1.5)
        assert dialogue.lines(wire) == []
        with pytest.raises(InstrumentError) as caught:
            dialogue.lines(wire)
    assert str(caught.value) == "the instrument reports -113 Undefined header"


@pytest.mark.parametrize("reply", ["", "ready", "1,2", "nan", "1_000", "--1"])
def test_what_is_no_number_is_the_instruments_fault(reply: str) -> None:
    with pytest.raises(InstrumentError, match="answered where a number was asked for"):
        number(reply)


def test_replies_of_the_wrong_shape_are_the_instruments_fault_and_come_out_clean() -> None:
    with pytest.raises(InstrumentError) as caught:
        identity("who\x1b[2J me")
    assert "\x1b" not in str(caught.value)
    with pytest.raises(InstrumentError, match="no error entry"):
        scpi_fault("fine")
    assert scpi_fault('-222,"Data ""x"" out of range"') == ScpiFault(-222, 'Data "x" out of range')


@pytest.mark.parametrize("reply", ["1.0550E+06", "+1055000", "1055000.0", "9.91E37"])
def test_a_reply_means_the_same_as_a_line_and_as_an_answer(reply: str) -> None:
    line = understand(reply.encode())
    if isinstance(line, LineValue):
        assert line.value == number(reply)
    else:
        assert isinstance(line, LineFault)
        assert line.no_reading
        assert number(reply) is None
