"""From numbers to text with as many digits as the reading deserves, and back."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.quantity import UnitName, parse, show
from aligner.quantity.units import UNITS

_UNITS = st.sampled_from(list(UNITS))


@pytest.mark.parametrize(
    ("value", "unit", "resolution", "text"),
    [
        (98.412e6, "Hz", None, "98.412 MHz"),
        (98.412e6, "Hz", 1000, "98.412 MHz"),
        (98.4e6, "Hz", 1000, "98.400 MHz"),
        (98.412345e6, "Hz", 640, "98.4123 MHz"),
        (383593.75, "Hz", 10, "383.59 kHz"),
        (1_999_999, "Hz", 100, "2.0000 MHz"),
        (1_620_000, "Hz", None, "1620 kHz"),
        (455e3, "Hz", 10e3, "460 kHz"),
        (0.0, "Hz", None, "0 Hz"),
        (-20e3, "Hz", None, "-20 kHz"),
        (-0.04, "dB", 0.1, "0.0 dB"),
        (-3.04, "dB", 0.1, "-3.0 dB"),
        (-3, "dB", None, "-3 dB"),
        (2.35, "V", 0.01, "2.35 V"),
        (0.05, "V", None, "50 mV"),
        (20.1e-12, "F", 0.1e-12, "20.1 pF"),
        (1e-7, "F", None, "100 nF"),
        (82e-9, "H", None, "82 nH"),
        (4700, "ohm", None, "4.7 kΩ"),
        (1.25, "turn", None, "1 1/4 turns"),
        (-0.25, "turn", None, "-1/4 turn"),
        (0.3, "turn", 0.125, "1/4 turn"),
        (0.31, "turn", 0.1, "0.3 turn"),
        (90, "s", None, "90 s"),
        (150, "s", None, "2 min 30 s"),
        (179.6, "s", 1, "3 min"),
        (0.1, "s", None, "100 ms"),
    ],
)
def test_a_value_is_shown_as_the_trade_writes_it(value: float, unit: UnitName, resolution: float, text: str) -> None:
    assert show(value, unit, resolution) == text


def _possible(unit: UnitName) -> st.SearchStrategy[float]:
    kind = UNITS[unit]
    sizes = st.floats(math.log10(kind.least) + 0.01, math.log10(kind.most) - 0.01).map(lambda power: 10**power)
    return st.one_of(sizes, sizes.map(lambda size: -size), st.just(0.0))


@given(st.data(), _UNITS)
def test_what_is_shown_is_understood_again(data: st.DataObject, unit: UnitName) -> None:
    value = data.draw(_possible(unit))
    # Twelve digits are shown; times of minutes to the microsecond.
    assert parse(show(value, unit), unit).value == pytest.approx(value, rel=1e-11, abs=1e-6 if unit == "s" else 0)


@given(st.data(), _UNITS, st.floats(-9, -1))
def test_what_is_shown_is_off_by_no_more_than_half_the_resolution(
    data: st.DataObject, unit: UnitName, power: float
) -> None:
    value = data.draw(_possible(unit))
    resolution = max(abs(value), UNITS[unit].least) * 10**power
    # What the machine's own rounding adds is some parts in 1e16.
    assert abs(parse(show(value, unit, resolution), unit).value - value) <= resolution / 2 + 1e-15 * abs(value)


@given(st.floats(1e3, 1e9), st.integers(0, 4))
def test_the_last_digit_is_worth_at_most_one_resolution_and_more_than_a_tenth(hz: float, power: int) -> None:
    resolution = 3.0 * 10**power
    number, name = show(hz, "Hz", resolution).split(" ")
    factor = {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6}[name]
    decimals = len(number.partition(".")[2])
    if decimals:
        assert resolution / 10 < factor * 10**-decimals <= resolution


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_what_is_no_number_is_never_shown_as_one(value: float) -> None:
    with pytest.raises(ValueError, match="is no value to show"):
        show(value, "Hz")


@pytest.mark.parametrize("resolution", [0.0, -1.0, math.nan, math.inf])
def test_a_resolution_must_be_one(resolution: float) -> None:
    with pytest.raises(ValueError, match="is no resolution"):
        show(1.0, "Hz", resolution)


def test_a_value_beside_a_greater_one_takes_its_unit() -> None:
    assert show(530e3, "Hz", 10e3, beside=3.88e6) == "0.53 MHz"
    assert show(3.88e6, "Hz", 10e3, beside=-530e3) == "3.88 MHz"
    assert show(1910e3, "Hz", 10e3) == "1910 kHz"
    assert show(0.0, "Hz", 100.0, beside=2.5e3) == "0.0 kHz"
