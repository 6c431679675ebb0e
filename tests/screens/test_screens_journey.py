"""A whole alignment of the virtual FM set by keys alone, and what surrounds it."""

from pathlib import Path

from aligner.engine.answers import Note, Reading
from aligner.engine.asks import Ask, Confirm, Touch
from aligner.journal.listing import summaries
from aligner.screens.app import AlignerApp
from aligner.screens.ask_source import SourceScreen
from aligner.screens.desk import Desk
from aligner.screens.guide import Guide
from aligner.screens.held import LET_GO_S
from aligner.screens.jobs import Jobs
from aligner.screens.new_job import NewJob
from aligner.screens.reading_pages import Pages
from tests.screens.driving import AppPilot, kept, rested, shown_guide, taken, until, words_on

MOST_PRESSES = 150
"""For one touch; a person who watches the bar needs 10 to 30."""


def off(desk: Desk) -> float:
    """How far the reading is from the aim."""
    shown = desk.stream.gauge() if desk.stream is not None else None
    assert shown is not None
    return 0.0 if shown.inside else shown.off


async def turn_to_the_aim(pilot: AppPilot, desk: Desk, ask: Touch) -> None:
    """Turn as a person does: try one way, go back when it gets worse, and go back when the aim is passed."""
    rested(desk)
    entries = len(desk.history.entries)
    right_raises, key, begun, presses = True, "", off(desk), 0
    for _ in range(MOST_PRESSES):
        here = off(desk)
        if not here or len(desk.history.entries) > entries or desk.waiting:
            return
        wanted = "left" if (here > 0) == right_raises else "right"
        if wanted != key:
            key, begun, presses = wanted, here, 0
        fine = desk.stream is not None and desk.stream.too_coarse
        await pilot.press(f"shift+{key}" if fine else key)
        presses += 1
        if "turns no further" in desk.message:
            # Noise carried the reading over the aim and back: the key is let go, as told.
            await pilot.pause(1.2 * LET_GO_S)
        if len(desk.history.entries) > entries or desk.waiting:
            return
        now = off(desk)
        noise = 3 * ask.aim.within
        if presses >= 2 and now * begun > 0 and abs(now) > 1.02 * abs(begun) + noise:
            right_raises = not right_raises
    raise AssertionError(f"{ask.adjuster} does not come to its aim: still {off(desk):g} off")


async def answer(pilot: AppPilot, desk: Desk, ask: Ask) -> None:
    """Do what is asked with keys alone."""
    before = len(desk.history.entries)
    if not isinstance(ask, Confirm):
        await until(pilot, lambda: desk.stream is not None and desk.stream.live is not None)
    if isinstance(ask, Touch):
        await turn_to_the_aim(pilot, desk, ask)
    await taken(pilot, desk, ask, before)


async def test_the_virtual_fm_set_is_aligned_by_keys_alone_with_slips_on_the_way(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path, demo=True)
    async with app.run_test(size=(80, 24)) as pilot:
        _, desk = await shown_guide(pilot)
        assert "CAUTION" in words_on(app)
        slipped = False
        while desk.ask is not None:
            if desk.ask.step == "interstage" and not slipped:
                slipped = True
                await pilot.press("k", "space", "5", "backspace", "escape")  # wrong keys do nothing
                await kept(pilot, desk, "n", *"core is stiff", "enter")
                await kept(pilot, desk, "u", "u")  # the newest reading is taken back and asked for again
                continue
            await answer(pilot, desk, desk.ask)
        assert desk.survey is not None
        assert desk.survey.aligned
        # The paper way needs more than fifty; two a circuit are six, and a hand that stops badly may need a few more.
        assert desk.survey.touches <= 12
        assert Note("core is stiff") in [entry.answer for entry in desk.history.entries]
        assert "Aligned: every step is held" in words_on(app)
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, Jobs))
    assert [row.finished for row in summaries(tmp_path)] == [True]


async def test_a_job_left_in_the_middle_goes_on_by_enter_with_the_set_as_it_was_left(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path, demo=True)
    async with app.run_test(size=(80, 24)) as pilot:
        _, desk = await shown_guide(pilot)
        while not isinstance(desk.ask, Touch):
            assert desk.ask is not None
            await answer(pilot, desk, desk.ask)
        await pilot.press(*["left"] * 5)
        assert desk.stream is not None
        stood, left_ask, raising = desk.stream.live, desk.ask, desk.stream.raising
        assert raising
        await pilot.press("q")
        await until(pilot, lambda: isinstance(app.screen, Jobs))
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: "1 unfinished of 1" in words_on(app))
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, Pages))
        await pilot.press("enter", "enter")
        _, again = await shown_guide(pilot)
        assert again.ask == left_ask
        await until(pilot, lambda: again.stream is not None and again.stream.live is not None)
        assert stood is not None
        assert again.stream is not None
        assert again.stream.live is not None
        assert again.stream.raising == raising
        # Play in the thread, drift and the counter's last digit: far less than the five presses (20 kHz) moved it.
        assert abs(again.stream.live - stood) < 0.005 * stood


async def test_a_new_job_is_three_questions_and_starts_at_the_keyboard(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("n")
        await until(pilot, lambda: isinstance(app.screen, NewJob))
        await pilot.press("enter")
        await until(pilot, lambda: "what do you call the set" in words_on(app))
        await pilot.press(*"My tuner", "enter")
        await until(pilot, lambda: isinstance(app.screen, SourceScreen))
        await pilot.press("enter")
        guide, desk = await shown_guide(pilot)
        assert isinstance(guide, Guide)
        await kept(pilot, desk, "enter")
    (row,) = summaries(tmp_path)
    assert row.name == "My tuner"


async def test_a_faulty_procedure_is_shown_with_its_faults_and_nothing_begins(tmp_path: Path) -> None:
    faulty = tmp_path / "faulty.toml"
    faulty.write_text('format = 1\ntitel = "[/nope]"\n')
    app = AlignerApp(tmp_path / "jobs")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("n")
        await until(pilot, lambda: isinstance(app.screen, NewJob))
        await pilot.press("tab", *str(faulty), "enter")
        await until(pilot, lambda: "titel" in words_on(app))
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(app.screen, Jobs))
    assert summaries(tmp_path / "jobs") == ()


async def test_by_keyboard_alone_readings_are_typed_and_kept(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("n")
        await until(pilot, lambda: isinstance(app.screen, NewJob))
        await pilot.press("tab", *"fm-varactor", "enter")
        await until(pilot, lambda: "what do you call the set" in words_on(app))
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, SourceScreen))
        await pilot.press("enter")
        _, desk = await shown_guide(pilot)
        while isinstance(desk.ask, Confirm):
            await kept(pilot, desk, "enter")
        await kept(pilot, desk, *"381.26", "enter")
        assert isinstance(desk.history.entries[-1].answer, Reading)
        await kept(pilot, desk, *"447,65", "enter")
        assert isinstance(desk.ask, Touch)
        assert "TURN UNTIL IT READS" in words_on(app)
