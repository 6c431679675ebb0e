"""Windows below 80x24: the instruction is whole, and what matters less gives way to it."""

from pathlib import Path

import msgspec
import pytest

from aligner.engine.capture import Sample
from aligner.screens.app import AlignerApp
from aligner.screens.desk import Desk
from aligner.screens.glance import Paper, breadth, brief
from aligner.screens.log import broken
from aligner.screens.paint import entry_row, instruction
from aligner.screens.small import small
from tests.screens.driving import shown_guide, until, words_on
from tests.screens.scripted import CAUTION, COUNTER, TOUCH, ShownSource, desk_with, guide
from tests.screens.walked import walked

LONG = msgspec.structs.replace(
    TOUCH,
    text="Set the tuning voltage to 8 V. Turn oscillator-coil (the bare coil beside the mixer can): spread its turns "
    "for less inductance, until the counter shows 385.62 kHz. It has no stops; if the reading turns back before it "
    "gets there, leave it there and say that it is at its end of travel.",
)


def flat(text: str) -> str:
    return " ".join(text.split())


def at_counter(columns: int) -> Desk:
    desk = desk_with(LONG, serves=COUNTER)
    desk.sample((Sample(10.0, 401_730.0),))
    assert "AIM" in brief(desk, Paper(columns))
    return desk


@pytest.mark.parametrize(("columns", "rows"), [(79, 23), (70, 20), (60, 16), (44, 14), (90, 12), (70, 40)])
def test_a_long_instruction_is_whole_and_the_reading_beside_its_aim_is_seen(columns: int, rows: int) -> None:
    fits = small(at_counter(columns), Paper(columns, rows=rows), "")
    assert flat(fits.ask) == LONG.text
    labels = " ".join(column.label for column in fits.glance.columns) + fits.glance.hand
    assert "NOW" in labels
    assert "AIM" in labels
    assert breadth(fits.glance.columns, fits.glance.gap) <= columns


def test_the_bar_goes_before_the_large_figures_and_these_before_the_instruction() -> None:
    desk = at_counter(70)
    bars, heights = [], []
    for rows in range(23, 10, -1):
        fits = small(desk, Paper(70, rows=rows), "")
        assert flat(fits.ask) == LONG.text
        bars.append(bool(fits.glance.bar))
        heights.append(max((len(column.rows) for column in fits.glance.columns), default=0))
    assert heights[bars.index(False)] == heights[0]
    assert heights == sorted(heights, reverse=True)
    assert {5, 3, 0} <= set(heights)


def test_a_question_takes_its_rows_from_what_matters_less() -> None:
    desk = at_counter(70)
    before = small(desk, Paper(70, rows=16), "")
    desk.message = "A question that is long enough to be told in several rows of a narrow window. " * 3
    after = small(desk, Paper(70, rows=16), "")
    assert flat(after.ask) == LONG.text
    assert len(after.glance.columns) < len(before.glance.columns)


def test_a_caution_is_whole_in_a_small_window() -> None:
    told = msgspec.structs.replace(CAUTION, text="The oscillator can radiate and disturb other services. " * 7)
    fits = small(desk_with(told), Paper(60, rows=16), "")
    assert flat(fits.ask) == flat(f"CAUTION. {told.text}")


def test_the_entry_line_offers_whole_things_only() -> None:
    desk = desk_with(LONG, serves=COUNTER)
    desk.turnable = True
    assert entry_row(desk, 80) == " > Left/Right: try one; press: a small part; Shift finer   Enter: take it"
    assert entry_row(desk, 70) == " > Left/Right: try one; press: a small part   Enter: take it"
    assert entry_row(desk, 50) == " > Left/Right: try one; press: a small part"
    assert entry_row(desk, 30) == " > Left/Right: try one"


def test_in_a_whole_job_each_instruction_is_whole_at_70_columns_and_20_rows() -> None:
    asks = 0
    for desk, _ in walked("fm-varactor", on_bench=True):
        fits = small(desk, Paper(70, rows=20), "")
        assert flat(fits.ask) == flat(instruction(desk)), desk.ask
        assert len(broken(fits.ask, 70)) < 18
        asks += 1
    assert asks > 15


async def test_in_a_small_terminal_every_row_of_the_instruction_is_on_the_screen(tmp_path: Path) -> None:
    app, source = AlignerApp(tmp_path), ShownSource()
    async with app.run_test(size=(70, 20)) as pilot:
        app.push_screen(guide(tmp_path, (LONG,), source))
        shown, _ = await shown_guide(pilot)
        source.show(401_730.0)
        await until(pilot, lambda: "NOW kHz" in words_on(app))
        await until(pilot, lambda: shown.query_one("#ask").size.height == len(broken(LONG.text, 70)))
        ask, entry = shown.query_one("#ask"), shown.query_one("#entry")
        assert ask.region.bottom <= entry.region.y
        assert entry.region.bottom <= 20
