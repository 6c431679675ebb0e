"""The end of a job as a table, and lines that keep their numbers whatever the room."""

import msgspec
import pytest

from aligner.engine.answers import Answer, Done, GoTo, Reading, SetAside, Undo
from aligner.engine.asks import Ask
from aligner.engine.history import Entry, History
from aligner.engine.ledger import ledger_of
from aligner.engine.survey import StepReport, Survey
from aligner.screens.desk import Desk, Send
from aligner.screens.ended import end_table, narrowed, placed
from aligner.screens.keys import press
from aligner.screens.log import fitted
from aligner.screens.lower import lower_left, lower_right
from aligner.screens.paint import entry_row, foot_row, note_row, reasons
from tests.screens.scripted import CONFIRM, READ, TOUCH, desk_with, procedure, told

HELD = StepReport("coverage", "coverage", "Oscillator over the band", "held", "", 2_400.0, 50_000.0, 900.0, "Hz")


def test_the_table_at_the_end_says_what_is_left_of_what_is_allowed_and_what_each_step_has_cost() -> None:
    entries = (
        Entry(1, 0.0, "0", CONFIRM, Done()),
        Entry(2, 30.0, "0", READ, Reading(383_600.0)),
        Entry(3, 4_000.0, "0", READ, Reading(383_600.0)),
        Entry(4, 4_090.0, "0", TOUCH, Reading(385_620.0)),
    )
    connect = StepReport("connect", "prepare", "", "held")
    history = History()
    for entry in entries:
        history = history.with_entry(entry)
    shown = end_table(procedure(), history, Survey(None, (connect, HELD), touches=1, readings=2))
    head, first, second, more, whole = (line.split() for line in shown.splitlines())
    assert head == ["STEP", "LEFT", "ALLOWED", "TOUCH", "READ", "TIME"]
    assert first == ["connect", "held", "-", "-", "-", "-", "0", "s"]
    assert (" ".join(more), " ".join(second)) == ("band", "Oscillator over the held 2 kHz ± 1 kHz 50 kHz 1 2 2 min")
    assert whole == ["all", "1", "2", "2", "min"]
    assert all(len(line) <= 80 for line in shown.splitlines())
    assert "LEFT: the error at the worst point of the step" in placed(shown, 9, 80)
    assert placed(shown, 6, 80) == shown
    assert placed(shown, 6, 72).splitlines()[0].split() == head[:-1]
    wide = placed(shown, 4, 120).splitlines()
    assert wide[2].startswith("Oscillator over the band held  ")
    assert [line.find("50 kHz") for line in wide if "50 kHz" in line] == [wide[0].index("ALLOWED")]
    assert narrowed(shown, 5) == shown
    assert narrowed(shown, 4).splitlines()[2].startswith("Oscillator over...   held")
    assert len(narrowed(shown, 4).splitlines()) == 4


def test_the_rows_of_the_table_add_up_to_all_whatever_was_set_aside_or_taken_back() -> None:
    antenna = msgspec.structs.replace(READ, step="antenna")
    said: tuple[tuple[Ask, Answer], ...] = (
        (READ, Reading(383_600.0)),
        (READ, Undo()),
        (READ, Reading(383_610.0)),
        (antenna, SetAside("no dip meter")),
    )
    history = History()
    for seq, (ask, answer) in enumerate(said, start=1):
        history = history.with_entry(Entry(seq, float(seq), "0", ask, answer))
    readings = ledger_of(procedure(), history).readings
    survey = Survey(None, (HELD, StepReport("antenna", "tracking", "Antenna", "set-aside")), readings=readings)
    rows = [line.split() for line in end_table(procedure(), history, survey).splitlines()]
    counts = [row[-3] for row in rows if row[-1] in {"s", "min"}]
    assert counts == ["2", "-", "2"]
    assert "count what was taken back, too" in placed(end_table(procedure(), history, survey), 30, 200)
    desk = desk_with(READ)
    desk.tell(history, survey)
    assert str(lower_right(desk, 9, 58)).startswith("LOG  0 touches, 2 readings   u: undo   undone too")


def test_at_the_end_the_foot_offers_only_what_does_something() -> None:
    desk = desk_with(READ)
    assert not desk_with(READ).end
    told(desk, Reading(383_600.0), asks=(READ,))
    assert desk.end
    assert "set aside" not in foot_row(desk, 80)
    assert all(words in foot_row(desk, 80) for words in ("u undo", "? help", "q close", "c curves", "k known"))


ASIDE = StepReport("interstage", "tracking", "Interstage circuit follows", "set-aside", "no dip meter")


def left_out(*, now: Ask | None) -> Desk:
    """A desk of a job in which the interstage was set aside, with what is asked after that."""
    desk = desk_with(READ)
    history = History().with_entry(Entry(1, 0.0, "0", msgspec.structs.replace(READ, step="interstage"), SetAside("no")))
    steps = (HELD, ASIDE, StepReport("antenna", "tracking", "Antenna circuit follows", "to-do" if now else "held"))
    desk.tell(history, Survey(now, steps, running=now.step if now else ""))
    return desk


def test_at_the_end_a_step_that_was_set_aside_is_taken_up_again_by_one_key_and_a_yes() -> None:
    desk = left_out(now=None)
    assert reasons(desk).startswith("g: take up Interstage circuit follows. Enter closes the job.")
    assert entry_row(desk, 80).strip() == "> g: take up Interstage circuit follows   Enter: close the job"
    assert "g take up" in foot_row(desk, 80)
    assert press(desk, "g", "g") == []
    assert "Take up again: Interstage circuit follows?" in note_row(desk, "")
    assert press(desk, "y", "y") == [Send(GoTo("interstage"))]


def test_while_the_job_goes_on_the_steps_and_the_foot_say_that_one_was_set_aside_and_which_key_takes_it_up() -> None:
    desk = left_out(now=msgspec.structs.replace(READ, step="antenna"))
    assert str(lower_left(desk, 9, 58)).splitlines()[0] == "STEPS  1 of 3 done, 1 set aside   g: take up"
    assert foot_row(desk, 120).startswith("Enter take  g take up")
    press(desk, "g", "g")
    assert "1: Interstage circuit follows (set aside)" in note_row(desk, "")
    assert press(desk, "1", "1")[0] == Send(GoTo("interstage"))


def test_where_nothing_was_set_aside_the_end_offers_nothing_to_take_up_and_says_so() -> None:
    desk = desk_with(READ)
    told(desk, Reading(383_600.0), asks=(READ,))
    assert "g" not in reasons(desk).split()
    assert press(desk, "g", "g") == []
    assert desk.message == "No step was set aside."


@pytest.mark.parametrize("said", ["79.9406 MHz", "79.9406 MHz, 1/8 turn clockwise (insisted)  (taken back)"])
def test_a_log_line_is_shortened_in_its_name_and_never_in_its_number(said: str) -> None:
    line = fitted(f" 12 interstage-coil at 90 MHz: {said}", 38)
    assert len(line) <= 38
    assert line.startswith(" 12 inte")
    assert "...: 79.9406 MHz" in line


def test_in_plain_characters_the_table_at_the_end_keeps_its_columns() -> None:
    desk = desk_with(READ)
    told(desk, Reading(383_600.0), asks=(READ,))
    desk.end = f"a 2 kHz ± 1 kHz{' ' * 9}50 kHz"
    assert str(lower_left(desk, 9, 80)).splitlines()[0] == desk.end
    plain = str(lower_left(desk, 9, 80, ascii_only=True))
    assert plain.splitlines()[0] == f"a 2 kHz +-1 kHz{' ' * 9}50 kHz"
    assert "+- as sure as 95 %" in plain
    assert plain.isascii()
