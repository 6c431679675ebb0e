"""What people type at a bench, and what must be understood by it."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from aligner.errors import QuantityError
from aligner.quantity import Understood, UnitName, parse
from aligner.quantity.units import UNITS

FREQUENCIES = [
    ("98.412 MHz", 98.412e6),
    ("98,412M", 98.412e6),
    ("98,2 MHz", 98.2e6),
    ("98.2M", 98.2e6),
    ("455k", 455e3),
    ("455 kHz", 455e3),
    ("455KHZ", 455e3),
    ("10.7 mhz", 10.7e6),
    ("10.7m", 10.7e6),
    ("10M7", 10.7e6),
    ("455 kc/s", 455e3),
    ("1.4 Mc", 1.4e6),
    ("1 234.5 kHz", 1234.5e3),
    ("1.234,5 kHz", 1234.5e3),
    ("1,234.5 kHz", 1234.5e3),
    ("1'234.5 kHz", 1234.5e3),
    ("1\u2019234.5 kHz", 1234.5e3),
    ("1\u00a0234.5\u202fkHz", 1234.5e3),
    ("1_234.5 kHz", 1234.5e3),
    ("98.412 345 MHz", 98.412345e6),
    ("98.412.345 MHz", 98.412345e6),
    ("98.412.345", 98412345),
    ("98 412 345 Hz", 98412345),
    ("383594", 383594),
    ("+3.83594E+05", 383594),
    ("9.84e7 Hz", 98.4e6),
    ("9,84e7", 98.4e6),
    ("98.4e3 kHz", 98.4e6),
    ("9.84×10^7 Hz", 98.4e6),
    ("9.84·10⁷ Hz", 98.4e6),
    ("98.4 M Hz", 98.4e6),
    (".5 MHz", 5e5),
    (",5 MHz", 5e5),
    ("98. MHz", 98e6),
    ("~98.4 MHz", 98.4e6),
    ("  98.4   MHz  ", 98.4e6),
    ("\uff19\uff18.4 MHz", 98.4e6),
    ("-20 kHz", -20e3),
    ("0", 0),
]
OTHERS: list[tuple[str, UnitName, float]] = [
    ("0.4V", "V", 0.4),
    ("0,4 v", "V", 0.4),
    ("400 mV", "V", 0.4),
    ("400m", "V", 0.4),
    ("3V3", "V", 3.3),
    ("-3 dB", "dB", -3),
    ("\u22123 dB", "dB", -3),
    ("\u20133 db", "dB", -3),
    ("-63 dBm", "dB", -63),
    ("12,5", "dB", 12.5),
    ("-½ dB", "dB", -0.5),
    ("1 1/4 turn", "turn", 1.25),
    ("1-1/4 turns", "turn", 1.25),
    ("1½ turn", "turn", 1.5),
    ("1 ½ turn", "turn", 1.5),
    ("¾", "turn", 0.75),
    ("1/4", "turn", 0.25),
    ("-1/4", "turn", -0.25),
    ("1/4 turn clockwise", "turn", 0.25),
    ("1/4 turn anticlockwise", "turn", -0.25),
    ("1/4 turn anti-clockwise", "turn", -0.25),
    ("1/4 turn counterclockwise", "turn", -0.25),
    ("1/4 cw", "turn", 0.25),
    ("1/4cw", "turn", 0.25),
    ("1/4 CCW", "turn", -0.25),
    ("0.3 left", "turn", -0.3),
    ("left 1/8", "turn", -0.125),
    ("3/8 to the right", "turn", 0.375),
    ("half a turn", "turn", 0.5),
    ("quarter turn left", "turn", -0.25),
    ("a quarter", "turn", 0.25),
    ("three quarters of a turn", "turn", 0.75),
    ("90 deg", "turn", 0.25),
    ("45°", "turn", 0.125),
    ("4k7", "ohm", 4700),
    ("4R7", "ohm", 4.7),
    ("4k7 ohm", "ohm", 4700),
    ("470 Ω", "ohm", 470),
    ("470 \u2126", "ohm", 470),
    ("1M", "ohm", 1e6),
    ("4p7", "F", 4.7e-12),
    ("4n7F", "F", 4.7e-9),
    ("20.1 pF", "F", 20.1e-12),
    ("20 PF", "F", 20e-12),
    ("0,1 uF", "F", 1e-7),
    ("0.1 µF", "F", 1e-7),
    ("0.1 \u03bcF", "F", 1e-7),
    ("100 mmfd", "F", 100e-12),
    ("0.05 mfd", "F", 0.05e-6),
    ("82 nH", "H", 82e-9),
    ("4u7", "H", 4.7e-6),
    ("0.33 mH", "H", 0.33e-3),
    ("90 s", "s", 90),
    ("2 min", "s", 120),
    ("2,5 min", "s", 150),
    ("1:30", "s", 90),
    ("1:02:30", "s", 3750),
    ("2 min 30 s", "s", 150),
    ("2m30s", "s", 150),
    ("1 h 5 min", "s", 3900),
    ("100 ms", "s", 0.1),
]
NONSENSE: list[tuple[str, UnitName]] = [
    ("", "Hz"),
    ("   ", "Hz"),
    ("98..2", "Hz"),
    ("98.2 Mz", "Hz"),
    ("nan", "Hz"),
    ("inf", "Hz"),
    ("1e999", "Hz"),
    ("1e9999999999", "Hz"),
    ("MHz", "Hz"),
    ("-", "Hz"),
    ("--3", "dB"),
    ("1,23,4 kHz", "Hz"),
    ("1.234.5 kHz", "Hz"),
    ("1 23 kHz", "Hz"),
    ("98.4 V", "Hz"),
    ("98.4 MHz 3", "Hz"),
    ("98.4²", "Hz"),
    ("1/4 MHz", "Hz"),
    ("1/0", "turn"),
    ("1/4 in the wrong direction", "turn"),
    ("-1/4 ccw", "turn"),
    ("4k7", "dB"),
    ("4k7 kohm", "ohm"),
    ("1:75", "s"),
    ("30 s 2 min", "s"),
    ("9" * 100, "Hz"),
    ("400000000000 MHz", "Hz"),
    ("__import__('os')", "Hz"),
    ("\x1b]0;x\x07", "Hz"),
]


@pytest.mark.parametrize(("typed", "hz"), FREQUENCIES)
def test_a_frequency_is_understood_as_people_type_it(typed: str, hz: float) -> None:
    assert parse(typed, "Hz").value == hz


@pytest.mark.parametrize(("typed", "unit", "value"), OTHERS)
def test_other_quantities_are_understood_as_people_type_them(typed: str, unit: UnitName, value: float) -> None:
    assert parse(typed, unit).value == value


@pytest.mark.parametrize(("typed", "unit"), NONSENSE)
def test_nonsense_is_refused_with_what_would_be_understood(typed: str, unit: UnitName) -> None:
    with pytest.raises(QuantityError, match=r"Understood would be, for example") as refusal:
        parse(typed, unit)
    assert UNITS[unit].examples[0] in str(refusal.value)
    assert "\x1b" not in str(refusal.value)


@pytest.mark.parametrize("unit", list(UNITS))
def test_every_example_of_a_message_is_itself_understood(unit: UnitName) -> None:
    assert all(parse(text, unit).value for text in UNITS[unit].examples)


def test_the_message_names_what_was_typed_and_what_is_wrong_with_it() -> None:
    with pytest.raises(QuantityError) as refusal:
        parse("98.2 Mz", "Hz", bare="MHz")
    assert str(refusal.value) == (
        '"98.2 Mz" is not understood as a frequency: "Mz" is no unit of a frequency. '
        "Understood would be, for example: 98.412 MHz, 98,2M, 455k, 1 234.5 kHz, or a bare number in MHz."
    )


@pytest.mark.parametrize(("typed", "near", "hz"), [("1,234 kHz", 1.2e6, 1.234e6), ("1,234 kHz", 1.3e3, 1234)])
def test_the_expected_value_settles_what_a_single_comma_means(typed: str, near: float, hz: float) -> None:
    assert parse(typed, "Hz", near).value == hz


@pytest.mark.parametrize("near", [None, 40e3])
def test_a_single_comma_is_asked_about_where_nothing_settles_it(near: float | None) -> None:
    with pytest.raises(QuantityError, match=r"it may be 1\.234 kHz or 1234 kHz; type the one that is meant"):
        parse("1,234 kHz", "Hz", near)
    assert parse("1.234 kHz", "Hz").value == 1234
    assert parse("1234 kHz", "Hz").value == 1.234e6


def test_a_point_is_a_decimal_point_unless_only_the_grouped_number_is_what_is_expected() -> None:
    assert parse("98.412", "Hz", bare="MHz").value == 98.412e6
    assert parse("383.594", "Hz", near=383.6e3).value == 383594
    assert parse("1.234 kHz", "Hz", near=50e3).value == 1234


def test_a_display_with_grouped_digits_is_read_as_megahertz_where_that_is_expected() -> None:
    assert parse("98 412 345", "Hz", near=98.4e6, bare="MHz").value == 98.412345e6
    assert parse("98.412.345", "Hz", near=98.4e6, bare="Hz").value == 98412345


@pytest.mark.parametrize(
    ("typed", "bare", "near", "hz"),
    [
        ("98.412", "MHz", 98.4e6, 98.412e6),
        ("98,412", "MHz", 98.4e6, 98.412e6),
        ("98.412", "", 98.4e6, 98.412e6),
        ("383594", "kHz", 383.6e3, 383594),
        ("383.594", "kHz", 383.6e3, 383594),
        ("98412", "MHz", 98.4e6, 98.412e6),
        ("98.412", "MHz", None, 98.412e6),
        ("98.412 Hz", "MHz", 98.4e6, 98.412),
        ("9.8412", "MHz", 98.4e6, 9.8412e6),
    ],
)
def test_a_bare_number_has_the_unit_of_the_ask_or_the_one_that_makes_it_what_is_expected(
    typed: str, bare: str, near: float | None, hz: float
) -> None:
    assert parse(typed, "Hz", near, bare=bare).value == hz


@pytest.mark.parametrize(
    ("typed", "unit", "what"), [("0.05 mF", "F", "microfarad"), ("10m", "F", "microfarad"), ("2m", "s", "minutes")]
)
def test_a_letter_that_means_two_things_is_asked_about(typed: str, unit: UnitName, what: str) -> None:
    with pytest.raises(QuantityError, match=what):
        parse(typed, unit)


@pytest.mark.parametrize(
    ("typed", "unit", "echo"),
    [
        ("98,412M", "Hz", "98.412 MHz"),
        ("1620000", "Hz", "1620 kHz"),
        ("-.5", "turn", "1/2 turn anticlockwise"),
        ("1 1/4", "turn", "1 1/4 turns clockwise"),
        ("0.3", "turn", "0.3 turn clockwise"),
        ("0", "turn", "0 turns"),
        ("-63 dBm", "dB", "-63 dB"),
        ("4k7", "ohm", "4.7 kΩ"),
        ("1:30", "s", "90 s"),
    ],
)
def test_what_was_understood_is_echoed(typed: str, unit: UnitName, echo: str) -> None:
    assert parse(typed, unit).echo == echo


def test_a_caller_that_names_an_unknown_unit_for_bare_numbers_is_told_so() -> None:
    with pytest.raises(ValueError, match="'Mz' is no unit of a frequency"):
        parse("98.4", "Hz", bare="Mz")


def _tried(text: str, unit: UnitName, near: float | None) -> Understood | str:
    try:
        return parse(text, unit, near)
    except QuantityError as refusal:
        return str(refusal)


@given(st.text(max_size=80), st.sampled_from(list(UNITS)), st.sampled_from([None, 1.0, 98.4e6, -3.0]))
@example("1/", "turn", None)
@example("½½", "turn", None)
@example("10⁻", "Hz", None)
@example("1e-", "Hz", None)
@example("0:00", "s", 1.0)
@example("٣", "dB", None)
def test_whatever_is_typed_gives_a_finite_value_or_a_message(text: str, unit: UnitName, near: float | None) -> None:
    understood = _tried(text, unit, near)
    if isinstance(understood, str):
        assert "Understood would be" in understood
    else:
        assert UNITS[unit].possible(understood.value)
        assert understood.echo


_TYPED = st.text("0123456789.,' +-/eEkKMmµunpHzVdBFRΩ½:turncws", max_size=20)


@given(_TYPED, st.sampled_from(list(UNITS)), st.floats(1e-12, 1e9))
def test_text_of_the_right_letters_gives_a_finite_value_or_a_message(text: str, unit: UnitName, near: float) -> None:
    understood = _tried(text, unit, near)
    if isinstance(understood, str):
        assert "Understood would be" in understood
    else:
        assert parse(understood.echo, unit).value == pytest.approx(understood.value, rel=1e-10, abs=1e-15)


@given(st.integers(1, 999_999_999), st.sampled_from([" ", "'", "_", "\u202f"]))
def test_grouping_never_changes_a_whole_number_of_hertz(hz: int, mark: str) -> None:
    assert parse(f"{hz:,} Hz".replace(",", mark), "Hz", near=float(hz)).value == hz


@given(st.integers(10, 2_999_999), st.sampled_from(["MHz", "M", " mhz", "m"]))
def test_a_decimal_comma_is_a_decimal_point_where_the_value_is_expected(khz: int, unit: str) -> None:
    assert parse(f"{khz // 1000},{khz % 1000:03}{unit}", "Hz", near=khz * 1e3).value == khz * 1e3
