"""The log tells which readings no longer hold, because their circuit was moved after them."""

import msgspec

from aligner.engine.answers import Answer, Leaving, Reading, SwitchWay, Undo
from aligner.engine.asks import Ask, Point
from aligner.engine.history import Entry, History
from aligner.engine.survey import StepReport, StepState, Survey
from aligner.screens.stale import moved_since
from aligner.screens.view import view
from tests.screens.scripted import CORE, READ, TOUCH, procedure

HIGH = msgspec.structs.replace(READ, point=Point(volts=8.0))
OTHER = msgspec.structs.replace(READ, circuit="interstage", quantity="resonance")

Said = tuple[Ask | None, Answer]

LOW_READ: Said = (READ, Reading(383_600.0))
HIGH_READ: Said = (HIGH, Reading(450_000.0))
TOUCHED: Said = (TOUCH, Reading(385_620.0))


def history_of(*said: Said) -> History:
    history = History()
    for at, (ask, answer) in enumerate(said, 1):
        history = history.with_entry(Entry(at, float(at), "0", ask, answer))
    return history


def stale(*said: Said, state: StepState = "to-do") -> set[int]:
    steps = tuple(StepReport(step, "coverage", "", state) for step in ("coverage", "antenna"))
    return set(moved_since(procedure(), history_of(*said), Survey(None, steps)))


def test_a_reading_elsewhere_no_longer_holds_once_its_circuit_was_touched() -> None:
    assert stale(LOW_READ, HIGH_READ) == set()
    assert stale(LOW_READ, HIGH_READ, TOUCHED) == {2}
    assert stale(LOW_READ, HIGH_READ, TOUCHED, HIGH_READ) == set()


def test_a_touch_taken_back_has_moved_what_was_read_before_it_unless_nothing_was_turned() -> None:
    assert stale(LOW_READ, HIGH_READ, TOUCHED, (TOUCH, Undo())) == {1, 2}
    assert stale(LOW_READ, HIGH_READ, TOUCHED, (TOUCH, Undo(moved=False))) == set()


def test_a_touch_that_was_left_half_turned_has_moved_what_was_read_before_it() -> None:
    left: Leaving = SwitchWay("level", "antenna", turned=True)
    assert stale(LOW_READ, (TOUCH, left)) == {1}
    assert stale(LOW_READ, (TOUCH, msgspec.structs.replace(left, turned=False))) == set()


def test_what_was_not_turned_or_belongs_to_another_circuit_holds() -> None:
    assert stale((OTHER, Reading(98e6)), TOUCHED) == set()
    assert stale(LOW_READ, (CORE, Reading(-6.0, 0.25))) == set()
    assert stale((HIGH, Reading(450_000.0)), (TOUCH, Reading(385_620.0, 0.0))) == set()


def test_of_a_step_that_is_done_nothing_is_read_anew() -> None:
    assert stale(LOW_READ, HIGH_READ, TOUCHED, state="held") == set()
    assert stale(LOW_READ, HIGH_READ, TOUCHED, state="disturbed") == {2}


def test_the_log_marks_it() -> None:
    steps = (StepReport("coverage", "coverage", "", "to-do"),)
    shown = view(procedure(), history_of(LOW_READ, HIGH_READ, TOUCHED), Survey(None, steps), None)
    assert [line.mark for line in shown.log] == ["", "moved since", ""]
    assert str(shown.log[1]).endswith("450 kHz  (moved since)")
