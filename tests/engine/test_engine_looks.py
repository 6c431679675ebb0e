"""What looks tell: the scale of tuning voltages, and the side on which a wand finds a circuit."""

import math
from itertools import pairwise

import pytest

from aligner.engine.answers import Reading, WandSeen
from aligner.engine.asks import GeneratorSetting, Point, Read
from aligner.engine.history import Entry
from aligner.engine.looks import Scale, common_volts, scale_of, wand_side
from tests.small_sets import FM, read

BY_WAND = read(FM)
MORE_IS_DOWN = read(FM.replace('resolution = "0.1 dB"', 'resolution = "0.1 dB"\nmore-signal = "down"'))


def scale(*pairs: tuple[float, float]) -> Scale:
    return Scale(tuple(math.log(volts + 0.7) for volts, _ in pairs), tuple(math.log(hz) for _, hz in pairs))


def common(seq: int, hz: float, volts: float, circuit: str = "") -> Entry:
    ask = Read(
        id=seq,
        step="antenna",
        text="",
        quantity="volts",
        circuit=circuit,
        point=Point(received=hz),
        generator=GeneratorSetting(hz),
    )
    return Entry(seq, float(seq), "test", ask, Reading(volts))


THREE = scale((2.0, 87.5e6), (4.3, 97e6), (8.0, 108e6))


def test_a_scale_of_voltages_gives_back_the_pairs_that_it_was_made_of() -> None:
    for volts, hz in ((2.0, 87.5e6), (4.3, 97e6), (8.0, 108e6)):
        assert THREE.hz(volts) == pytest.approx(hz, rel=1e-12)
        assert THREE.volts(hz) == pytest.approx(volts, rel=1e-6)


def test_between_two_pairs_frequency_goes_as_a_power_of_the_voltage_and_the_junction() -> None:
    power = math.log(108 / 87.5) / math.log(8.7 / 2.7)
    assert scale((2.0, 87.5e6), (8.0, 108e6)).hz(4.0) == pytest.approx(87.5e6 * (4.7 / 2.7) ** power, rel=1e-12)


@pytest.mark.parametrize(("end", "beyond"), [(8.0, 8.4), (2.0, 1.8)])
def test_beyond_its_ends_a_scale_goes_straight_on(end: float, beyond: float) -> None:
    at = [math.log(v + 0.7) for v in (end, 0.5 * (end + beyond), beyond)]
    hz = [math.log(THREE.hz(math.exp(x) - 0.7)) for x in at]
    slopes = [(y1 - y0) / (x1 - x0) for (x0, y0), (x1, y1) in pairwise(zip(at, hz, strict=True))]
    assert slopes[0] == pytest.approx(slopes[1], rel=1e-9)
    assert slopes[0] > 0.0


def test_the_ends_of_a_scale_are_the_places_of_its_outermost_voltages() -> None:
    assert THREE.ends_hz == pytest.approx((87.5e6, 108e6))


def test_a_scale_knows_the_voltages_of_the_coverage_and_every_common_one_that_was_read() -> None:
    plain, read_once = scale_of(BY_WAND, "antenna", ()), scale_of(BY_WAND, "antenna", (common(1, 98e6, 5.0),))
    assert plain is not None
    assert read_once is not None
    assert (plain.hz(2.0), plain.hz(8.0)) == pytest.approx((87.5e6, 108e6))
    assert read_once.hz(5.0) == pytest.approx(98e6)
    assert plain.hz(5.0) != pytest.approx(98e6, rel=1e-3)


def test_a_voltage_of_one_stage_alone_says_nothing_of_the_scale() -> None:
    alone = scale_of(BY_WAND, "antenna", (common(1, 98e6, 5.0, "antenna"),))
    assert alone == scale_of(BY_WAND, "antenna", ())


def test_the_newest_common_voltage_of_a_place_counts() -> None:
    found = scale_of(BY_WAND, "antenna", (common(1, 98e6, 5.0), common(2, 98e6, 4.5)))
    assert found is not None
    assert found.volts(98e6) == pytest.approx(4.5, abs=1e-6)


def test_voltages_that_fall_while_the_frequency_rises_make_no_scale() -> None:
    assert scale_of(BY_WAND, "antenna", (common(1, 98e6, 9.0),)) is None


def test_a_common_voltage_from_before_the_oscillator_was_moved_is_not_taken() -> None:
    entries = (common(3, 98e6, 5.0),)
    assert common_volts(entries, 98e6, since=5) == 5.0
    assert common_volts(entries, 98e6, since=6) is None
    assert common_volts(entries, 98e6, since=-1, before=3) is None
    assert common_volts(entries, 90e6, since=-1) is None


@pytest.mark.parametrize(
    ("none", "ferrite", "brass", "side"),
    [
        (-6.0, -2.0, -9.0, -1),
        (-6.0, -9.0, -2.0, 1),
        (0.0, -4.0, -4.1, 0),
        (0.0, -5.0, -3.7, 0),
        (-9.0, -8.9, -9.1, 0),
    ],
)
def test_a_wand_tells_the_side_where_its_ends_differ_more_than_unequal_pulls_explain(
    none: float, ferrite: float, brass: float, side: int
) -> None:
    assert wand_side(BY_WAND, WandSeen(ferrite, brass, none)) == side
    assert wand_side(MORE_IS_DOWN, WandSeen(-ferrite, -brass, -none)) == side


def test_a_wand_whose_effect_was_only_told_in_words_gives_no_side_here() -> None:
    assert wand_side(BY_WAND, WandSeen("up", "down")) == 0
