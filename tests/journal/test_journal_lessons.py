"""What finished jobs teach a new one under the very same procedure, and that it stays frozen in the job."""

from pathlib import Path

import pytest

from aligner.engine import run
from aligner.engine.answers import Reading
from aligner.engine.asks import Touch
from aligner.engine.history import History
from aligner.engine.taught import LEAST_SPREAD, lesson_of, taught_by, with_taught
from aligner.job import Job
from aligner.journal.lessons import lessons_in
from tests.engine.ideal_set import PER_TURN, Conversation, IdealSet
from tests.small_sets import FM, coverage, read

PROCEDURE = read(FM)
FAULTS = {"oscillator": (0.05, -0.03, 0.0, 0.0), "antenna": (-0.06, 0.05, 0.0, 0.0)}


def _work(job: Job, at_most: int = 80) -> None:
    """Lead an ideal set through the job."""
    virtual = IdealSet(job.procedure, FAULTS)
    for _ in range(at_most):
        ask = job.survey.ask
        if ask is None:
            return
        job.answer(virtual.answer(ask))


def _first_touch(job: Job) -> Touch:
    virtual = IdealSet(job.procedure, FAULTS)
    for _ in range(60):
        ask = job.survey.ask
        assert ask is not None
        if isinstance(ask, Touch) and ask.adjuster == "antenna-coil":
            return ask
        job.answer(virtual.answer(ask))
    raise AssertionError("it is never touched")


def _new(folder: Path, name: str) -> Job:
    return Job.create(PROCEDURE, name, folder, engine=run, taught=lessons_in(folder, PROCEDURE))


@pytest.fixture
def finished(tmp_path: Path) -> Path:
    """A folder with one finished job."""
    job = _new(tmp_path, "first")
    _work(job)
    assert job.survey.ask is None
    job.close()
    return tmp_path


def test_an_empty_folder_teaches_nothing(tmp_path: Path) -> None:
    assert lessons_in(tmp_path, PROCEDURE) == "{}"
    assert with_taught(PROCEDURE, "{}") is PROCEDURE
    assert with_taught(PROCEDURE, "no lesson") is PROCEDURE


def test_effect_and_sense_are_learned_from_a_finished_job() -> None:
    talk = Conversation(PROCEDURE, FAULTS)
    talk.work_to_the_end()
    lesson = lesson_of(PROCEDURE, talk.history)
    assert lesson == {"antenna-coil": pytest.approx(PER_TURN, rel=0.25)}  # the others have no turns to count


def test_lessons_of_several_jobs_are_put_together_and_never_surer_than_sets_are_alike() -> None:
    procedure = with_taught(PROCEDURE, taught_by([{"antenna-coil": 0.03}, {"antenna-coil": 0.048}]))
    taught = procedure.adjuster("antenna-coil").taught
    assert taught is not None
    assert taught.per_turn == pytest.approx((0.03 * 0.048) ** 0.5, rel=1e-3)
    assert (taught.spread, taught.sense, taught.jobs) == (LEAST_SPREAD, 1, 2)
    split = with_taught(PROCEDURE, taught_by([{"antenna-coil": 0.03}, {"antenna-coil": -0.03}]))
    divided = split.adjuster("antenna-coil").taught
    assert divided is not None
    assert divided.sense == 0
    assert len({PROCEDURE.digest, procedure.digest, split.digest}) == 3


def test_the_next_job_says_turns_and_way_before_anything_was_counted(finished: Path) -> None:
    taught, untaught = _new(finished, "second"), Job.create(PROCEDURE, "third", finished, engine=run)
    ask, plain = _first_touch(taught), _first_touch(untaught)
    assert plain.amount is None
    assert ask.amount is not None
    answer = IdealSet(PROCEDURE, FAULTS).answer(plain)
    assert isinstance(answer, Reading)
    assert answer.turns is not None
    assert ask.amount.value == pytest.approx(answer.turns, rel=0.4)
    assert "clockwise" in ask.text
    taught.close()
    untaught.close()


def test_what_was_taught_is_frozen_into_the_job_and_read_back_with_it(finished: Path) -> None:
    job = _new(finished, "second")
    ask = _first_touch(job)
    path, head = job.path, job.head
    job.close()
    for kept in finished.glob("first*"):
        kept.unlink()
    again = Job.open(path, engine=run)
    assert again.head.taught == head.taught != "{}"
    assert again.survey.ask == ask
    again.close()


def test_a_job_copied_from_a_taught_one_begins_with_its_own_lessons(finished: Path) -> None:
    job = _new(finished, "second")
    copy = Job.create(job.procedure, "copy", finished, engine=run)
    assert all(adjuster.taught is None for adjuster in copy.procedure.adjusters)
    job.close()
    copy.close()


def test_jobs_that_are_not_finished_or_under_another_procedure_teach_nothing(finished: Path, tmp_path: Path) -> None:
    other = read(FM.replace(coverage(), coverage(tolerance="60 kHz")))
    assert lessons_in(finished, other) == "{}"
    begun = tmp_path / "begun"
    job = _new(begun, "begun")
    _work(job, 6)
    job.close()
    assert lessons_in(begun, PROCEDURE) == "{}"


def test_nothing_is_taught_by_an_empty_history() -> None:
    assert lesson_of(PROCEDURE, History()) == {}
