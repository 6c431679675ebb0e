"""The shell around the pure engine: one job with its clock and its journal, and the one thread that owns them.

The order is always: the engine judges the answer, the journal has it on the disk, then the survey is computed and may
be shown. So whatever was shown as taken is on the disk, and where the computing should fail the answer is kept.
"""

import contextlib
import math
import queue
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Protocol

from aligner import __version__
from aligner.engine.answers import Answer
from aligner.engine.history import Entry, History
from aligner.engine.survey import Survey
from aligner.errors import AlignerError, AnswerError, JournalError, ProcedureError
from aligner.journal.form import Head
from aligner.journal.store import Journal
from aligner.procedure.model import Procedure
from aligner.procedure.reader import parse_procedure
from aligner.text import clean

Clock = Callable[[], float]

_LONGEST_JOB_S: Final = 1e9
"""About 30 years. A greater `at_s` is a mistake, and once kept it would hold for everything after it."""


class Engine(Protocol):
    """What a job needs of the engine; the module `aligner.engine.run` is one."""

    def survey(self, procedure: Procedure, history: History, /) -> Survey:
        """What is known after that history."""
        ...

    def entry_for(self, procedure: Procedure, history: History, answer: Answer, at_s: float, version: str, /) -> Entry:
        """The entry that keeps the answer; AnswerError where it does not fit the open ask."""
        ...


class Job:
    """One alignment of one set. It belongs to the thread that opened it."""

    def __init__(self, journal: Journal, procedure: Procedure, engine: Engine | None, clock: Clock) -> None:
        self.procedure = procedure
        self.history = History()
        self._journal = journal
        self._engine = engine if engine is not None else _engine()
        self._clock = clock
        self._survey: Survey | None = None
        self._marked: tuple[str, bool] | None = None
        self._read_back()

    @classmethod
    def create(
        cls,
        procedure: Procedure,
        name: str,
        folder: Path,
        *,
        clock: Clock = time.time,
        engine: Engine | None = None,
        taught: str = "{}",
    ) -> "Job":
        """A new job on the set of that name (or none), in a file of its own, under the procedure as it is now."""
        title = clean(procedure.title)
        head = Head(clean(name), procedure.name, title, procedure.text, clock(), __version__, taught)
        old = any(adjuster.taught for adjuster in procedure.adjusters)  # of the job that it was copied from
        return cls._begun(Journal.create(folder, head), None if old else procedure, engine, clock)

    @classmethod
    def open(cls, path: Path, *, clock: Clock = time.time, engine: Engine | None = None) -> "Job":
        """The job of that file, to go on with; JournalError where another program has it, or it is damaged or newer."""
        return cls._begun(Journal.open(path), None, engine, clock)

    @classmethod
    def look(cls, path: Path, *, engine: Engine | None = None) -> "Job":
        """The job of that file as it stands now, only to look at."""
        return cls._begun(Journal.look(path), None, engine, time.time)

    @classmethod
    def _begun(cls, journal: Journal, procedure: Procedure | None, engine: Engine | None, clock: Clock) -> "Job":
        try:
            return cls(journal, _taught(procedure or _procedure_of(journal), journal.head.taught), engine, clock)
        except BaseException:
            journal.close()
            raise

    @property
    def path(self) -> Path:
        """The job's file."""
        return self._journal.path

    @property
    def name(self) -> str:
        """The job's name, which no other in its folder has: the file's name without its ending."""
        return self._journal.path.stem

    @property
    def head(self) -> Head:
        """What was fixed when the job began: name of the set, procedure, time, program, what other jobs taught."""
        return self._journal.head

    @property
    def survey(self) -> Survey:
        """What is known after everything that was answered."""
        if self._survey is None:
            self._survey = self._engine.survey(self.procedure, self.history)
            self._mark(self._survey)
        return self._survey

    def answer(
        self, answer: Answer, at_s: float | None = None, *, ask_id: int | None = None, given: float | None = None
    ) -> Survey:
        """Take the answer: judged, then on the disk, then computed. ask_id: refused unless that ask is the open one.

        at_s [s] is the time since the job began that the answer itself carries; else it counts from `given`, the wall
        clock when the answer was given [s since 1970], which is now unless said.
        AnswerError where it does not fit, and JournalError where it cannot be written: then nothing was recorded.
        """
        if ask_id is not None:
            self._demand_open(ask_id)
        moment_s = self._moment(at_s, given)
        entry = self._engine.entry_for(self.procedure, self.history, answer, moment_s, __version__)
        self._keep(entry)
        return self.survey

    def close(self) -> None:
        """Close the file; the job can be opened again, here or elsewhere."""
        self._journal.close()

    def _demand_open(self, ask_id: int) -> None:
        ask = self.survey.ask
        if ask is None:
            raise AnswerError(f"ask {ask_id} is closed: nothing is left to do")
        if ask.id != ask_id:
            raise AnswerError(f"ask {ask_id} is not open; the open one is {ask.id}")

    def _moment(self, at_s: float | None, given: float | None) -> float:
        """The time since the job began [s]; it never runs backwards, even where the clock of the computer does."""
        newest_s = self.history.entries[-1].at_s if self.history.entries else 0.0
        if at_s is None:
            now = given if given is not None else self._clock()
            return max(newest_s, min(now - self.head.created, _LONGEST_JOB_S))
        if not (math.isfinite(at_s) and 0 <= at_s <= _LONGEST_JOB_S):
            raise AnswerError(f"at_s is the time in seconds since the job began, 0 to {_LONGEST_JOB_S:.0e}, not {at_s}")
        return max(newest_s, float(at_s))

    def _keep(self, entry: Entry) -> None:
        try:
            kept = self._journal.append(entry, self._clock())
        except JournalError:
            # A disk that fails in a COMMIT leaves open whether the entry was kept: what can be read back decides.
            with contextlib.suppress(JournalError):
                self._read_back()
            raise
        self.history = self.history.with_entry(kept)
        self._survey = None

    def _read_back(self) -> None:
        entries = self._journal.entries()
        if len(entries) != len(self.history.entries) or not entries:
            history = History()
            for entry in entries:
                history = history.with_entry(entry)
            self.history, self._survey = history, None

    def _mark(self, survey: Survey) -> None:
        standing = (survey.running if survey.ask is not None else how_ended(survey), survey.ask is None)
        if standing == self._marked:
            return
        seq = self.history.entries[-1].seq if self.history.entries else 0
        # Only for lists of jobs, so that a full disk or a job that is only looked at is no reason to stop here.
        with contextlib.suppress(JournalError):
            self._journal.mark(seq, standing[0], finished=standing[1])
        self._marked = standing


def how_ended(survey: Survey) -> str:
    """How a finished job has ended, for lists: "aligned", or the state of a step that is not held.

    A step that was set aside comes first: it may still be taken up.
    """
    states = {report.state for report in survey.steps}
    limit = "at-limit" in states and "set-aside" not in states
    return "aligned" if survey.aligned else "at-limit" if limit else "set-aside"


@dataclass(frozen=True, slots=True)
class Opened:
    """The job is open."""

    path: Path
    head: Head
    procedure: Procedure
    history: History
    survey: Survey


@dataclass(frozen=True, slots=True)
class NotOpened:
    """The job cannot be opened; the worker has ended."""

    error: AlignerError


@dataclass(frozen=True, slots=True)
class Kept:
    """The answer is on the disk; the newest entry of the history holds it (and says where it is doubted)."""

    answer: Answer
    history: History
    survey: Survey


@dataclass(frozen=True, slots=True)
class Refused:
    """The answer does not fit the open ask; nothing was recorded."""

    answer: Answer
    error: AnswerError


@dataclass(frozen=True, slots=True)
class NotKept:
    """The answer could not be written (disk full, file locked); what was kept before is sound. Post it again."""

    answer: Answer
    error: JournalError


@dataclass(frozen=True, slots=True)
class Broken:
    """Something failed that should not: a bug of ours. What was kept is sound; the worker has ended."""

    error: Exception


Event = Opened | NotOpened | Kept | Refused | NotKept | Broken


@dataclass(frozen=True, slots=True)
class _Post:
    answer: Answer
    at_s: float | None
    ask_id: int | None
    posted: float


class JobWorker:
    """The one thread that owns a job: its connection, clock, engine and fit.

    `opening` is called on that thread, as is `report` with every event: for each post exactly one, in the order of the
    posts. Give the `put` of a queue as `report`, or a function that hands the event to another thread.
    """

    def __init__(self, opening: Callable[[], Job], report: Callable[[Event], None], clock: Clock = time.time) -> None:
        self._opening = opening
        self._report = report
        self._clock = clock
        self._posts: queue.SimpleQueue[_Post | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._work, name="job", daemon=True)

    def start(self) -> None:
        """Begin; the first event is Opened, NotOpened or Broken."""
        self._thread.start()

    def post(self, answer: Answer, at_s: float | None = None, *, ask_id: int | None = None) -> None:
        """Hand over an answer, given now; give ask_id, or a second key press would answer the ask after this one."""
        self._posts.put(_Post(answer, at_s, ask_id, self._clock()))

    def stop(self, timeout_s: float | None = None) -> bool:
        """Keep what was posted, close the job and end; False where that takes longer."""
        self._posts.put(None)
        self._thread.join(timeout_s)
        return not self._thread.is_alive()

    def _work(self) -> None:
        try:
            with contextlib.closing(self._opening()) as job:
                self._report(Opened(job.path, job.head, job.procedure, job.history, job.survey))
                while (post := self._posts.get()) is not None:
                    self._report(_outcome(job, post))
        except AlignerError as error:
            self._report(NotOpened(error))
        except Exception as error:  # noqa: BLE001 - the edge of the worker: the other thread must hear of it
            self._report(Broken(error))


def _outcome(job: Job, post: _Post) -> Kept | Refused | NotKept:
    try:
        survey = job.answer(post.answer, post.at_s, ask_id=post.ask_id, given=post.posted)
    except AnswerError as error:
        return Refused(post.answer, error)
    except JournalError as error:
        return NotKept(post.answer, error)
    return Kept(post.answer, job.history, survey)


def _engine() -> Engine:
    # Not at import: the engine's numerical libraries would delay whatever only needs the names above.
    from aligner.engine import run  # noqa: PLC0415

    return run


def _taught(procedure: Procedure, taught: str) -> Procedure:
    """The procedure with what other jobs taught; the module computes physics, so it is loaded only where it is used."""
    if taught in ("", "{}"):
        return procedure
    from aligner.engine.taught import with_taught  # noqa: PLC0415 - see above

    return with_taught(procedure, taught)


def _procedure_of(journal: Journal) -> Procedure:
    name = journal.head.procedure_name
    try:
        return parse_procedure(journal.head.procedure, f"{name}.toml")
    except ProcedureError as error:
        raise JournalError(f"{journal.path}: the procedure kept in it cannot be read: {error}") from error
