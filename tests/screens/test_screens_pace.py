"""What keeps a key from waiting is in force when the screens run: asserted by what is done, never by the clock."""

import subprocess
import sys
from pathlib import Path

import pytest
from textual.geometry import Size
from textual.screen import Screen

from aligner.screens.app import AlignerApp
from aligner.screens.face import Face
from aligner.screens.jobs import Jobs
from aligner.screens.pace import PAINTS_A_SECOND
from aligner.screens.row import Row
from tests.screens.driving import at_rest, shown_guide, until, words_on
from tests.screens.scripted import CONFIRM, READ, TOUCH, guide


def test_the_framework_takes_our_pace_of_paints() -> None:
    script = (
        "from aligner.screens.pace import hurry; hurry(); import textual.screen as s; print(round(1 / s.UPDATE_PERIOD))"
    )
    shown = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == PAINTS_A_SECOND


def test_the_command_sets_the_pace_before_the_framework_is_loaded() -> None:
    script = (
        "import sys\n"
        "from aligner import cli\n"
        "from aligner.screens import pace\n"
        "cli._demand_terminal = lambda: None\n"
        "def hurry():\n"
        "    print('textual' in sys.modules)\n"
        "    sys.exit(0)\n"
        "pace.hurry = hurry\n"
        "cli.main([])\n"
    )
    shown = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == "False"


async def test_a_key_that_is_typed_lays_nothing_out_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app, laid_out = AlignerApp(tmp_path), []
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(guide(tmp_path, (READ, TOUCH)))
        await shown_guide(pilot)
        await until(pilot, lambda: "type the reading" in words_on(app))
        await pilot.pause()
        lay_out = Screen._refresh_layout

        def counted(screen: Screen[None], size: Size | None = None, scroll: bool = False) -> None:
            laid_out.append(1)
            lay_out(screen, size, scroll)

        monkeypatch.setattr(Screen, "_refresh_layout", counted)
        await pilot.press("3")
        await until(pilot, lambda: "3_" in words_on(app))
        await pilot.pause()
        assert laid_out == []


async def test_a_row_of_fixed_size_keeps_it_whatever_it_says(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(guide(tmp_path, (CONFIRM, READ)))
        seen, _ = await shown_guide(pilot)
        rows = [row for row in seen.query_one(Face).query(Row) if row._fixed]

        def sizes() -> dict[str, Size]:
            return {str(row.id): row.size for row in rows}

        before = await at_rest(pilot, sizes)
        for row in rows:
            row.update("long words, and more of them\n" * 40, layout=True)
        assert await at_rest(pilot, sizes) == before
        assert {row.id for row in rows} == {"head", "steps", "log", "entry", "foot"}


async def test_the_list_of_jobs_is_the_first_screen_with_none_below_it(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: "No jobs yet" in words_on(app))
        assert [type(screen) for screen in app.screen_stack] == [Jobs]


def test_the_first_screen_waits_for_no_database_and_no_numbers() -> None:
    script = "import sys, aligner.cli, aligner.log, aligner.screens.app; print(sorted(SLOW & set(sys.modules)))"
    slow = (
        "SLOW = {'sqlite3', 'msgspec', 'numpy', 'serial', 'tomllib', 'importlib.metadata', 'aligner.journal.store'}\n"
    )
    shown = subprocess.run([sys.executable, "-c", slow + script], capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == "[]"
