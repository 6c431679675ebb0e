"""What can be done with jobs from their list: look at, copy, export, import, and the guided tour for newcomers."""

from pathlib import Path

from aligner.engine.asks import Confirm, Read, Touch
from aligner.journal.listing import summaries
from aligner.screens.app import AlignerApp
from aligner.screens.commands import GUIDE, JOBS, help_lines
from aligner.screens.folio import Folio
from aligner.screens.jobs import Jobs
from aligner.screens.one_line import OneLine
from aligner.screens.pages import help_text
from aligner.screens.reading_pages import Pages
from tests.screens.driving import AppPilot, kept, shown_guide, until, words_on


async def begin_and_close(pilot: AppPilot) -> None:
    """One job by the tour's procedure, left after its first answer."""
    await pilot.press("g")
    _, desk = await shown_guide(pilot)
    await kept(pilot, desk, "enter")
    await pilot.press("q")
    await until(pilot, lambda: isinstance(pilot.app.screen, Jobs))


async def test_a_newcomer_is_led_by_enter_through_six_asks_and_ends_with_an_aligned_oscillator(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: "No jobs yet" in words_on(app))
        await pilot.press("enter")
        _, desk = await shown_guide(pilot)
        kinds = []
        while desk.ask is not None:
            kinds.append(type(desk.ask))
            assert "TOUR" in words_on(app)
            await kept(pilot, desk, "enter" if isinstance(desk.ask, Confirm) else "a")
        # A hand that stops badly may need a touch and a reading more.
        assert kinds[:6] == [Confirm, Read, Read, Touch, Touch, Read]
        assert desk.survey is not None
        assert desk.survey.aligned
        assert "Enter closes the tour" in words_on(app)


async def test_a_job_is_looked_at_without_being_changed(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin_and_close(pilot)
        (before,) = summaries(tmp_path)
        await pilot.press("l")
        await until(pilot, lambda: isinstance(app.screen, Folio) and "So far " in words_on(app))
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(app.screen, Jobs))
    assert summaries(tmp_path) == (before,)


async def test_a_copy_begins_the_next_set_by_the_same_procedure_with_nothing_answered(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await begin_and_close(pilot)
        await pilot.press("c")
        await until(pilot, lambda: isinstance(app.screen, OneLine))
        await pilot.press(*"second set", "enter")
        _, desk = await shown_guide(pilot)
        assert desk.history.entries == ()
        assert desk.procedure.name == "tour"
    assert {row.name for row in summaries(tmp_path)} == {"Guided tour", "second set"}


async def test_a_job_goes_out_as_one_file_and_comes_in_again_elsewhere(tmp_path: Path) -> None:
    app, away = AlignerApp(tmp_path / "jobs"), tmp_path / "away"
    away.mkdir()
    async with app.run_test(size=(80, 24)) as pilot:
        await begin_and_close(pilot)
        await pilot.press("x")
        await until(pilot, lambda: isinstance(app.screen, OneLine))
        await pilot.press("ctrl+u", *str(away), "enter")
        await until(pilot, lambda: "Exported" in words_on(app))
    (sent,) = away.iterdir()
    app = AlignerApp(tmp_path / "other")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("i")
        await until(pilot, lambda: isinstance(app.screen, OneLine))
        await pilot.press(*str(sent), "enter")
        await until(pilot, lambda: "Taken in as guided-tour-1" in words_on(app))
        await pilot.press("i")
        await until(pilot, lambda: isinstance(app.screen, OneLine))
        await pilot.press(*str(tmp_path / "nothing.job"), "enter")
        await until(pilot, lambda: "nothing.job" in words_on(app) and isinstance(app.screen, Jobs))
    assert [row.entries for row in summaries(tmp_path / "other")] == [1]


async def test_the_help_names_every_key_of_both_tables_and_opens_everywhere(tmp_path: Path) -> None:
    keys = [key for key, _ in help_lines()]
    assert all(command.shown in keys for command in (*GUIDE, *JOBS))
    assert all(" ".join(command.help.split()[:2]) in " ".join(help_text().split()) for command in (*GUIDE, *JOBS))
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("question_mark")
        await until(pilot, lambda: isinstance(app.screen, Pages))
        assert words_on(app).index("IN THE LIST OF JOBS") < words_on(app).index("WHILE A JOB IS OPEN")
        assert words_on(app).startswith("Up/Down, PgUp/PgDn: scroll   Esc: back")
    assert help_text().index("WHILE A JOB IS OPEN") < help_text().index("IN THE LIST OF JOBS")


async def test_a_job_that_ended_with_a_step_set_aside_is_unfinished_and_goes_on_when_that_is_taken_up(
    tmp_path: Path,
) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.press("g")
        _, desk = await shown_guide(pilot)
        await kept(pilot, desk, "enter")
        await kept(pilot, desk, "s", *"no counter", "enter")
        assert desk.ask is None
        await pilot.press("q")
        await until(pilot, lambda: isinstance(app.screen, Jobs) and "Jobs: 1 unfinished of 1" in words_on(app))
        assert "g there takes up what was set aside" in words_on(app)
        (row,) = summaries(tmp_path)
        assert (row.ended, row.closed) == ("ended, with steps set aside", False)
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, Pages))
        assert "NEXT     nothing is asked; g takes up" in words_on(app)
        await pilot.press("enter")
        _, desk = await shown_guide(pilot)
        await until(pilot, lambda: "g: take up" in words_on(app))
        await kept(pilot, desk, "g", "y")
        assert isinstance(desk.ask, Read)


async def test_after_the_tour_the_list_offers_the_demo(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: "No jobs yet" in words_on(app))
        await pilot.press("down", "enter")
        _, desk = await shown_guide(pilot)
        assert desk.procedure.name == "fm-varactor"
        assert isinstance(desk.ask, Confirm)
        assert desk.ask.hazard
