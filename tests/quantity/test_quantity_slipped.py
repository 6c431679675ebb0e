"""What a reading that cannot be right may have been meant to be."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.quantity import slip_named, slips


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


@pytest.mark.parametrize(
    ("value", "near", "meant"),
    [(101e3, 90e6, 101e6), (430e6, 383.6e3, 430e3), (128.0, 98e3, 128e3), (62e9, 98e6, 62e6)],
)
def test_a_unit_a_thousand_times_off_is_named_also_where_the_set_is_far_from_its_place(
    value: float, near: float, meant: float
) -> None:
    (slip,) = slips(value, near)
    assert slip.value == pytest.approx(meant)
    assert "the unit a thousand times" in slip.text


def test_a_point_that_slipped_is_not_seen_where_the_meaning_would_lie_far_off() -> None:
    assert slips(10.1e6, 80e6) == ()


def test_the_oscillator_typed_as_a_bare_number_of_the_larger_unit_is_named_for_a_divided_counter() -> None:
    (slip,) = slips(98.2e3, 383.6e3, prescaler=256)
    assert slip.value == pytest.approx(98.2e6 / 256)
    assert "the oscillator itself, in a unit a thousand times larger" in slip.text


@pytest.mark.parametrize(
    ("value", "near"), [(38.36e3, 383.6e3), (383.6e6, 383.6e3), (-6.0, 6.2), (389.6e3, 398.6e3), (98.2e6, 383.6e3)]
)
def test_a_meaning_that_was_named_in_words_is_found_again_by_them(value: float, near: float) -> None:
    slip, *_ = slips(value, near, prescaler=256)
    assert slip_named(value, f"that is far off; perhaps {slip.text}", prescaler=256) == slip


def test_words_that_name_no_meaning_give_none() -> None:
    assert slip_named(38.36e3, "that is far from 383.6 kHz") is None
    assert slip_named(float("inf"), "perhaps inf Hz: the point slipped by one place") is None
