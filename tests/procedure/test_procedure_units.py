"""Quantities of files: one strict form, and a cure for every other."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.procedure.units import Misread, Unit, quantity


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("10.7 MHz", "Hz", 10.7e6),
        ("455kHz", "Hz", 455e3),
        ("1.2 GHz", "Hz", 1.2e9),
        ("5 Hz", "Hz", 5.0),
        ("2 V", "V", 2.0),
        ("50 mV", "V", 0.05),
        ("70 nH", "H", 70e-9),
        ("12 pF", "F", 12e-12),
        ("0.1 uF", "F", 0.1e-6),
        ("90 µH", "H", 90e-6),
        ("90 \N{GREEK SMALL LETTER MU}H", "H", 90e-6),
        ("100 ms", "s", 0.1),
        ("-3 dB", "dB", -3.0),
        (" 0.3 dB ", "dB", 0.3),
    ],
)
def test_the_one_form_is_read(text: str, unit: Unit, value: float) -> None:
    assert quantity(text, unit) == (value, unit)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "MHz",
        "10,7 MHz",
        "10.7",
        "10.7  MHz",
        "1e3 Hz",
        "1 000 kHz",
        "98..2 MHz",
        ".5 V",
        "5. V",
        "nan Hz",
        "inf Hz",
    ],
)
def test_every_other_form_is_refused_with_an_example(text: str) -> None:
    read = quantity(text, "Hz")
    assert isinstance(read, Misread)
    assert "is no quantity" in read.found
    assert read.cure == 'write a frequency such as "98.2 MHz"'


@pytest.mark.parametrize(
    ("text", "cure"),
    [
        ("10.7 mhz", 'did you mean "10.7 MHz"?'),
        ("10.7 MHZ", 'did you mean "10.7 MHz"?'),
        ("10.7 M", 'write a frequency such as "98.2 MHz"'),
        ("10 THz", 'write a frequency such as "98.2 MHz"'),
    ],
)
def test_an_unknown_unit_gets_the_likely_one(text: str, cure: str) -> None:
    read = quantity(text, "Hz")
    assert isinstance(read, Misread)
    assert read.cure == cure


@pytest.mark.parametrize(("value", "found"), [(True, "true"), ([], "a list"), ({}, "a table"), (None, "None")])
def test_what_is_no_text_is_refused(value: object, found: str) -> None:
    read = quantity(value, "V")
    assert isinstance(read, Misread)
    assert read.found == found


def test_either_of_two_units_is_taken() -> None:
    assert quantity("150 kHz", "Hz", "dB") == (150e3, "Hz")
    assert quantity("0.3 dB", "Hz", "dB") == (0.3, "dB")


@given(st.integers(0, 10**9), st.integers(0, 999), st.sampled_from([("", 0), ("k", 3), ("M", 6), ("G", 9)]))
def test_a_prefix_gives_the_float_nearest_to_the_true_value(
    whole: int, thousandths: int, prefix: tuple[str, int]
) -> None:
    text = f"{whole}.{thousandths:03} {prefix[0]}Hz"
    exact = (whole * 1000 + thousandths) * 10 ** prefix[1]
    assert quantity(text, "Hz") == (exact / 1000, "Hz")


@given(st.text(max_size=30))
def test_any_text_at_all_is_read_or_refused(text: str) -> None:
    read = quantity(text, "Hz", "dB")
    assert isinstance(read, Misread) or read[1] in ("Hz", "dB")
