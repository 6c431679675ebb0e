import queue
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from aligner.engine.answers import Done, Note, Reading
from aligner.errors import JournalError
from aligner.job import Broken, Event, Job, JobWorker, Kept, NotKept, NotOpened, Opened, Refused
from aligner.procedure.library import find
from aligner.procedure.reader import read_procedure
from tests import plain_engine

PROCEDURE = read_procedure(find("fm-varactor"))
LONG_ENOUGH_S = 20.0  # nothing here takes a hundredth of it; a worker that hangs must still end the test


class Desk:
    """A worker on a new job, and what it reported."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.events: queue.Queue[Event] = queue.Queue()
        self.threads: set[int] = set()
        self.jobs: list[Job] = []
        self.worker = JobWorker(self._open, self._report)

    def _open(self) -> Job:
        self.threads.add(threading.get_ident())
        self.jobs.append(Job.create(PROCEDURE, "set", self.folder, engine=plain_engine))
        return self.jobs[0]

    def _report(self, event: Event) -> None:
        self.threads.add(threading.get_ident())
        self.events.put(event)

    def next(self) -> Event:
        return self.events.get(timeout=LONG_ENOUGH_S)


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    made = Desk(tmp_path)
    made.worker.start()
    yield made
    assert made.worker.stop(LONG_ENOUGH_S)


def test_each_post_brings_one_event_in_order(desk: Desk) -> None:
    opened = desk.next()
    assert isinstance(opened, Opened)
    assert opened.survey.ask is not None
    assert opened.path == desk.folder / "set-1.job"
    desk.worker.post(Done(), ask_id=1)
    desk.worker.post(Done(), ask_id=1)
    desk.worker.post(Reading(5.0), ask_id=2)
    kept, refused, last = desk.next(), desk.next(), desk.next()
    assert isinstance(kept, Kept)
    assert kept.survey.running == "coverage"
    assert isinstance(refused, Refused)
    assert "is not open" in str(refused.error)
    assert isinstance(last, Kept)
    assert [entry.answer for entry in last.history.entries] == [Done(), Reading(5.0)]


def test_everything_happens_on_one_thread_that_is_not_ours(desk: Desk) -> None:
    desk.next()
    desk.worker.post(Done())
    desk.next()
    assert len(desk.threads) == 1
    assert threading.get_ident() not in desk.threads


def test_what_was_posted_before_the_stop_is_kept(desk: Desk) -> None:
    for number in range(20):
        desk.worker.post(Note(f"note {number}"))
    assert desk.worker.stop(LONG_ENOUGH_S)
    again = Job.open(desk.folder / "set-1.job", engine=plain_engine)
    assert len(again.history.entries) == 20
    again.close()


def test_a_full_disk_is_an_event_and_the_same_answer_can_be_posted_again(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk.next()
    with monkeypatch.context() as patch:

        def full(*_: object) -> None:
            raise JournalError("no room on the disk")

        patch.setattr(desk.jobs[0]._journal, "append", full)
        desk.worker.post(Done(), ask_id=1)
        event = desk.next()
        assert isinstance(event, NotKept)
        assert "no room" in str(event.error)
    desk.worker.post(event.answer, ask_id=1)
    again = desk.next()
    assert isinstance(again, Kept)
    assert len(again.history.entries) == 1


def test_a_job_that_another_has_is_an_event(tmp_path: Path) -> None:
    first = Job.create(PROCEDURE, "set", tmp_path, engine=plain_engine)
    events: queue.Queue[Event] = queue.Queue()
    worker = JobWorker(lambda: Job.open(first.path, engine=plain_engine), events.put)
    worker.start()
    event = events.get(timeout=LONG_ENOUGH_S)
    assert isinstance(event, NotOpened)
    assert "another program" in str(event.error)
    assert worker.stop(LONG_ENOUGH_S)
    first.close()


def test_a_bug_is_an_event_and_the_job_is_closed(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    desk.next()
    desk.worker.post(Done())
    desk.next()

    def broken(*_: object) -> None:
        raise ZeroDivisionError

    with monkeypatch.context() as patch:
        patch.setattr(plain_engine, "survey", broken)
        desk.worker.post(Note("x"))
        event = desk.next()
    assert isinstance(event, Broken)
    assert isinstance(event.error, ZeroDivisionError)
    assert desk.worker.stop(LONG_ENOUGH_S)
    again = Job.open(desk.folder / "set-1.job", engine=plain_engine)
    assert len(again.history.entries) in {1, 2}
    again.close()


def test_the_moment_of_an_answer_is_that_of_its_posting(tmp_path: Path) -> None:
    now = [1000.0]
    gate = threading.Event()
    events: queue.Queue[Event] = queue.Queue()

    def opening() -> Job:
        job = Job.create(PROCEDURE, "set", tmp_path, engine=plain_engine, clock=lambda: now[0])
        gate.wait(LONG_ENOUGH_S)
        return job

    worker = JobWorker(opening, events.put, clock=lambda: now[0])
    worker.start()
    while not list(tmp_path.glob("*.lock")):  # until the job has begun, at 1000
        pass
    now[0] = 1007.0
    worker.post(Done())
    now[0] = 1100.0
    gate.set()
    assert worker.stop(LONG_ENOUGH_S)
    events.get(timeout=LONG_ENOUGH_S)
    kept = events.get(timeout=LONG_ENOUGH_S)
    assert isinstance(kept, Kept)
    assert kept.history.entries[0].at_s == 7.0
