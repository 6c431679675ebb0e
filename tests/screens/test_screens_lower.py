"""Steps and log in the rows there are: what is known of a step ends at a sense, and columns of figures are even."""

import pytest

from aligner.engine.answers import Done, Reading, Seen, Undo
from aligner.engine.asks import Point, Read
from aligner.screens.lower import lower_left, lower_right
from aligner.screens.pages import where_it_stands
from aligner.screens.paint import foot_row
from aligner.screens.view import StepLine
from tests.screens.scripted import CONFIRM, READ, TOUCH, desk_with, told

TITLE = "Oscillator over the band"


def left(detail: str, rows: int) -> str:
    """The running step's block in so many rows below the head, beside others that wait."""
    desk = desk_with(TOUCH)
    assert desk.seen is not None
    steps = (
        StepLine("a", "[ ]", "to do", TITLE, detail, running=True),
        StepLine("b", "[ ]", "to do", "Interstage circuit follows", "", running=False),
    )
    desk.seen = desk.seen.__class__(
        **{name: getattr(desk.seen, name) for name in desk.seen.__slots__} | {"steps": steps}
    )
    return " ".join(" ".join(row.split()) for row in str(lower_left(desk, rows + 1, 38)).split("\n")[1 : rows + 1])


@pytest.mark.parametrize("rows", [2, 3, 4, 8])
def test_of_what_is_known_of_a_step_no_half_is_left(rows: int) -> None:
    shown = left("at worst 9.76 MHz too low; 50 kHz allowed", rows)
    whole = f"{TITLE} (at worst 9.76 MHz too low; 50 kHz allowed)"
    assert any(text in shown for text in (whole, f"{TITLE} (at worst 9.76 MHz too low)", f"{TITLE}"))
    assert shown.count("(") == shown.count(")")
    assert ";)" not in shown
    assert not shown.endswith(";")


def test_a_step_that_must_be_read_anew_says_for_which_adjuster_where_there_are_rows() -> None:
    detail = "0 of 2 points read, for oscillator-trimmer was turned"
    assert f"{TITLE} ({detail})" in left(detail, 4)
    assert f"{TITLE} (0 of 2 points read)" in left(detail, 3)


def test_a_preparation_in_the_log_ends_after_a_whole_word() -> None:
    desk = desk_with(CONFIRM)
    told(desk, Done(), asks=(CONFIRM, READ))
    [line] = str(lower_right(desk, 8, 30)).split("\n")[1:]
    assert line == "  1 done: The counter is ..."


def test_what_was_only_confirmed_one_after_the_other_is_one_line_of_the_log_until_something_else_comes() -> None:
    desk = desk_with(CONFIRM)
    told(
        desk, Done(), Done(), Done(), Reading(383_600.0), Done(), asks=(CONFIRM, CONFIRM, CONFIRM, READ, CONFIRM, READ)
    )
    assert [row.strip() for row in str(lower_right(desk, 8, 40)).split("\n")[1:]] == [
        "1-3 3 confirmations", "4 oscillator at 2 V: 383.6 kHz", "5 done: The counter is coupled ...",
    ]  # fmt: skip


def resonance(mhz: float) -> Read:
    return Read(
        id=2, step="antenna", text="Read.", quantity="resonance", circuit="antenna", point=Point(received=mhz * 1e6)
    )


def test_what_one_instrument_showed_stands_in_the_log_with_as_many_places_everywhere() -> None:
    desk, values = desk_with(READ), (90e6, 97.89125e6, 106.0485e6)
    asks = tuple(resonance(round(value / 1e6)) for value in values)
    told(desk, *(Reading(value, seen=Seen(12)) for value in values), asks=(*asks, READ))
    assert desk.seen is not None
    assert [line.text.split(": ")[1] for line in desk.seen.log] == ["90.000 MHz", "97.891 MHz", "106.048 MHz"]
    told(desk, Reading(383_600.0, seen=Seen(12)), Reading(383_594.0, seen=Seen(12)), asks=(READ, READ, TOUCH))
    assert [line.text.split(": ")[1] for line in desk.seen.log] == ["383.60 kHz", "383.59 kHz"]


def test_what_was_typed_stands_in_the_log_as_it_was_typed() -> None:
    desk = desk_with(READ)
    told(desk, Reading(383_600.0), asks=(READ, TOUCH))
    assert desk.seen is not None
    assert desk.seen.log[-1].text == "oscillator at 2 V: 383.6 kHz"


def test_confirmations_are_told_from_the_other_answers() -> None:
    desk = desk_with(READ)
    told(desk, Done(), Reading(383_700.0), asks=(CONFIRM, READ, TOUCH))
    assert desk.survey is not None
    stands = where_it_stands(desk.history, desk.survey)
    assert stands.startswith("DONE     2 answers (1 of them confirmations) taken; the last: ")


def test_a_touch_left_half_turned_says_in_the_log_why_it_counts() -> None:
    desk = desk_with(READ)
    told(desk, Reading(383_600.0), Undo(turned=True), asks=(READ, TOUCH))
    assert desk.seen is not None
    assert desk.seen.log[-1].text == "undo; oscillator-coil half turned counts as a touch"


@pytest.mark.parametrize(
    ("writing", "words"), [("", "Enter: take it"), ("note", "Enter: keep it"), ("aside", "Enter: set aside")]
)
def test_while_something_is_typed_the_last_line_says_what_enter_does_with_it(writing: str, words: str) -> None:
    desk = desk_with(READ)
    desk.writing, desk.line = writing, desk.line.typed("383.6")
    assert foot_row(desk, 80).startswith(words)
