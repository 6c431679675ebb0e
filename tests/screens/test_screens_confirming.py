"""What keys do where something is only to be confirmed."""

from aligner.engine.answers import Done
from aligner.screens.desk import Do, Send
from aligner.screens.keys import press
from aligner.screens.paint import entry_row, foot_row, reasons
from tests.screens.scripted import CAUTION, CONFIRM, READ, desk_with


def test_y_confirms_a_preparation_and_never_a_caution() -> None:
    assert press(desk_with(CONFIRM), "y", "y") == [Send(Done())]
    cautioned = desk_with(CAUTION)
    assert press(cautioned, "y", "y") == []
    assert cautioned.message == "Enter confirms the caution, once it was read."
    assert press(cautioned, "enter", None) == [Send(Done())]
    reading = desk_with(READ)
    assert press(reading, "y", "y") == []
    assert reading.message == "y says yes where something stands questioned; nothing does now."


def test_a_word_typed_where_only_a_confirmation_is_asked_opens_no_page_and_says_that_letters_are_keys() -> None:
    desk = desk_with(CONFIRM)
    assert press(desk, "o", "o", 10.0) == []
    assert press(desk, "k", "k", 10.2) == []
    assert desk.message.startswith("Nothing is typed here: each letter is a key of its own. Enter confirms")
    assert press(desk, "k", "k", 12.0) == [Do("known")]
    assert press(desk, "enter", None, 12.1) == [Send(Done())]


def test_the_foot_and_the_line_above_it_call_a_confirmation_by_one_word() -> None:
    assert foot_row(desk_with(CONFIRM), 80).startswith("Enter done")
    assert "Enter: done" in entry_row(desk_with(CONFIRM), 80)
    assert reasons(desk_with(CONFIRM)) == CONFIRM.why
