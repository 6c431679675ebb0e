"""The gauge: how far, which way, and the best value seen while peaking."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.engine.asks import Aim, Amount, Confirm, Peak, Point, Read, Touch
from aligner.engine.gauge import Gauge, Unaimed, best_of, gauge

AIM = Aim("frequency", 1_701_560.0, 800.0)


def touch(aim: Aim = AIM, direction: str | None = "more") -> Touch:
    return Touch(
        id=1,
        step="coverage",
        text="Turn the coil.",
        adjuster="oscillator-coil",
        circuit="oscillator",
        point=Point(volts=2.0),
        aim=aim,
        direction="more" if direction == "more" else "less" if direction else None,
        amount=Amount(0.5, "turn", 0.1),
    )


def peak(find: str = "max") -> Peak:
    wanted = {"max": "max", "min": "min", "null": "null"}[find]
    return Peak(
        id=2,
        step="antenna",
        text="Peak.",
        adjuster="antenna-coil",
        circuit="antenna",
        point=Point(received=9e7),
        find=wanted,  # type: ignore[arg-type]
    )


def aimed(value: float, start: float | None = None, ask: Touch | None = None) -> Gauge:
    shown = gauge(ask or touch(), value, start)
    assert isinstance(shown, Gauge)
    return shown


def test_a_reading_above_the_aim_must_come_down_which_takes_more_inductance_or_capacitance() -> None:
    shown = aimed(1_750_000.0)
    assert (shown.way, shown.turn, shown.inside) == ("down", "more", False)
    assert shown.position > shown.edge > 0


def test_after_an_overshoot_the_way_turns_round_although_the_ask_said_more() -> None:
    shown = aimed(1_690_000.0, start=1_750_000.0)
    assert (shown.way, shown.turn) == ("up", "less")
    assert shown.position < 0


def test_inside_the_tolerance_the_bar_is_full_and_nothing_is_to_be_turned() -> None:
    shown = aimed(1_701_560.0 + 799.0)
    assert (shown.way, shown.turn, shown.inside, shown.fraction) == ("there", None, True, 1.0)


def test_the_edge_of_the_tolerance_is_where_the_mark_stands() -> None:
    shown = aimed(1_701_560.0 + 800.0, start=1_750_000.0)
    assert shown.position == pytest.approx(shown.edge)


def test_a_level_to_fall_to_keeps_the_direction_of_the_ask() -> None:
    past_the_peak = touch(Aim("level", -6.0, 0.3), "less")
    assert aimed(-1.0, ask=past_the_peak).turn == "less"
    assert aimed(-1.0, ask=touch(Aim("level", -6.0, 0.3), None)).turn is None


def test_an_aim_without_width_still_has_a_scale() -> None:
    shown = aimed(5.0, ask=touch(Aim("turns", 0.0, 0.0)))
    assert math.isfinite(shown.position)
    assert not shown.inside


@pytest.mark.parametrize(
    "ask",
    [
        Confirm(id=3, step="prepare", text="Pointer at its stop."),
        Read(id=4, step="coverage", text="Read.", quantity="frequency", point=Point(volts=2.0)),
        peak(),
    ],
)
def test_an_ask_without_an_aim_has_no_gauge(ask: Confirm | Read | Peak) -> None:
    assert gauge(ask, 1.0) == Unaimed(1.0)


def test_a_live_value_that_is_no_number_has_no_gauge() -> None:
    assert isinstance(gauge(touch(), math.nan), Unaimed)


@given(st.floats(-1e12, 1e12), st.floats(-1e12, 1e12))
def test_the_gauge_stays_on_its_scale_for_any_value(value: float, start: float) -> None:
    shown = aimed(value, start)
    assert -1.0 <= shown.position <= 1.0
    assert 0.0 <= shown.fraction <= 1.0
    assert 0.0 < shown.edge < 0.3
    assert shown.inside == (abs(shown.position) <= shown.edge + 1e-12)


@given(st.floats(0.0, 1e6), st.floats(0.0, 1e6))
def test_a_nearer_reading_never_looks_further_away(one: float, other: float) -> None:
    near, far = sorted((one, other))
    start = AIM.value + 1e6
    assert abs(aimed(AIM.value - near, start).position) <= abs(aimed(AIM.value - far, start).position)


@pytest.mark.parametrize("widths", [20.0, 700.0, 2e4, 1e6])
def test_on_any_scale_the_bar_shows_the_first_part_of_the_way_and_the_edge_of_the_tolerance(widths: float) -> None:
    start = AIM.value + widths * AIM.within
    fractions = [aimed(AIM.value + left * widths * AIM.within, start).fraction for left in (1.0, 0.9, 0.5, 0.1)]
    assert fractions[0] == pytest.approx(0.0)
    assert fractions[1] > 0.015
    assert fractions[2] > 0.1
    assert fractions[3] > 0.3
    assert aimed(AIM.value + AIM.within, start).position == pytest.approx(0.1)


def test_the_peak_seen_so_far_is_held_so_that_one_can_come_back_to_it() -> None:
    best = best_of(peak(), (-20.0, -12.0, -10.5, -13.0), 0.1)
    assert best is not None
    assert (best.value, best.fallen, best.here) == (-10.5, 2.5, False)


def test_a_dip_and_a_zero_are_held_as_the_peak_is() -> None:
    dip = best_of(peak("min"), (-20.0, -31.0, -30.95), 0.1)
    zero = best_of(peak("null"), (0.4, -0.02, -0.3), 0.05)
    assert dip is not None
    assert zero is not None
    assert (dip.value, dip.here) == (-31.0, True)
    assert (zero.value, zero.here) == (-0.02, False)


def test_nothing_seen_has_no_best() -> None:
    assert best_of(peak(), (), 0.1) is None
    assert best_of(peak(), (math.nan,), 0.1) is None


def test_three_steps_of_the_meter_below_the_best_are_three_steps_whatever_binary_makes_of_them() -> None:
    peak = Peak(id=1, step="antenna", text="", adjuster="antenna-coil", circuit="antenna", point=Point(received=98e6))
    best = best_of(peak, (37.7, 37.4), 0.1)
    assert best is not None
    assert best.here
