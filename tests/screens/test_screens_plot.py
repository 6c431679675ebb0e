"""Curves in character cells: round ticks, markers on their lines, told apart without colour."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.engine.curve import Curve, Line
from aligner.screens.axis import axis
from aligner.screens.blocks import blocks
from aligner.screens.plot import Cells, Sheet, legend, plotted

STRAIGHT = Curve(
    "x", "a line", "Hz", "Hz",
    (
        Line("as found", ((87.5e6, 40e3), (108e6, 40e3)), "before"),
        Line("now", ((87.5e6, -50e3), (108e6, 50e3)), "now"),
        Line("after this touch", ((87.5e6, 5e3), (108e6, 5e3)), "after"),
    ),
    read=((97.75e6, 0.0),),
    marks=((90e6, "low"),),
)  # fmt: skip


def texts(rows: tuple[Cells, ...]) -> list[str]:
    return ["".join(sign for sign, _ in row) for row in rows]


def test_ticks_are_round_and_no_more_than_asked_for() -> None:
    assert axis((87.5e6, 108e6), "Hz").ticks(5) == pytest.approx((90e6, 95e6, 100e6, 105e6))
    assert axis((0.0, 0.7), "dB").ticks(4) == pytest.approx((0.0, 0.2, 0.4, 0.6))


@given(st.floats(-1e9, 1e9), st.floats(1e-3, 1e9), st.integers(2, 12))
def test_ticks_lie_on_the_axis_and_in_order_whatever_the_values(low: float, span: float, most: int) -> None:
    made = axis((low, low + span), "Hz")
    ticks = made.ticks(most)
    assert list(ticks) == sorted(ticks)
    assert len(ticks) <= most + 1
    assert all(-1e-6 <= made.share(tick) <= 1 + 1e-6 for tick in ticks)


def test_far_beyond_the_tolerance_the_axis_is_compressed_so_that_the_tolerance_can_still_be_seen() -> None:
    made = axis((-10e6, 100e3), "Hz", tolerance=50e3)
    assert made.share(50e3) - made.share(-50e3) > 0.25
    assert made.share(-10e6) < made.share(-1e6) < made.share(-50e3) < made.share(0.0)
    assert {-50e3, 0.0, 50e3} <= set(made.ticks(9))


def test_a_marker_at_zero_stands_in_the_row_of_the_zero_tick() -> None:
    rows = texts(plotted(STRAIGHT, Sheet(70, 17)))
    (marked,) = [row for row in rows if "●" in row]
    assert marked.lstrip().startswith("0┤")


def test_lines_are_told_apart_by_their_dashes_and_not_by_colour_alone() -> None:
    rows = plotted(STRAIGHT, Sheet(70, 17))
    inked = {
        role: sum(
            (ord(sign) & 0xFF).bit_count() for row in rows for sign, r in row if r == role and ord(sign) >= 0x2800
        )
        for role in ("before", "after", "now")
    }
    assert inked["before"] < inked["after"] < inked["now"]
    assert legend(STRAIGHT, 80, plain=False).split("   ")[:2] == ["· · as found", "── now"]


def test_a_terminal_without_braille_gets_plain_characters_only() -> None:
    rows = texts(plotted(STRAIGHT, Sheet(70, 17, plain=True)))
    assert all(row.isascii() for row in rows)
    assert any("*" in row for row in rows)
    assert any("o" in row for row in rows)
    assert legend(STRAIGHT, 80, plain=True).isascii()


@pytest.mark.parametrize("size", [(78, 14), (118, 30), (30, 6)])
def test_every_row_is_as_wide_as_the_sheet_and_there_are_as_many_as_it_has(size: tuple[int, int]) -> None:
    rows = texts(plotted(STRAIGHT, Sheet(*size)))
    assert len(rows) == size[1]
    assert {len(row) for row in rows} == {size[0]}


def test_without_room_or_readings_nothing_is_drawn() -> None:
    assert plotted(STRAIGHT, Sheet(20, 5)) == ()
    assert plotted(Curve("x", "empty", "Hz", "dB", ()), Sheet(80, 20)) == ()


def test_the_topmost_tick_names_the_unit_of_its_axis() -> None:
    first = next(row for row in texts(plotted(STRAIGHT, Sheet(70, 17))) if "┤" in row)
    assert first.split("┤")[0].strip().endswith(axis(tuple(y for _, y in STRAIGHT.lines[0].points), "Hz").unit)


def test_any_two_figures_differ_by_three_dots_at_least() -> None:
    drawn = {figure: "".join(blocks(figure, "tall")) for figure in "0123456789"}
    for one, other in itertools.combinations(drawn.values(), 2):
        assert sum(a != b for a, b in zip(one, other, strict=True)) >= 3 * 2  # a dot is two cells wide


def test_where_the_axis_is_squeezed_the_legend_says_so_and_elsewhere_not() -> None:
    limit = Line("tolerance", ((87.5e6, 50e3), (108e6, 50e3)), "limit")
    far = Curve("x", "far", "Hz", "Hz", (Line("now", ((87.5e6, -10e6), (108e6, 50e3)), "now"), limit))
    near = Curve("x", "near", "Hz", "Hz", (Line("now", ((87.5e6, -60e3), (108e6, 50e3)), "now"), limit))
    assert "tolerance, axis squeezed beyond it" in legend(far, 80, plain=False)
    assert "squeezed" not in legend(near, 80, plain=False)


def test_what_only_plays_about_does_not_fill_an_axis_that_has_a_least_reach() -> None:
    flicker = axis((50.7, 50.8), "dB", least=3.0)
    assert flicker.high - flicker.low >= 3.0
    assert 0.45 < flicker.share(50.75) < 0.55
    assert axis((40.0, 50.0), "dB", least=3.0) == axis((40.0, 50.0), "dB")
