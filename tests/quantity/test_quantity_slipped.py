"""What a reading that cannot be right may have been meant to be."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.quantity import slips


@pytest.mark.parametrize(
    ("value", "near", "meant", "text"),
    [
        (9.8412e6, 98.4e6, 98.412e6, "98.412 MHz: the point slipped by one place"),
        (984.12e6, 98.4e6, 98.412e6, "98.412 MHz: the point slipped by one place"),
        (98.412e3, 98.4e6, 98.412e6, "98.412 MHz: the unit a thousand times larger"),
        (98.412e9, 98.4e6, 98.412e6, "98.412 MHz: the unit a thousand times smaller"),
        (98.412, 98.4e6, 98.412e6, "98.412 MHz: the unit a million times larger"),
        (196.824e6, 98.4e6, 98.412e6, "98.412 MHz: the second harmonic was read"),
        (295.236e6, 98.4e6, 98.412e6, "98.412 MHz: the third harmonic was read"),
        (89.412e6, 98.4e6, 98.412e6, "98.412 MHz: 89 typed for 98"),
    ],
)
def test_the_likely_meaning_of_a_slip_is_offered(value: float, near: float, meant: float, text: str) -> None:
    first, *_ = slips(value, near)
    assert first.value == pytest.approx(meant, rel=1e-12)
    assert first.text == text


def test_a_sign_left_out_is_seen() -> None:
    assert [slip.text for slip in slips(6.0, -6.2, "dB")] == ["-6 dB: the sign was left out or added"]


def test_harmonics_belong_to_frequencies_alone() -> None:
    assert slips(8.0, 4.1, "V") == ()
    assert slips(8.0, 4.1, "Hz")


@pytest.mark.parametrize("value", [98.4e6, 98.0e6, 99.9e6, float("nan"), float("inf")])
def test_nothing_is_offered_where_nothing_slipped(value: float) -> None:
    assert slips(value, 98.4e6) == ()


def test_nothing_is_offered_where_no_slip_explains_it() -> None:
    assert slips(55e6, 98.4e6) == ()


@given(st.floats(1, 1e9), st.sampled_from([10.0, 0.1, 1000.0, 0.001]), st.floats(0.97, 1.03))
def test_a_slipped_value_is_always_among_the_offers_and_the_nearest_comes_first(
    right: float, factor: float, off: float
) -> None:
    near = right * off
    found = [slip.value for slip in slips(right * factor, near)]
    assert any(value == pytest.approx(right, rel=1e-9) for value in found)
    assert found == sorted(found, key=lambda value: abs(value - near))
