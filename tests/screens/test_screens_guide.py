"""The guide driven by keys, over a job that asks what the test has written down."""

from pathlib import Path

import pytest
from textual import events
from textual.containers import VerticalScroll

from aligner.engine.answers import Done, Note, Reading, Sitting
from aligner.errors import JournalError
from aligner.job import Job
from aligner.screens.app import AlignerApp
from aligner.screens.jobs import Jobs
from aligner.screens.opening import Opening
from aligner.screens.reading_pages import Pages
from aligner.screens.sources import Choice, remember, remembered
from aligner.screens.themes import THEMES
from tests.screens.driving import kept, shown_guide, until, words_on
from tests.screens.scripted import CONFIRM, READ, TOUCH, ScriptedEngine, ShownSource, guide


async def test_a_typed_reading_is_echoed_then_kept_then_shown_as_taken(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(guide(tmp_path, (READ, TOUCH)))
        _, desk = await shown_guide(pilot)
        await pilot.press(*"383,6")
        assert "383,6_   = 383.6 kHz" in words_on(app)
        await kept(pilot, desk, "enter")
        assert isinstance(desk.history.entries[0].answer, Reading)
        assert desk.history.entries[0].answer.value == pytest.approx(383_600.0)
        await until(pilot, lambda: "TURN UNTIL IT READS" in words_on(app))


async def test_a_live_reading_is_taken_by_one_key(tmp_path: Path) -> None:
    app, source = AlignerApp(tmp_path), ShownSource()
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(guide(tmp_path, (READ, TOUCH), source))
        _, desk = await shown_guide(pilot)
        source.show(*[383_600.0] * 8)
        await until(pilot, lambda: desk.stream is not None and desk.stream.live is not None)
        await kept(pilot, desk, "enter")
        answer = desk.history.entries[0].answer
        assert isinstance(answer, Reading)
        assert answer.seen is not None
        assert (answer.value, answer.seen.n >= 5) == (383_600.0, True)


async def test_a_touch_is_taken_without_a_hand_on_the_keyboard(tmp_path: Path) -> None:
    app, source = AlignerApp(tmp_path), ShownSource()
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(guide(tmp_path, (TOUCH, READ), source))
        _, desk = await shown_guide(pilot)
        source.show(390_000.0, *[385_620.0] * 8)
        await until(pilot, lambda: desk.history.entries)
        assert desk.history.entries[0].ask == TOUCH


async def test_with_the_port_lost_the_message_shows_and_the_keyboard_goes_on(tmp_path: Path) -> None:
    app, source = AlignerApp(tmp_path), ShownSource()
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(guide(tmp_path, (READ, TOUCH), source))
        _, desk = await shown_guide(pilot)
        source.show(400_000.0)
        await until(pilot, lambda: "NOW kHz" in words_on(app))
        source.message, source.connected = "/dev/counter is lost: plug it in again", False
        await until(pilot, lambda: "is lost: plug it in again" in words_on(app))
        assert "NOW kHz" not in words_on(app)
        await pilot.press("enter", "enter")
        assert not desk.history.entries
        await kept(pilot, desk, *"383.6", "enter")
        assert desk.ask == TOUCH


async def test_a_small_window_says_so_and_still_takes_readings(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(44, 12)) as pilot:
        app.push_screen(guide(tmp_path, (READ, TOUCH)))
        _, desk = await shown_guide(pilot)
        await until(pilot, lambda: "Window 44x12: 80x24 shows all" in words_on(app))
        await kept(pilot, desk, *"383.6", "enter")
        assert desk.ask == TOUCH
        await pilot.resize_terminal(80, 24)
        await until(pilot, lambda: "STEPS" in words_on(app))


async def test_hostile_text_reaches_neither_the_record_nor_the_screen(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    hostile = "[/nope] [bold]x \x1b]0;title\x07\x9b2J"
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(guide(tmp_path, (READ, TOUCH)))
        shown, desk = await shown_guide(pilot)
        await pilot.press("n")
        shown.post_message(events.Paste(hostile))
        await until(pilot, lambda: "[/nope]" in desk.line.text)
        await kept(pilot, desk, "enter")
        note = desk.history.entries[0].answer
        assert isinstance(note, Note)
        assert note.text == "[/nope] [bold]x"
        await until(pilot, lambda: "[/nope] [bold]x" in words_on(app))
        assert "\x1b" not in words_on(app)


async def test_a_later_sitting_confirms_the_cautions_before_it_shows_the_open_ask(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(guide(tmp_path, (CONFIRM, READ)))
        _, desk = await shown_guide(pilot)
        await kept(pilot, desk, "enter")
        await pilot.press("q")
        await until(pilot, lambda: isinstance(app.screen, Jobs))
        again = guide(tmp_path, (CONFIRM, READ))
        again._opening = Opening(lambda: reopened(tmp_path), again._opening.source, fresh=False)
        app.push_screen(again)
        await until(pilot, lambda: isinstance(app.screen, Pages))
        await until(pilot, lambda: "CAUTION" in words_on(app))
        assert again.desk is None
        await pilot.press("enter")
        await until(pilot, lambda: "DONE" in words_on(app))
        await pilot.press("enter")
        _, desk = await shown_guide(pilot)
        await until(pilot, lambda: isinstance(desk.history.entries[-1].answer, Sitting))
        assert desk.ask == READ


async def test_leaving_at_the_cautions_leaves_the_job_as_it_was(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(guide(tmp_path, (CONFIRM, READ)))
        _, desk = await shown_guide(pilot)
        await kept(pilot, desk, "enter")
        await pilot.press("q")
        await until(pilot, lambda: isinstance(app.screen, Jobs))
        again = guide(tmp_path, (CONFIRM, READ))
        again._opening = Opening(lambda: reopened(tmp_path), again._opening.source, fresh=False)
        app.push_screen(again)
        await until(pilot, lambda: isinstance(app.screen, Pages))
        await pilot.press("q")
        await until(pilot, lambda: isinstance(app.screen, Jobs))
        job = reopened(tmp_path)
        assert [type(entry.answer) for entry in job.history.entries] == [Done]
        job.close()


async def test_where_nothing_is_read_z_says_so_and_leaves_the_steps(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(guide(tmp_path, (CONFIRM,)))
        shown, _ = await shown_guide(pilot)
        await pilot.press("z")
        assert not shown.face.has_class("zoomed")
        assert "z shows a reading alone, and none is asked for now." in words_on(app)


async def test_help_zoom_and_colours_are_one_key_each(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(guide(tmp_path, (READ,)))
        shown, _ = await shown_guide(pilot)
        await pilot.press("z")
        assert shown.face.has_class("zoomed")
        assert "z steps and log back" in words_on(app)
        for theme in (*THEMES[1:], THEMES[0]):
            await pilot.press("t")
            await until(pilot, lambda name=theme.name: app.theme == name)  # type: ignore[misc]
        await pilot.press("question_mark")
        await until(pilot, lambda: isinstance(app.screen, Pages))
        assert "Take back the newest answer" in words_on(app)
        page = app.screen.query_one(VerticalScroll)
        await until(pilot, lambda: page.max_scroll_y > page.size.height)
        await pilot.press("pagedown")
        await until(pilot, lambda: page.scroll_y == page.size.height - 1)
        await pilot.press("end")
        await until(pilot, lambda: page.scroll_y == page.max_scroll_y)
        await pilot.press("home")
        await until(pilot, lambda: page.scroll_y == 0)
        await pilot.press("escape")
        await until(pilot, lambda: app.screen is shown)


async def test_a_job_that_cannot_be_opened_is_told_of_in_the_list(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        broken = guide(tmp_path, (READ,))

        def fail() -> Job:
            raise JournalError("the job is locked by another program")

        broken._opening = Opening(fail, broken._opening.source, fresh=True)
        jobs = app.screen
        assert isinstance(jobs, Jobs)
        app.push_screen(broken, lambda words: jobs.say(words or ""))
        await until(pilot, lambda: "locked by another program" in words_on(app))


async def test_a_bug_of_ours_ends_the_application_with_that_very_error(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)

    def fail() -> Job:
        raise RuntimeError("a bug")

    async def meet_it() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            broken = guide(tmp_path, (READ,))
            broken._opening = Opening(fail, broken._opening.source, fresh=True)
            app.push_screen(broken)
            await until(pilot, lambda: app.failure() is not None)

    with pytest.raises(RuntimeError, match="a bug"):
        await meet_it()
    assert isinstance(app.failure(), RuntimeError)


def test_the_source_of_a_job_is_remembered_beside_it_and_a_damaged_note_is_none(tmp_path: Path) -> None:
    job = tmp_path / "a-set-1.job"
    assert remembered(job) is None
    remember(job, Choice("serial", "/dev/counter", 115200))
    assert remembered(job) == Choice("serial", "/dev/counter", 115200)
    job.with_suffix(".source.json").write_text('{"source": {"kind": "telepathy"}}')
    assert remembered(job) is None


def reopened(folder: Path) -> Job:
    engine = ScriptedEngine((CONFIRM, READ))
    (path,) = folder.glob("*.job")
    return Job.open(path, engine=engine)
