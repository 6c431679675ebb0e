import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.readings.cutter import LINE_LIMIT
from aligner.readings.lines import LineFault, LineValue, Want, understand, visible


def value(text: str | bytes, want: Want | None = None) -> float:
    line = understand(text.encode() if isinstance(text, str) else text, want)
    assert isinstance(line, LineValue), line
    return line.value


def fault(text: str | bytes, want: Want | None = None) -> LineFault:
    line = understand(text.encode() if isinstance(text, str) else text, want)
    assert isinstance(line, LineFault), line
    return line


@pytest.mark.parametrize(
    ("text", "hz", "step"),
    [
        ("383594", 383594.0, 1.0),
        ("383.594 kHz", 383594.0, 1.0),
        ("F=383594 Hz", 383594.0, 1.0),
        ("+3.83594E+05", 383594.0, 1.0),
        ("383,594 kHz", 383594.0, 1.0),
        ("Freq: 383 594 Hz", 383594.0, 1.0),
        ("98.412MHz", 98412000.0, 1000.0),
        ("98.412 mhz", 98412000.0, 1000.0),
        ("98.412 MHZ", 98412000.0, 1000.0),
        ("1,234.5 kHz", 1234500.0, 100.0),
        ("1.234,5 kHz", 1234500.0, 100.0),
        ("1 234.5 kHz", 1234500.0, 100.0),
        ("98,412,000 Hz", 98412000.0, 1.0),
        ("455k", 455000.0, 1000.0),
        ("273.", 273.0, 1.0),
        ("  383594\t", 383594.0, 1.0),
        ("<383594 Hz>", 383594.0, 1.0),
        ("383594 (Hz)", 383594.0, 1.0),
        ("CH1: 383594", 383594.0, 1.0),
        ("Frequency A: 383594", 383594.0, 1.0),
        ("F+3.83594E5", 383594.0, 1.0),
        ("\x1b[2J\x1b[H383594 Hz", 383594.0, 1.0),
        ("\x00\x00383594\x00", 383594.0, 1.0),
    ],
)
def test_a_counter_may_print_it_in_any_of_these_forms(text: str, hz: float, step: float) -> None:
    line = understand(text.encode())
    assert isinstance(line, LineValue), line
    assert (line.value, line.unit) == (hz, "Hz")
    assert line.step == pytest.approx(step, rel=1e-12)


def test_a_bare_number_is_hertz_as_printed_unless_the_device_is_said_to_print_megahertz() -> None:
    assert value("1.234") == 1.234
    assert value("98.412", Want(bare_power=6)) == 98412000.0
    assert value("98.412 kHz", Want(bare_power=6)) == 98412.0


@pytest.mark.parametrize(
    ("text", "hz"),
    [
        ("IF=10.7 MHz F=98.4 MHz", 98.4e6),
        ("Gate 0.1s F 383594", 383594.0),
        ("F=383594 Hz Gate: 100 ms", 383594.0),
        ("12:34:56 383594 Hz", 383594.0),
        ("2024-01-02 383594 Hz", 383594.0),
        ("383594Hz,-23.4dBm", 383594.0),
        ("F=38F=383594 Hz", 383594.0),
    ],
)
def test_of_several_fields_the_labelled_one_or_the_first_with_the_unit_is_taken(text: str, hz: float) -> None:
    assert value(text) == hz


def test_the_field_may_be_chosen_by_place_or_by_label() -> None:
    assert value("1,383594", Want(field=2)) == 383594.0
    assert value("N=383594 M=17", Want(field="n")) == 383594.0
    assert fault("1,383594", Want(field=3)).why == "has no field 3"
    assert fault("1,383594", Want(field=0)).why == "has no field 0"


@pytest.mark.parametrize(
    ("text", "unit", "wanted"),
    [
        ("-23.4 dBm", "dB", -23.4),
        ("L=12.3dB", "dB", 12.3),
        ("-23,4 dB", "dB", -23.4),
        ("F 383594 L -23.4", "dB", -23.4),
        ("\u22123.5 dB", "dB", -3.5),
        ("1.234 V", "V", 1.234),
        ("1,234 V", "V", 1.234),
        ("12 mV", "V", 0.012),
        (b"12 \xb5V", "V", 12e-6),
    ],
)
def test_a_meter_may_print_it_in_any_of_these_forms(text: str | bytes, unit: str, wanted: float) -> None:
    assert value(text, Want(unit="dB" if unit == "dB" else "V")) == wanted


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("38?594", "38?594 is no whole number"),
        ("?83594", "?83594 is no whole number"),
        ("38359? Hz", "38359? is no whole number"),
        ("12:34 Hz", "12:34 is no whole number"),
        ("383.594 kH", "383.594 is followed by kH, which is no unit"),
        ("383594 Hz383595 Hz", "383594 is followed by Hz383595, which is no unit"),
        ("383594383594", "383594383594 is more than any counter or meter shows: two lines that ran together?"),
        ("383594 383595", "2 numbers without unit or label: choose the field by its place"),
        ("383,594 Hz", "383,594 Hz may mean 383.594 or 383594: say which the decimal mark is"),
        ("383594,1", "383594,1 may be two fields or one number: choose the field, or say which the decimal mark is"),
        ("98..2", "98..2 has its points and commas where no number has them"),
        ("-5", "-5: no frequency is less than nothing"),
        ("38\x003594", "1 of 7 characters are no text: noise, or another baud rate"),
        ("temp: 23.5", "a number labelled temp, without unit: choose the field temp if it is meant"),
        ("12.3 dB", "no number in Hz"),
        ("ready", "no number on the line"),
        ("1" * (LINE_LIMIT + 1), "longer than 200 bytes: no line ends, or another baud rate"),
    ],
)
def test_what_cannot_be_relied_on_is_not_understood_and_says_why(text: str, why: str) -> None:
    assert fault(text) == LineFault(why)


def test_the_decimal_mark_may_be_said_and_then_settles_what_is_unclear() -> None:
    assert value("383,594 Hz", Want(decimal=",")) == 383.594
    assert value("383,594 Hz", Want(decimal=".")) == 383594.0


@pytest.mark.parametrize(
    "text", ["F: ----", "OL", "OVLD", "-----", "9.91E37", "+9.90000E+37", "-9.9E37", "F=", "no signal, err"]
)
def test_an_instrument_without_a_reading_is_told_from_one_that_is_not_understood(text: str) -> None:
    assert fault(text).no_reading


def test_a_reference_is_not_taken_for_the_frequency_that_is_missing() -> None:
    assert fault("REF: 10 MHz  F: ---").no_reading


@given(st.binary(max_size=LINE_LIMIT + 20))
def test_no_bytes_crash_it_and_none_that_a_terminal_obeys_come_out(raw: bytes) -> None:
    line = understand(raw)
    shown = [visible(raw), line.why if isinstance(line, LineFault) else line.taken]
    for text in shown:
        assert not {unicodedata.category(mark) for mark in text} & {"Cc", "Cf", "Cs", "Zl", "Zp"}


@given(st.integers(0, 10**10), st.sampled_from(["{}", "F={} Hz", "{} Hz", "FREQ {}", "{}.0Hz"]))
def test_every_whole_number_of_hertz_comes_back_as_it_was_printed(hz: int, form: str) -> None:
    assert value(form.format(hz)) == hz


@given(st.integers(0, 10**8), st.integers(0, 5), st.integers(128, 255))
def test_one_byte_of_noise_inside_a_number_never_makes_another_number(hz: int, place: int, noise: int) -> None:
    digits = b"%09d" % hz
    spoilt = digits[: place + 1] + bytes([noise]) + digits[place + 1 :]
    assert isinstance(understand(spoilt), LineFault)


@given(st.integers(0, 10**8), st.integers(0, 9), st.sampled_from("?!&@/^{}_~$\\`x"))
def test_one_wrong_character_in_or_at_a_number_never_makes_another_number(hz: int, place: int, wrong: str) -> None:
    digits = f"{hz:09d}"
    assert isinstance(understand(f"{digits[:place]}{wrong}{digits[place + 1 :]}".encode()), LineFault)


def test_hostile_bytes_are_shown_as_escapes() -> None:
    assert visible(b"\x1b]0;gone\x07 38\x9b2J\xe2\x80\xae\r") == "\\x1b]0;gone\\x07 38\\x9b2J\\u202e\\r"
