"""Peaks where a hand strays: a second peak, a turn back too early, a long rest, a stop, Enter off the middle."""

import math
import re
from dataclasses import replace

import msgspec
import pytest

from aligner.engine.answers import Done
from aligner.engine.asks import Amount, Peak, Touch
from aligner.engine.capture import Sample
from aligner.engine.history import History
from aligner.engine.peak_phrases import COUNT_TURNS, EQUAL_FALL, PEAKED_CORE
from aligner.procedure.model import Kind
from aligner.screens.desk import Desk, Send
from aligner.screens.face import stop_words
from aligner.screens.fingers import Fingers
from aligner.screens.glance import Glance, Paper, glance
from aligner.screens.keys import press
from aligner.screens.paint import entry_row
from aligner.screens.peak_words import TAKEN_UP
from aligner.screens.peaks import FINEST_TURN
from aligner.screens.plainly import for_keys
from aligner.screens.sources import AT_STOP, EVERYTHING
from aligner.screens.stream import LONGEST_TRACE, Stream
from tests.screens.scripted import CONFIRM, CORE, PEAK, ScriptedEngine, desk_with, told

FINE = msgspec.structs.replace(PEAK, fine=True)


def desk_for(ask: Peak | Touch, kind: Kind = "ferrite-core") -> Desk:
    """The virtual set's adjuster of that ask is of that kind."""
    desk = desk_with(ask, serves=EVERYTHING, turnable=True)
    rows = desk.procedure.adjusters
    mine = tuple(replace(row, kind=kind) if row.id == ask.adjuster else row for row in rows)
    desk.procedure = replace(desk.procedure, adjusters=mine)
    return desk


def turned(desk: Desk, *looks: tuple[float, float]) -> Glance:
    """Turn to those settings [turn] and look there; what is shown at the last."""
    stream = desk.stream
    assert stream is not None
    for at, value in looks:
        if at != stream.turned:
            stream.turn(math.copysign(1.0, at - stream.turned), 1.0)
        stream.turned = at
        desk.sample((Sample(max(0.0, desk.since_s) + 1.0, value),))
    return glance(desk, Paper(80))


UP_AND_PAST = ((0.0, -20.0), (0.1, -12.0), (0.2, -6.0), (0.3, -10.0))
ON_TO_THE_OTHER = ((0.4, -19.5), (0.5, -24.2), (0.6, -23.2), (0.65, -14.5))


def test_a_rotary_trimmer_turned_on_to_its_other_peak_is_led_over_that_one() -> None:
    shown = turned(desk_for(FINE, "rotary-trimmer"), *UP_AND_PAST, *ON_TO_THE_OTHER)
    assert shown.hand == "That is the other peak, either will do: on with Right past its highest by 3 dB"
    desk = desk_for(FINE, "rotary-trimmer")
    shown = turned(desk, *UP_AND_PAST, *ON_TO_THE_OTHER, (0.7, -6.1), (0.8, -11.0))
    assert shown.hand == "Fallen 4.9 dB: now back with Left over the highest, to 3 dB beyond it"


def test_a_core_turned_on_to_another_peak_is_led_back() -> None:
    shown = turned(desk_for(FINE), *UP_AND_PAST, *ON_TO_THE_OTHER)
    assert shown.hand == "Fallen 8.5 dB: it rises to another peak: back with Left"


def test_a_fall_and_a_rise_by_turning_back_are_no_other_peak() -> None:
    shown = turned(desk_for(FINE, "rotary-trimmer"), *UP_AND_PAST, (0.4, -19.5), (0.35, -14.0))
    assert shown.hand == "Fallen 8.0 dB: now back with Left over the highest, to 3 dB beyond it"


def test_a_highest_jumped_over_on_the_way_home_is_said_where_the_keys_change() -> None:
    shown = turned(desk_for(FINE), *UP_AND_PAST[:3], (0.25, -8.0), (0.1, -12.0))
    assert shown.hand == "Fallen 6.0 dB, the highest was passed on the way: now back with Right"


def test_a_highest_jumped_over_from_far_down_to_far_down_has_shown_both_its_sides() -> None:
    shown = turned(desk_for(FINE), *UP_AND_PAST, (0.1, -12.0))
    assert shown.hand == "Now to the middle: Right, 1/8 turn to go, 12 presses"
    shown = turned(desk_for(FINE), *UP_AND_PAST, (0.27, -8.0), (0.15, -8.7))
    assert shown.hand == "Fallen 2.7 dB on the other side: go on with Left to 3 dB"


def skirts(*settings: float) -> tuple[tuple[float, float], ...]:
    """Looks there at a single tuned circuit with its peak of -6 dB at a quarter of a turn."""
    return tuple((at, round(-6.0 - 10 * math.log10(1 + ((at - 0.25) / 0.08) ** 2), 1)) for at in settings)


def test_a_flank_that_was_walked_through_before_a_new_highest_was_seen_is_not_asked_for_again() -> None:
    over = skirts(0.0, 0.1, 0.2, 0.3, 0.4)
    desk = desk_for(FINE)
    assert turned(desk, *over).hand == "Fallen 5.1 dB: now back with Left over the highest, to 3 dB beyond it"
    shown = turned(desk, *skirts(0.35, 0.3, 0.27, 0.25))
    assert shown.hand == "A new highest, the side behind is kept: go on with Left, past it by 3 dB"
    shown = turned(desk, *skirts(0.2, 0.165))
    assert shown.hand == "Now to the middle: Right, 1/16 turn to go, 9 presses"
    assert turned(desk, *skirts(0.25)).hand == "= STOP in the middle: Enter takes it"


def test_a_highest_found_on_the_way_to_the_middle_leads_on_to_the_middle_where_both_sides_were_seen() -> None:
    desk = desk_for(FINE)
    turned(desk, *skirts(0.1, 0.14, 0.16, 0.2, 0.3, 0.34, 0.36, 0.34, 0.3, 0.2, 0.16, 0.14))
    assert glance(desk, Paper(80)).hand.startswith("Now to the middle: Right")
    assert turned(desk, *skirts(0.22)).hand.startswith("Now to the middle: Right")


def test_a_flank_that_was_only_jumped_over_is_asked_for_after_a_new_highest() -> None:
    desk = desk_for(FINE)
    turned(desk, *skirts(0.0, 0.21, 0.55), *skirts(0.3, 0.25))
    shown = turned(desk, *skirts(0.16))
    assert shown.hand.startswith("Fallen 3.6 dB: now back with Right over the highest")


def test_a_middle_that_reads_lower_than_the_highest_leads_back_to_that() -> None:
    desk = desk_for(FINE)
    turned(desk, *UNEVEN)
    found = desk.found
    assert found is not None
    assert found.left is not None
    assert desk.stream is not None
    middle = desk.stream.turned + found.left
    shown = turned(desk, (middle, -6.6))
    assert shown.hand == "The middle is not the highest: back with Right to it, 0.6 dB"
    assert shown.amount == "The sides were seen unevenly, so the highest counts: within 0.3 dB of it"
    assert "\u2591" in shown.bar
    shown = turned(desk, (middle + 0.01, -6.1))
    assert shown.hand == "= STOP at the highest: Enter takes it"
    assert "still" not in shown.amount


UNEVEN = ((0.0, -11.0), (0.1, -9.5), (0.2, -7.5), (0.26, -6.0), (0.35, -9.5), (0.26, -6.1), (0.2, -7.4), (0.1, -9.6))


def test_back_where_it_stood_nothing_is_called_fallen_on_the_other_side() -> None:
    desk = desk_for(FINE)
    turned(desk, (0.0, -20.0), (-0.1, -24.0), (0.0, -20.1))
    assert glance(desk, Paper(80)).hand == "Back at the highest: go on with Right, 3 dB beyond it"


def test_what_is_left_to_the_middle_is_counted_in_presses_that_get_fewer() -> None:
    desk = desk_for(FINE)
    shown = turned(desk, *skirts(0.1, 0.2, 0.25, 0.3, 0.4, 0.3, 0.25, 0.2, 0.15))
    stream = desk.stream
    assert stream is not None
    stream.fingers = Fingers(1 / 64, -1.0)
    counts = []
    while "STOP" not in shown.hand:
        shown = glance(desk, Paper(80))
        counts.append(int(shown.hand.split(", ")[-1].split()[0]))
        stream.stands(stream.turned + stream.turn(1.0, 1.0, desk.to_middle), 0.0)
        desk.sample((Sample(desk.since_s + 1.0, skirts(stream.turned)[0][1]),))
        shown = glance(desk, Paper(80))
    assert counts == sorted(counts, reverse=True)
    assert counts[-1] == 1
    assert len(counts) >= 4


def test_a_turn_back_before_three_decibels_is_led_up_and_counts_no_side_twice() -> None:
    desk = desk_for(FINE)
    shown = turned(desk, (0.0, -20.0), (0.1, -12.0), (0.15, -14.5), (0.14, -14.0))
    assert shown.hand == "Fallen 2.0 dB: back up with Left to the highest"
    desk = desk_for(FINE)
    over = (*UP_AND_PAST, (0.2, -6.0), (0.15, -8.0), (0.16, -7.4))
    assert turned(desk, *over).hand == "Fallen 1.4 dB: back up with Right to the highest"
    turned(desk, (0.2, -6.1), (0.3, -10.0))
    assert desk.found is not None
    assert desk.found.phase == "back"


BOTH_SIDES = ((0.0, -10.0), (0.5, -6.0), (1.0, -10.0), (0.5, -6.0), (0.0, -10.0))


def test_once_both_sides_were_seen_a_number_leads_to_the_middle_however_few_the_looks() -> None:
    shown = turned(desk_for(FINE), *BOTH_SIDES)
    assert shown.hand == "Now to the middle: Right, 1/2 turn to go, 9 presses"
    desk = desk_for(FINE)
    shown = turned(desk, *BOTH_SIDES, (0.9, -8.8))
    assert shown.hand == "Now to the middle: Left, 3/8 turn to go, 13 presses"


@pytest.mark.parametrize(
    ("at", "words"),
    [
        (-3.3, "3 3/4 turns"),
        (0.44, "1/16 turn"),
        (0.47, "1/32 turn"),
        (0.485, "1/64 turn"),
        (0.495, "1/256 turn"),
        (0.4999, "a hair"),
    ],
)
def test_what_is_left_is_told_in_fractions_of_a_turn(at: float, words: str) -> None:
    desk = desk_for(FINE)
    turned(desk, *BOTH_SIDES)
    assert desk.stream is not None
    desk.stream.turned = at
    assert words in glance(desk, Paper(80)).hand


def test_the_highest_is_kept_as_long_as_the_ask_is_open() -> None:
    stream = Stream(FINE, 0.1)
    for at, value in enumerate((-20.0, -6.0, *[-12.0] * (3 * LONGEST_TRACE))):
        stream.take(Sample(float(at), value))
    best = stream.best()
    assert best is not None
    assert best.value == -6.0
    assert len(stream.trace) == len(stream.turns) <= LONGEST_TRACE


def test_a_peak_taken_up_again_after_a_break_says_that_what_was_turned_is_not_counted() -> None:
    engine, before = ScriptedEngine((CONFIRM, FINE)), History()
    procedure = desk_with(FINE).procedure
    history = before.with_entry(engine.entry_for(procedure, before, Done(), 1.0, "0"))
    desk = Desk(procedure, EVERYTHING, turnable=True)
    desk.tell(history, engine.survey(procedure, history))
    assert turned(desk, (0.0, -20.0)).amount == TAKEN_UP
    assert not desk.counted


def test_an_ask_of_this_sitting_is_counted_from_where_it_stood() -> None:
    desk = desk_with(FINE, serves=EVERYTHING, turnable=True)
    told(desk, asks=(FINE,))
    assert desk.counted
    assert turned(desk, (0.0, -20.0)).amount == "not turned yet"


def test_turns_that_lead_the_other_way_than_the_level_are_not_told() -> None:
    desk = desk_for(CORE)
    assert turned(desk, (0.0, -1.0), (0.9, -4.0)).amount == "turned 7/8 turn clockwise"
    peak = msgspec.structs.replace(FINE, amount=Amount(0.25, "turn", 0.1), direction="less")
    assert turned(desk_for(peak), (0.0, -20.0), (0.5, -12.0)).amount == "turned 1/2 turn clockwise"


def test_an_end_of_travel_is_offered_only_before_the_highest_was_passed() -> None:
    desk = desk_for(FINE)
    turned(desk, (0.0, -20.0), (0.1, -12.0))
    assert stop_words(desk, AT_STOP) == AT_STOP
    turned(desk, (0.2, -16.5))
    assert stop_words(desk, AT_STOP) == ""
    assert stop_words(desk, "Nothing can be read here.") == "Nothing can be read here."


def test_at_a_stop_past_the_highest_nobody_is_sent_on() -> None:
    desk = desk_for(FINE)
    turned(desk, (0.0, -20.0), (0.1, -12.0), (0.2, -13.5))
    assert desk.stream is not None
    desk.stream.at_stop = True
    assert glance(desk, Paper(80)).hand == (
        "Fallen 1.5 dB and at its end: back with Left to the highest, Enter takes it"
    )


def test_enter_off_the_highest_asks_once() -> None:
    desk = desk_for(FINE)
    turned(desk, (0.0, -20.0), (0.1, -12.0), (0.11, -12.9))
    assert press(desk, "enter", None, 100.0) == []
    assert desk.message == "Still 0.9 dB below the highest: Enter again takes it."
    press(desk, "enter", None, 101.0)
    assert any(isinstance(effect, Send) for effect in press(desk, "enter", None, 102.0))


def test_a_peak_at_which_nothing_was_turned_is_taken_at_the_second_enter_only() -> None:
    desk = desk_for(FINE)
    turned(desk, *((0.0, -20.0),) * 4)
    assert press(desk, "enter", None, 100.0) == []
    assert desk.message == "Nothing was turned yet, so no peak was seen: Enter again takes it as left here."
    assert any(isinstance(effect, Send) for effect in press(desk, "enter", None, 101.0))


def test_a_level_that_only_plays_about_is_no_peak_that_was_turned_to() -> None:
    desk = desk_for(FINE)
    turned(desk, *((0.0, level) for level in (-20.0, -19.2, -19.8, -19.2)))
    assert press(desk, "enter", None, 100.0) == []
    assert "Nothing was turned yet" in desk.message


def test_at_a_bench_a_peak_whose_level_has_not_moved_is_asked_about_once() -> None:
    desk = desk_with(FINE, serves=EVERYTHING)
    desk.sample(tuple(Sample(10.0 + at, -20.0) for at in range(4)))
    assert press(desk, "enter", None, 100.0) == []
    assert desk.message == "The reading has not moved yet, so no peak was seen: Enter again takes it as left here."
    assert any(isinstance(effect, Send) for effect in press(desk, "enter", None, 101.0))


def test_for_the_keys_an_ask_has_its_four_steps_and_nothing_that_cannot_be_seen() -> None:
    text = f"Peak the-coil for the highest reading{EQUAL_FALL}, about 1/4 turn clockwise.{COUNT_TURNS}{PEAKED_CORE}"
    assert for_keys(text) == (
        "Peak the-coil for the highest reading, about 1/4 turn clockwise: find the highest, go on 3 dB past it, back "
        "over it to 3 dB on the other side, then to the middle."
    )
    assert for_keys("Set 98 MHz.") == "Set 98 MHz."


@pytest.mark.parametrize(
    ("asked", "shown"),
    [
        (
            "Tune the set to receive 90 MHz and read the resonance of antenna.",
            "Tune the set to receive 90 MHz (the virtual set does so by itself) and read the resonance of antenna.",
        ),
        (
            "Set the tuning voltage to 2 V. Turn",
            "Set the tuning voltage to 2 V (the virtual set does so by itself). Turn",
        ),
        (
            "Tune the set to receive 98.5 MHz, generator to 98.5 MHz, and read",
            "Tune the set to receive 98.5 MHz, generator to 98.5 MHz (the virtual set does both by itself), and read",
        ),
        (
            "Set the pointer to the mark “right dot” and",
            "Set the pointer to the mark “right dot” (the virtual set does so by itself) and",
        ),
        (
            "Set the tuning to its low end. Peak",
            "Set the tuning to its low end (the virtual set does so by itself). Peak",
        ),
    ],
)
def test_the_virtual_set_says_that_it_tunes_itself(asked: str, shown: str) -> None:
    assert for_keys(asked) == shown


def test_near_a_middle_the_level_is_led_to_from_one_side_and_the_key_never_changes_from_press_to_press() -> None:
    """The play of a thread is greater than the whole peak is wide, and the meter's last figure flickers."""
    for flicker in (0.0, 0.1, -0.1):
        desk, source = desk_for(FINE), PlayedSet(flicker)
        said = keys_followed(desk, source)
        middle = [words for words in said if "to the middle" in words]
        keys = [re.findall("Left|Right", words)[0] for words in middle]
        assert middle
        assert len(set(keys)) == 1, said
        assert said[-1].startswith("= STOP")
        assert abs(source.at - 0.25) < 0.05 * 0.08 + FINEST_TURN


class PlayedSet:
    """A peak at a quarter of a turn behind a thread with play, as a hand feels it: slack is taken up at once."""

    def __init__(self, flicker: float) -> None:
        self.at, self.tool, self.flicker, self.looks = 0.0, 0.0, flicker, 0

    def turn(self, turns: float) -> float:
        loose = self.at + math.copysign(0.03, turns) - self.tool
        self.at += turns
        self.tool += turns + loose
        return self.tool

    def level(self) -> float:
        self.looks += 1
        return skirts(self.at)[0][1] + self.flicker * (self.looks % 2)


def keys_followed(desk: Desk, source: PlayedSet) -> list[str]:
    """What is said to one who presses what is named, until STOP; no press goes over what is still to go."""
    said, sense, stream = [], 1.0, desk.stream
    assert stream is not None
    desk.sample((Sample(1.0, source.level()),))
    for at in range(100):
        said.append(glance(desk, Paper(80)).hand)
        if "STOP" in said[-1]:
            return said
        keys = re.findall("Left|Right", said[-1])
        sense = (1.0 if keys[0] == "Right" else -1.0) if len(keys) == 1 else sense
        left = desk.to_middle
        size = stream.turn(sense, 1.0, left)
        assert left is None or abs(size) <= abs(left)
        stream.stands(source.turn(size), size)
        desk.sample((Sample(2.0 + at, source.level()),))
    raise AssertionError(said)


def test_a_press_that_changes_the_level_by_far_is_followed_by_a_fine_one_whichever_way() -> None:
    for sense in (1.0, -1.0):
        desk = desk_for(FINE)
        stream = desk.stream
        assert stream is not None
        stream.fingers = Fingers(1 / 32, 1.0)
        turned(desk, (0.0, -40.0), (1 / 32, -32.0))
        assert f"a press: 1/{round(1 / stream.fingers.step(most=stream.boldest))} turn" in entry_row(desk, 100)
        assert abs(stream.turn(sense, 1.0, desk.to_middle)) == 1 / 256


def test_where_it_only_fell_from_the_start_no_highest_is_said_to_be_gone_back_over() -> None:
    desk = desk_for(FINE)
    shown = turned(desk, (0.0, -20.0), (-0.1, -24.8))
    assert shown.hand == "No peak this way: back with Right, over the start and on"
    assert "Near enough" not in shown.amount
    shown = turned(desk, (0.0, -20.0), (0.1, -5.0))
    assert shown.hand == "A new highest, its sides are not seen yet: go on with Right, past it by 3 dB"


def test_back_from_a_small_fall_nobody_is_sent_the_way_that_only_flickered_up() -> None:
    shown = turned(
        desk_for(FINE), (0.0, -20.0), (0.06, -19.9), (0.12, -20.3), (0.18, -20.8), (0.12, -20.4), (0.08, -20.05)
    )
    assert "Right" not in shown.hand
