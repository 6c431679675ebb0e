"""Replies of instruments as their manuals and IEEE 488.2 describe them."""

import pytest

from aligner.readings.lines import LineFault, LineValue, understand
from aligner.readings.scpi import READ, Asking, Identity, ScpiFault, identity, number, scpi_fault
from tests.readings.transcript import Transcript


@pytest.mark.parametrize(
    ("reply", "value"),
    [("273", 273.0), ("0.273", 0.273), ("2.73E+2", 273.0), ("1.0550E+06", 1.055e6), ("+1055000", 1.055e6)],
)
def test_the_three_numeric_forms_are_read(reply: str, value: float) -> None:
    """NR1, NR2, NR3: IEEE 488.2 sections 8.7.2, 8.7.3, (from memory) 8.7.4; examples: ITECH IT6512D manual p. 19."""
    line = understand(reply.encode())
    assert isinstance(line, LineValue)
    assert line.value == number(reply + "\n") == value


def test_not_a_number_is_9_91e37_and_no_reading() -> None:
    """HP 53131A/132A Programming Guide p. 3-17; Agilent E4418B guide p. 1-96."""
    assert number("9.91E37") is None
    assert number("+9.91000000000000E+037") is None
    line = understand(b"+9.91000000000000E+037")
    assert isinstance(line, LineFault)
    assert line.no_reading


@pytest.mark.parametrize("reply", ["+9.9E37", "-9.9E37", "9.9E+37"])
def test_infinity_is_9_9e37_and_no_reading(reply: str) -> None:
    """Anritsu 10450-00052M, SCPI page."""
    assert number(reply) is None


@pytest.mark.parametrize("reply", ["+1234567890123456", "+12345678901234.5", "+9.84120000000012E+007"])
def test_the_longest_replies_of_a_counter_are_read(reply: str) -> None:
    """HP 53131A guide p. 3-17: NR1 and NR2 of 17 characters, NR3 of 22 with 15 digits."""
    assert len(reply) <= 22
    assert number(reply) == pytest.approx(float(reply), rel=1e-15)


def test_the_identity_has_four_fields() -> None:
    """The answer of an HP 53131A as its manual gives it."""
    assert identity("HEWLETT-PACKARD,53131A,0,4806\n") == Identity("HEWLETT-PACKARD", "53131A", "0", "4806")


def test_a_reading_is_a_fresh_measurement_each_time() -> None:
    """READ? makes a fresh acquisition and fetches, FETCh? gives existing data again: SCPI-1999 vol. 2, from memory."""
    exchanges: list[tuple[bytes, bytes | None]] = [(b"READ?\n", b"1\n"), (b"READ?\n", b"2\n")]
    with Transcript(exchanges) as wire:
        dialogue = Asking(READ)
        assert dialogue.lines(wire) + dialogue.lines(wire) == [b"1", b"2"]


def test_another_query_may_be_asked_by_its_full_header() -> None:
    """HP 53131A guide p. 4-65 has `:MEASure:FREQuency:RATio?`; this plain form follows its pattern, from memory."""
    with Transcript([(b":MEAS:FREQ? 10MHZ,1,(@1)\n", b"+1.0E+007\n")]) as wire:
        assert Asking(":MEAS:FREQ? 10MHZ,1,(@1)").lines(wire) == [b"+1.0E+007"]


@pytest.mark.parametrize(
    ("reply", "fault"),
    [
        ('0,"No error"', ScpiFault(0, "No error")),
        ('+0,"No error"', ScpiFault(0, "No error")),
        ('-000,"No error"', ScpiFault(0, "No error")),
        ('-113,"Undefined header"', ScpiFault(-113, "Undefined header")),
        ('-350,"Queue overflow"', ScpiFault(-350, "Queue overflow")),
    ],
)
def test_an_entry_of_the_error_queue_is_read_with_or_without_sign(reply: str, fault: ScpiFault) -> None:
    """B&K 891 manual p. 66 (no error is -000 there), HP 83751A p. 16-10; the canonical reply and -350 from memory."""
    assert scpi_fault(reply) == fault
