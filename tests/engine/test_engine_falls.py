"""Falls below peaks that are shared: what several of them, or several peaks, make of their doubt."""

import math
from random import Random
from statistics import fmean

import pytest

from aligner.engine.instruments import instruments_of
from aligner.engine.levels import Level, falls_of
from aligner.estimate.events import Event, Fallen, Moved
from tests.small_sets import FM, read

PROCEDURE = read(FM)
ALONE_DB = instruments_of(PROCEDURE).level_sd_db()
HZ = 92e6


def level(seq: int, db: float, *, peaked: bool = False) -> Level:
    return Level(seq, "antenna", HZ, db, peaked)


def falls(*levels: Level, moved: str = "antenna-trimmer") -> list[Fallen]:
    between: tuple[Event, ...] = (Moved(4, moved),)
    return list(falls_of(PROCEDURE, levels, between))


def test_one_level_below_one_peak_is_as_sure_as_a_difference_of_two_levels() -> None:
    (fall,) = falls(level(1, 20.0, peaked=True), level(5, 16.0))
    assert fall.fall_db == pytest.approx(4.0)
    assert fall.sd_db == pytest.approx(ALONE_DB)


def test_peaks_of_one_top_are_averaged() -> None:
    (fall,) = falls(level(1, 20.0, peaked=True), level(3, 20.1, peaked=True), level(5, 16.0))
    assert fall.fall_db == pytest.approx(4.05)
    assert fall.sd_db == pytest.approx(
        ALONE_DB * math.sqrt(0.75)
    )  # half of it is the level's own; the peaks' is halved


def test_levels_near_one_peak_share_its_error_and_levels_on_a_slope_keep_theirs() -> None:
    found = falls(level(1, 20.0, peaked=True), level(5, 20.0), level(7, 19.9), level(9, 14.0))
    # Two with a correlation of a half: the mean has three quarters of the variance, as of 1.5 times as much for each.
    assert [fall.sd_db for fall in found] == pytest.approx([ALONE_DB * math.sqrt(1.5)] * 2 + [ALONE_DB])


def test_a_peak_before_another_circuit_was_turned_is_no_top_of_later_levels() -> None:
    assert falls(level(1, 20.0, peaked=True), level(5, 16.0), moved="oscillator-trimmer") == []


@pytest.mark.parametrize("seed", range(6))
def test_in_a_long_history_a_level_lies_below_the_peaks_that_nothing_foreign_parts_it_from(seed: int) -> None:
    chance = Random(seed)
    levels = [
        Level(2 * n + 1, "antenna", chance.choice((HZ, 100e6)), round(chance.uniform(0.0, 20.0), 1), n % 3 == 0)
        for n in range(40)
    ]
    moved = [Moved(2 * n, chance.choice(("antenna-trimmer", "oscillator-trimmer"))) for n in range(0, 40, 5)]
    foreign = [event.seq for event in moved if event.adjuster == "oscillator-trimmer"]

    def tops(level: Level) -> list[float]:
        there = [peak for peak in levels if peak.peaked and peak.hz == level.hz]
        ends = [(sorted((peak.seq, level.seq)), peak.db) for peak in there]
        return [db for (first, last), db in ends if not any(first < seq < last for seq in foreign)]

    expected = {x.seq: max(fmean(tops(x)) - x.db, 0.0) for x in levels if not x.peaked and tops(x)}
    found = {fall.seq: fall.fall_db for fall in falls_of(PROCEDURE, tuple(levels), tuple(moved))}
    assert found == pytest.approx(expected)
    assert found
