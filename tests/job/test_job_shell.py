import contextlib
import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from aligner import __version__
from aligner.engine.answers import Done, Note, Reading, SetAside, Undo
from aligner.engine.history import Entry, History
from aligner.engine.survey import Survey
from aligner.errors import AnswerError, JournalError
from aligner.job import Job
from aligner.journal.listing import summaries
from aligner.procedure.library import find
from aligner.procedure.model import Procedure
from aligner.procedure.reader import read_procedure
from tests import plain_engine

PROCEDURE = read_procedure(find("fm-varactor"))


class Clock:
    """A clock that stands until it is set."""

    def __init__(self, now: float = 1_700_000_000.0) -> None:
        self.now = now

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def job(tmp_path: Path, clock: Clock) -> Iterator[Job]:
    made = Job.create(PROCEDURE, "Kitchen radio", tmp_path, clock=clock, engine=plain_engine)
    with contextlib.closing(made):
        yield made


def reopened(job: Job) -> Job:
    job.close()
    return Job.open(job.path, engine=plain_engine)


def test_a_new_job_freezes_procedure_name_and_time(job: Job, clock: Clock) -> None:
    clock.now += 60
    again = reopened(job)
    with contextlib.closing(again):
        assert again.procedure == PROCEDURE
        assert again.head.name == "Kitchen radio"
        assert again.head.created == 1_700_000_000.0
        assert again.head.version == __version__
        assert again.name == "kitchen-radio-1"


def test_an_answer_is_on_the_disk_before_the_survey_is_computed(tmp_path: Path) -> None:
    kept: list[int] = []

    class Watching:
        entry_for = staticmethod(plain_engine.entry_for)

        def survey(self, procedure: Procedure, history: History, /) -> Survey:
            kept.extend(row.entries for row in summaries(tmp_path))
            return plain_engine.survey(procedure, history)

    with contextlib.closing(Job.create(PROCEDURE, "set", tmp_path, engine=Watching())) as job:
        job.answer(Done())
        job.answer(Reading(5.0))
    assert kept == [1, 2]


def test_an_answer_whose_survey_fails_is_kept_all_the_same(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(procedure: Procedure, history: History, /) -> Survey:
        raise ZeroDivisionError

    def entry(procedure: Procedure, history: History, answer: object, at_s: float, version: str, /) -> Entry:
        return Entry(1, at_s, version, None, Done())

    monkeypatch.setattr(plain_engine, "survey", broken)
    monkeypatch.setattr(plain_engine, "entry_for", entry)
    with pytest.raises(ZeroDivisionError):
        job.answer(Done())
    with contextlib.closing(reopened(job)) as again:
        assert len(again.history.entries) == 1


def test_reading_the_job_back_gives_the_same_history_and_survey(job: Job) -> None:
    job.answer(Done())
    job.answer(Reading(5))
    job.answer(Note("a\x1b[31mb\nc"))
    history, survey = job.history, job.survey
    with contextlib.closing(reopened(job)) as again:
        assert again.history == history
        assert again.history.digest == history.digest
        assert repr(again.survey) == repr(survey)  # NaN in a report is not equal to itself


def test_time_is_counted_from_the_beginning_and_never_runs_backwards(job: Job, clock: Clock) -> None:
    clock.now += 12.5
    job.answer(Done())
    clock.now -= 3600
    job.answer(Reading(5.0))
    job.answer(Note("x"), at_s=1.0)
    job.answer(Note("y"), at_s=99.0)
    clock.now += 3600
    job.answer(Note("z"))
    assert [entry.at_s for entry in job.history.entries] == [12.5, 12.5, 12.5, 99.0, 99.0]


def test_a_clock_that_was_set_right_in_mid_job_does_not_stop_it(tmp_path: Path) -> None:
    clock = Clock(100.0)  # a computer without a battery begins in 1970
    with contextlib.closing(Job.create(PROCEDURE, "set", tmp_path, clock=clock, engine=plain_engine)) as job:
        clock.now = 1_700_000_000.0
        job.answer(Done())
        job.answer(Reading(5.0), given=clock.now)
        assert len(job.history.entries) == 2


@pytest.mark.parametrize("at_s", [-1.0, math.nan, math.inf, 1e12])
def test_an_impossible_time_is_refused(job: Job, at_s: float) -> None:
    with pytest.raises(AnswerError, match="at_s"):
        job.answer(Done(), at_s)
    assert job.history == History()


def test_an_answer_to_an_ask_that_is_not_open_is_refused(job: Job) -> None:
    job.answer(Done(), ask_id=1)
    before = job.history
    for closed in (1, 3, -1):
        with pytest.raises(AnswerError, match="is not open; the open one is 2"):
            job.answer(Reading(5.0), ask_id=closed)
    with pytest.raises(AnswerError):
        job.answer(Done(), ask_id=2)
    assert job.history is before


def test_when_nothing_is_left_to_do_an_id_is_closed(job: Job) -> None:
    while job.survey.ask is not None:
        job.answer(SetAside("not today"))
    with pytest.raises(AnswerError, match="nothing is left to do"):
        job.answer(Done(), ask_id=5)


def test_a_disk_that_fails_leaves_the_job_usable(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    job.answer(Done())
    ask = job.survey.ask
    connection = job._journal._connection
    connection.execute(f"PRAGMA max_page_count = {connection.execute('PRAGMA page_count').fetchone()[0]}")
    with pytest.raises(JournalError, match="no room"):
        job.answer(Note("x" * 60_000))
    assert len(job.history.entries) == 1
    assert job.survey.ask == ask
    connection.execute("PRAGMA max_page_count = 100000")
    job.answer(Reading(5.0))
    assert len(job.history.entries) == 2


def test_a_commit_that_fails_after_it_was_made_is_read_back(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    append = job._journal.append

    def late(entry: Entry, at: float) -> Entry:
        append(entry, at)
        raise JournalError("the disk gave an error")

    monkeypatch.setattr(job._journal, "append", late)
    with pytest.raises(JournalError):
        job.answer(Done(), ask_id=1)
    monkeypatch.undo()
    assert len(job.history.entries) == 1
    with pytest.raises(AnswerError, match="is not open"):
        job.answer(Done(), ask_id=1)


def test_the_list_follows_the_open_step_and_the_end(job: Job, tmp_path: Path) -> None:
    def listed() -> tuple[str, bool, int]:
        (row,) = summaries(tmp_path)
        return row.step, row.finished, row.entries

    assert job.survey.running == "connect"
    assert listed() == ("connect", False, 0)
    job.answer(Done())
    assert listed() == ("coverage", False, 1)
    for _ in range(4):
        job.answer(SetAside("not today"))
    assert listed() == ("", True, 5)
    (row,) = summaries(tmp_path)
    assert row.ended == "ended, with steps set aside"
    assert row.aside
    assert not row.closed
    job.answer(Undo())
    assert listed() == ("final", False, 6)


def test_a_second_program_may_look_and_not_write(job: Job) -> None:
    job.answer(Done())
    with pytest.raises(JournalError, match="another program"):
        Job.open(job.path, engine=plain_engine)
    with contextlib.closing(Job.look(job.path, engine=plain_engine)) as seen:
        assert seen.history == job.history
        assert seen.survey.ask == job.survey.ask
        with pytest.raises(JournalError, match="only to look"):
            seen.answer(Reading(5.0))


def test_a_job_whose_procedure_is_not_understood_is_the_file_s_fault(tmp_path: Path) -> None:
    broken = replace(PROCEDURE, text="format = 99\n")
    Job.create(broken, "set", tmp_path, engine=plain_engine).close()
    for _ in range(2):  # the lock must have been let go of
        with pytest.raises(JournalError, match="the procedure kept in it cannot be read"):
            Job.open(tmp_path / "set-1.job", engine=plain_engine)
