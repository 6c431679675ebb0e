"""While an adjuster is turned: the way behind and the way to go, what a break leaves, and keys that came late."""

import itertools
from pathlib import Path

import msgspec
import pytest

from aligner.engine.answers import Reading, Sitting
from aligner.engine.asks import Amount
from aligner.engine.capture import Sample
from aligner.engine.history import History
from aligner.screens.desk import Desk, Turn
from aligner.screens.feel import Felt
from aligner.screens.fingers import FINEST, PLAIN_FINEST, Fingers, step_words
from aligner.screens.glance import Paper, glance
from aligner.screens.keys import press
from aligner.screens.paint import entry_row, past, reasons
from aligner.screens.seat import Seat
from aligner.screens.sources import EVERYTHING, Choice, Plugged, VirtualSource, felt_before
from aligner.screens.virtual import placed
from aligner.screens.words import turned_words
from tests.screens.scripted import COUNTER, READ, TOUCH, ScriptedEngine, desk_with, procedure, told

STANDS = "It stands about 5.155 MHz too high here; the trimmer will take it the rest of the way."
STOOD = "It stood about 5.155 MHz too high here before this touch; the trimmer will take it the rest of the way."
WHY = msgspec.structs.replace(TOUCH, why=STANDS)


def at(desk: Desk, *values: float) -> None:
    for number, value in enumerate(values):
        desk.sample((Sample(10.0 + number / 8, value),))


@pytest.mark.parametrize(
    ("turns", "words"),
    [
        (1 / 16, "turned 1/16 turn clockwise"),
        (-3 / 16, "turned 3/16 turn anticlockwise"),
        (1 / 8, "turned 1/8 turn clockwise"),
        (1 / 16 + 1 / 128, "turned about 1/16 turn clockwise"),
        (1 / 64, "turned less than 1/16 turn clockwise"),
        (0.9, "turned 7/8 turn clockwise"),
    ],
)
def test_less_than_a_quarter_turn_is_told_to_a_sixteenth(turns: float, words: str) -> None:
    assert turned_words(turns) == words


def test_why_says_what_was_so_before_the_touch_once_the_reading_has_moved() -> None:
    desk = desk_with(WHY, serves=COUNTER)
    at(desk, 390_000.0, 390_010.0)
    assert reasons(desk) == f"Why: {STANDS}"
    at(desk, 390_000.0, 389_000.0, 388_000.0)
    desk.sample((Sample(20.0, 388_000.0),))
    assert reasons(desk) == f"Why: {STOOD}"


def test_why_says_what_was_so_before_the_touch_after_a_break_for_nobody_knows_what_was_turned() -> None:
    desk = desk_with(WHY, serves=EVERYTHING, turnable=True)
    history = History()
    engine = ScriptedEngine((READ, WHY))
    for answer in (Reading(383_600.0), Sitting()):
        history = history.with_entry(engine.entry_for(desk.procedure, history, answer, 1.0, "0"))
    desk = Desk(desk.procedure, EVERYTHING, turnable=True)
    desk.tell(history, engine.survey(desk.procedure, history))
    at(desk, 390_000.0)
    assert reasons(desk) == f"Why: {STOOD}"
    assert glance(desk, Paper(80)).amount == "Turn on from here: what was turned before the break is not counted"


def test_other_reasons_stay_as_they_are() -> None:
    why = "A stage that peaks above the common voltage stands too low, one that peaks below it too high."
    assert past(why) == why


def test_no_press_without_shift_is_finer_than_a_thousandth_of_a_turn_and_with_shift_it_is() -> None:
    far_finer = 1 / 20_000
    assert Fingers().press(1.0, to_go=far_finer) == PLAIN_FINEST
    assert FINEST <= Fingers().press(1.0, 1 / 8, to_go=far_finer) <= far_finer
    assert step_words(Fingers().step(far_finer)) == "a press: 1/1024 turn"


def test_where_a_press_would_jump_over_the_aim_the_prompt_says_shift() -> None:
    desk = desk_with(TOUCH, serves=EVERYTHING, turnable=True)
    assert desk.stream is not None
    desk.stream.feel.recall(Felt("oscillator-coil", "frequency", 1.0, 1.0))  # 386 kHz a turn, 377 Hz a finest press
    at(desk, 390_000.0)
    assert "press: a tiny part; Shift finer" in entry_row(desk, 80)
    at(desk, 385_900.0)
    desk.sample((Sample(20.0, 385_700.0),))
    assert "Right raises, Left lowers; now with Shift, a hair at a time   Enter: take it" in entry_row(desk, 80)


def test_of_a_bare_coil_no_part_of_a_turn_is_told() -> None:
    desk = desk_with(TOUCH, serves=EVERYTHING, turnable=True)
    assert "press: a small part" in entry_row(desk, 80)
    trimmer = desk_with(msgspec.structs.replace(TOUCH, adjuster="oscillator-trimmer"), serves=EVERYTHING, turnable=True)
    assert "a press: 1/16 turn" in entry_row(trimmer, 80)
    assert [step_words(size, rotates=False) for size in (1.0, 1 / 16, 1 / 64)] == [
        "press: a large part", "press: a small part", "press: a tiny part",
    ]  # fmt: skip


def test_an_arrow_that_came_too_late_hears_what_was_taken() -> None:
    desk = desk_with(TOUCH, serves=EVERYTHING, turnable=True)
    told(desk, Reading(385_620.0), asks=(TOUCH, READ))
    assert press(desk, "left", None) == []
    assert desk.message == ("Taken: oscillator-coil at 2 V: 385.62 kHz. Nothing is to be turned for what is asked now.")
    nothing = desk_with(READ, serves=EVERYTHING, turnable=True)
    press(nothing, "left", None)
    assert nothing.message.startswith("The arrow keys turn an adjuster of the virtual set")


def seat_of(job: Path) -> tuple[Seat, VirtualSource]:
    clock = itertools.count()
    source = VirtualSource(placed(procedure(), job), lambda: next(clock) / 8)
    return Seat(Plugged(Choice("virtual"), source), job), source


def at_the_coil(seat: Seat, source: VirtualSource) -> Desk:
    """A new sitting in front of the coil, some kilohertz from its aim."""
    source.show(TOUCH)
    now = source.on_bench.display(msgspec.to_builtins(TOUCH))[1]
    ask = msgspec.structs.replace(TOUCH, aim=msgspec.structs.replace(TOUCH.aim, value=now - 500.0))
    desk = Desk(procedure(), EVERYTHING, turnable=True)
    desk.recall(seat.felt)
    desk.tell(History(), ScriptedEngine((ask,)).survey(desk.procedure, History()))
    source.show(ask)
    look(desk, source, 9)
    return desk


def look(desk: Desk, source: VirtualSource, times: int) -> None:
    for _ in range(times):
        source.latest()
        desk.sample(source.window())


def pressed(desk: Desk, source: VirtualSource, key: str) -> float:
    [turn] = press(desk, key, None)
    assert isinstance(turn, Turn)
    assert desk.stream is not None
    desk.stream.stands(source.turn(turn.adjuster, turn.turns), turn.turns)
    look(desk, source, 4)
    return turn.turns


def test_what_keys_do_is_known_again_after_a_restart_and_the_first_press_is_no_greater_than_a_small_way(
    tmp_path: Path,
) -> None:
    seat, source = seat_of(tmp_path / "a.job")
    desk = at_the_coil(seat, source)
    assert "try one" in entry_row(desk, 80)
    pressed(desk, source, "right")
    assert desk.stream is not None
    raising, per_turn = desk.stream.feel.raising, desk.stream.feel.per_turn
    assert raising
    seat.felt = desk.felt
    seat.stop()
    again, source = seat_of(tmp_path / "a.job")
    desk = at_the_coil(again, source)
    assert "raises" in entry_row(desk, 80)
    assert desk.stream is not None
    assert (desk.stream.raising, desk.stream.feel.per_turn) == (raising, per_turn)
    before = desk.stream.gauge()
    pressed(desk, source, "left" if raising > 0 else "right")
    after = desk.stream.gauge()
    assert before is not None
    assert after is not None
    assert 0.0 < after.off < before.off  # nearer, and not past it


@pytest.mark.parametrize("kept", ['{"felt": [["a"]]}', '{"felt": 3}', "{}", "no json"])
def test_what_is_kept_and_is_not_sound_is_as_if_nothing_were_kept(tmp_path: Path, kept: str) -> None:
    (tmp_path / "a.source.json").write_text(kept, encoding="utf-8")
    assert felt_before(tmp_path / "a.job") == ()


def test_a_sense_or_an_effect_that_is_no_number_teaches_nothing() -> None:
    desk = desk_with(READ, serves=EVERYTHING, turnable=True)
    desk.recall((Felt("oscillator-coil", "frequency", 1.0, float("inf")), Felt("antenna-coil", "resonance", 0.5, 1.0)))
    assert desk.felt == ()


def test_turns_still_to_go_are_told_by_what_a_hand_can_turn() -> None:
    counted = msgspec.structs.replace(TOUCH, adjuster="antenna-coil", amount=Amount(0.75, "turn", 0.125))
    desk = desk_with(counted, serves=EVERYTHING, turnable=True)
    at(desk, 390_000.0)
    assert desk.stream is not None
    desk.stream.stands(1 / 16, 1 / 16)
    desk.stream.handled = True
    assert glance(desk, Paper(80)).amount.startswith("turned 1/16 turn clockwise; still ")
