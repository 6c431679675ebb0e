"""The settle detector and the hands-free rule."""

import math
import random

from hypothesis import given
from hypothesis import strategies as st

from aligner.engine.asks import Aim, Ask, Point, Read, Touch
from aligner.engine.capture import HOLD_S, KEEP_S, Captured, NotYet, Sample, Window, capture, newest, settled

AIM = Aim("frequency", 1000.0, 10.0)
TOUCH = Touch(
    id=1,
    step="coverage",
    text="Turn.",
    adjuster="oscillator-coil",
    circuit="oscillator",
    point=Point(volts=2.0),
    aim=AIM,
)
READ = Read(id=2, step="coverage", text="Read.", quantity="frequency", point=Point(volts=2.0))


def window(*values: float, ask: Ask = TOUCH, every_s: float = 0.25, start: Window | None = None) -> Window:
    filled = start or Window()
    first = filled.samples[-1].at_s + every_s if filled.samples else 0.0
    for index, value in enumerate(values):
        filled = filled.with_sample(ask, Sample(first + index * every_s, value, f"{value}"))
    return filled


def test_a_reading_that_came_from_outside_and_holds_still_inside_is_taken() -> None:
    taken = capture(TOUCH, window(1200.0, 1050.0, *[1001.0, 1002.0] * 4))
    assert isinstance(taken, Captured)
    assert taken.value == 1002.0
    assert taken.seen.n == 7
    assert taken.seen.raw == "1002.0"


def test_a_reading_that_was_inside_from_the_start_is_never_taken() -> None:
    waiting = capture(TOUCH, window(*[1001.0] * 40))
    assert waiting == NotYet("waits until the reading has been outside the aim")


def test_the_hold_fills_while_the_reading_stands_inside() -> None:
    first = capture(TOUCH, window(1200.0, 1001.0))
    later = capture(TOUCH, window(1200.0, 1001.0, 1001.0, 1001.0, 1001.0))
    assert isinstance(first, NotYet)
    assert isinstance(later, NotYet)
    assert (first.held, later.held) == (0.0, 0.5)


def test_one_value_outside_starts_the_hold_anew() -> None:
    assert not isinstance(capture(TOUCH, window(1200.0, *[1001.0] * 6, 1013.0, *[1001.0] * 6)), Captured)


def test_at_the_edge_of_the_aim_the_last_digit_does_not_start_the_hold_anew() -> None:
    taken = capture(TOUCH, window(1200.0, *[1010.0, 1011.0, 1010.0] * 4))
    assert isinstance(taken, Captured)
    assert taken.value == 1010.0


def test_what_stands_for_the_most_part_beyond_the_edge_is_not_taken() -> None:
    assert capture(TOUCH, window(1200.0, 1010.0, *[1011.0] * 8)) == NotYet("at the edge of the aim: a hair more")


def test_what_stands_a_hair_beyond_the_edge_without_having_been_inside_is_not_taken() -> None:
    assert capture(TOUCH, window(1200.0, *[1011.0] * 8)) == NotYet("outside the aim")


def test_a_reading_that_still_creeps_inside_the_aim_is_not_taken() -> None:
    assert capture(TOUCH, window(1200.0, *[991.0 + 2.5 * step for step in range(8)])) == NotYet("still moving")


def test_a_plain_reading_is_never_taken_by_itself() -> None:
    assert isinstance(capture(READ, window(1200.0, *[1001.0] * 20, ask=READ)), NotYet)


def test_turns_counted_by_hand_are_never_taken_by_themselves() -> None:
    by_turns = Touch(
        id=3, step="a", text="", adjuster="x", circuit="a", point=Point(volts=2.0), aim=Aim("turns", 1.0, 0.1)
    )
    assert capture(by_turns, Window((Sample(0.0, 1.0),), armed=True)) == NotYet(
        "only a touch whose aim can be read is taken by itself"
    )


def test_a_stopped_hold_arms_again_only_outside_the_aim() -> None:
    stopped = window(1200.0, *[1001.0] * 8).stopped()
    inside = window(*[1001.0] * 20, start=stopped)
    assert not isinstance(capture(TOUCH, inside), Captured)
    assert isinstance(capture(TOUCH, window(1200.0, *[1001.0] * 8, start=inside)), Captured)


def test_a_silence_of_the_instrument_breaks_the_hold() -> None:
    before = window(1200.0, *[1001.0] * 3)
    after = before.with_sample(TOUCH, Sample(60.0, 1001.0))
    assert capture(TOUCH, after) == NotYet("inside the aim: hold still", 0.0)


def test_a_counter_of_one_reading_a_second_is_taken_after_three() -> None:
    assert not isinstance(capture(TOUCH, window(1200.0, 1001.0, 1001.0, every_s=1.0)), Captured)
    assert isinstance(capture(TOUCH, window(1200.0, 1001.0, 1001.0, 1001.0, every_s=1.0)), Captured)


def test_values_that_are_no_numbers_or_go_back_in_time_are_left_out() -> None:
    filled = window(1200.0, math.nan, math.inf)
    assert len(filled.samples) == 1
    assert filled.with_sample(TOUCH, Sample(-1.0, 1001.0)) == filled


def test_a_window_forgets_what_is_old() -> None:
    filled = window(*[1200.0] * 100)
    assert filled.samples[-1].at_s - filled.samples[0].at_s <= KEEP_S
    assert filled.armed


def test_a_key_takes_a_plain_reading_once_it_has_settled() -> None:
    assert settled(Window(), 1.0) == NotYet("no reading yet")
    assert isinstance(settled(window(1200.0, 1200.0, ask=READ), 1.0), NotYet)
    assert settled(window(1200.0, 1300.0, 1210.0, 1190.0, 1250.0, ask=READ), 1.0) == NotYet("still moving")
    taken = settled(window(1500.0, *[1200.0, 1201.0] * 3, ask=READ), 1.0)
    assert isinstance(taken, Captured)
    assert taken.value == 1201.0
    assert taken.seen.n == 5


def noise(count: int, seed: int = 1) -> list[float]:
    """White noise about 1200 with a standard deviation of 2."""
    chance = random.Random(seed)
    return [chance.gauss(1200.0, 2.0) for _ in range(count)]


def test_noise_that_goes_nowhere_is_at_rest_once_its_middle_is_known_well_enough() -> None:
    assert settled(window(*noise(10), every_s=0.125), 2.0) == NotYet("still moving")
    taken = [settled(window(*noise(30, seed), every_s=0.125), 2.0) for seed in range(20)]
    found = [row for row in taken if isinstance(row, Captured)]
    assert len(found) >= 18  # nineteen of twenty, by the law of the ratio (`LEAST_TURNING`)
    assert all(abs(row.value - 1200.0) < 2.0 for row in found)
    assert settled(window(*noise(30), every_s=0.125), 1.0) == NotYet("still moving")


def test_what_goes_on_its_way_through_noise_or_swings_to_and_fro_is_moving() -> None:
    creeping = [value + 0.4 * at for at, value in enumerate(noise(30))]
    assert settled(window(*creeping, every_s=0.125), 2.0) == NotYet("still moving")
    swinging = [1200.0 + 2.0 * math.sin(at / 2) for at in range(30)]
    assert settled(window(*swinging, every_s=0.125), 2.0) == NotYet("still moving")


def test_a_person_may_take_the_newest_value_as_it_is() -> None:
    taken = newest(window(1200.0, 1300.0, ask=READ))
    assert isinstance(taken, Captured)
    assert (taken.value, taken.seen.n, taken.seen.spread) == (1300.0, 1, 0.0)
    assert newest(Window()) == NotYet("no reading yet")


@given(st.lists(st.floats(900.0, 1100.0), max_size=60))
def test_whatever_is_taken_lay_inside_the_aim_for_the_whole_hold(values: list[float]) -> None:
    filled = window(*values)
    taken = capture(TOUCH, filled)
    if isinstance(taken, Captured):
        since = filled.samples[-1].at_s - HOLD_S
        assert all(abs(sample.value - 1000.0) <= 10.0 for sample in filled.samples if sample.at_s >= since)
        assert any(abs(value - 1000.0) > 10.0 for value in values)
        assert abs(taken.value - 1000.0) <= 10.0
