"""Coming back after a break: one reading tells whether the set still is as it was left."""

from pathlib import Path

import pytest

from aligner.engine.answers import Answer, Done, Note, Reading
from aligner.engine.asks import Ask
from aligner.engine.history import Entry, History
from aligner.job import Job
from aligner.screens.app import AlignerApp
from aligner.screens.comeback import judged, left_at
from aligner.screens.guide import Guide
from aligner.screens.one_line import OneLine
from aligner.screens.opening import Opening
from aligner.screens.reading_pages import Pages
from aligner.screens.sources import Choice, Plugged
from tests.screens.driving import until
from tests.screens.scripted import CONFIRM, CORE, READ, TOUCH, ScriptedEngine, procedure


def history(*said: tuple[Ask, Answer]) -> History:
    made = History()
    for seq, (ask, answer) in enumerate(said, 1):
        made = made.with_entry(Entry(seq, float(seq), "0", ask, answer))
    return made


def test_the_newest_frequency_of_a_circuit_that_was_not_turned_since_is_asked_for() -> None:
    left = left_at(history((CONFIRM, Done()), (READ, Reading(383_600.0)), (TOUCH, Reading(385_620.0))))
    assert left is not None
    assert "Set it to 2 V and read the counter: it showed 385.62 kHz" in left.question
    assert left_at(history((CONFIRM, Done()))) is None


def test_a_level_says_nothing_of_it_and_a_reading_from_before_a_touch_is_no_measure() -> None:
    assert left_at(history((READ, Reading(383_600.0)), (CORE, Reading(-6.0)))) is not None
    turned = TOUCH.__class__(**{**{f: getattr(CORE, f) for f in CORE.__struct_fields__}, "circuit": "oscillator"})
    assert left_at(history((READ, Reading(383_600.0)), (turned, Reading(-6.0)))) is None


def test_a_circuit_whose_adjuster_may_have_been_turned_before_the_break_is_no_measure() -> None:
    said = history((READ, Reading(383_600.0)))
    assert left_at(said, CORE) is not None
    assert left_at(said, TOUCH) is None


@pytest.mark.parametrize(("typed", "word"), [("385.65", "as it was left"), ("386.9 kHz", "moved by")])
def test_what_is_read_is_compared_and_kept_as_a_note(typed: str, word: str) -> None:
    left = left_at(history((TOUCH, Reading(385_620.0))))
    assert left is not None
    found = judged(left, typed)
    assert isinstance(found, tuple)
    assert isinstance(found[0], Note)
    assert word in found[0].text
    assert isinstance(judged(left, "many"), str)


async def test_at_a_later_sitting_the_question_comes_after_the_cautions_and_its_answer_into_the_record(
    tmp_path: Path,
) -> None:
    engine = ScriptedEngine((READ, CORE))
    begun = Job.create(procedure(), "a set", tmp_path, engine=engine)
    begun.answer(Reading(383_600.0))
    begun.close()
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        shown = Guide(Opening(lambda: Job.open(begun.path, engine=engine), lambda _: Plugged(Choice()), fresh=False))
        app.push_screen(shown)
        await until(pilot, lambda: isinstance(app.screen, Pages))
        while isinstance(app.screen, Pages):
            await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, OneLine))
        await pilot.press(*"383.6", "enter")
        await until(pilot, lambda: shown.desk is not None and len(shown.desk.history.entries) == 3)
        assert shown.desk is not None
        assert shown.desk.ask == CORE
        answer = shown.desk.history.entries[-1].answer
        assert isinstance(answer, Note)
        assert "as it was left" in answer.text


async def test_undo_in_a_finished_job_that_is_only_looked_at_brings_the_cautions_before_the_set(tmp_path: Path) -> None:
    engine = ScriptedEngine((READ,))
    ended = Job.create(procedure(), "a set", tmp_path, engine=engine)
    ended.answer(Reading(383_600.0))
    ended.close()
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        shown = Guide(Opening(lambda: Job.open(ended.path, engine=engine), lambda _: Plugged(Choice()), fresh=False))
        app.push_screen(shown)
        await until(pilot, lambda: shown.desk is not None and shown.desk.seen is not None)
        assert app.screen is shown
        await pilot.press("u")
        await pilot.press("y")
        await until(pilot, lambda: isinstance(app.screen, Pages))
        while isinstance(app.screen, Pages):
            await pilot.press("enter")
        assert shown.desk is not None
        assert shown.desk.ask == READ
