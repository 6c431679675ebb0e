"""A sweep that another instrument wrote into a file, taken by keys."""

from pathlib import Path

from aligner.engine.answers import SweepSeen
from aligner.engine.asks import Sweep
from aligner.screens.app import AlignerApp
from aligner.screens.one_line import OneLine
from aligner.screens.questions import Question
from aligner.screens.sweep_file import NOT_NOW, about_file
from tests.screens.driving import kept, shown_guide, until, words_on
from tests.screens.scripted import READ, guide

SWEEP = Sweep(id=7, step="antenna", text="Sweep the filter.", quantity="level", from_hz=10.5e6, to_hz=10.9e6, count=5)
POINTS = ((10.6e6, -6.0), (10.7e6, 0.0), (10.8e6, -5.5))
TABLE = "frequency [MHz];level [dB]\n10.7;0.0\n10.6;-6.0\n10.8;-5.5\n"


async def test_a_sweep_is_taken_from_a_file_once_it_is_said_what_is_in_it(tmp_path: Path) -> None:
    file = tmp_path / "sweep.csv"
    file.write_text(TABLE)
    app = AlignerApp(tmp_path / "jobs")
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(guide(tmp_path / "jobs", (SWEEP, READ)))
        shown, desk = await shown_guide(pilot)
        assert "f from a file" in words_on(app)
        await pilot.press("f")
        await until(pilot, lambda: isinstance(app.screen, OneLine))
        await pilot.press(*str(tmp_path / "none.csv"), "enter")
        await until(pilot, lambda: app.screen is shown and desk.message)
        assert "none.csv" in desk.message
        await pilot.press("f")
        await until(pilot, lambda: isinstance(app.screen, OneLine))
        await pilot.press(*str(file), "enter")
        await until(pilot, lambda: app.screen is shown and desk.question is not None)
        assert "Take 3 points from 10.6 MHz to 10.8 MHz" in words_on(app)
        await kept(pilot, desk, "enter")
        assert desk.history.entries[0].answer == SweepSeen(POINTS)


def test_a_file_in_another_unit_is_refused_with_both_named(tmp_path: Path) -> None:
    file = tmp_path / "volts.csv"
    file.write_text("frequency [MHz];volts [V]\n10.6;-0.6\n10.7;0.0\n10.8;0.5\n")
    assert about_file(str(file), SWEEP) == "volts.csv holds V, and dB is asked for."


def test_a_damaged_file_is_told_of_with_its_line(tmp_path: Path) -> None:
    file = tmp_path / "odd.csv"
    file.write_text(TABLE + "10.9;\x1b[2J-7\n")
    said = about_file(str(file), SWEEP)
    assert not isinstance(said, Question)
    assert "odd.csv:5" in said
    assert "\x1b" not in said


async def test_where_no_sweep_is_asked_for_the_key_says_so(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(guide(tmp_path, (READ,)))
        _, desk = await shown_guide(pilot)
        await pilot.press("f")
        await until(pilot, lambda: desk.message)
        assert desk.message == NOT_NOW
