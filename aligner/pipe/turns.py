"""The turn-taking.

First the line of the job and a notice of each step that is not to do. Then, after the start and after every line that
comes in: notices (a problem or a doubt before those of steps, which follow in procedure order), and then exactly one
line, which is the open ask or `done`. After `done` the pipe ends; where the input ends before, the job is kept. Only a
job that is opened when it has ended with steps set aside is told `done` and listens on, so that one can be taken up.
"""

import contextlib
import signal
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from types import FrameType
from typing import BinaryIO, Final

from aligner.errors import AnswerError, Exit, InputEnded
from aligner.job import Clock, Engine, Job
from aligner.pipe.heard import heard, lines_of
from aligner.pipe.opening import open_job
from aligner.pipe.told import (
    Voice,
    changed_steps,
    done_line,
    doubt_lines,
    job_line,
    problem_line,
    standing_steps,
)
from aligner.procedure.model import Way

_INTERRUPTIONS: Final = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")  # not every platform has each


def run(
    argument: str,
    jobs_folder: Path,
    stdin: BinaryIO,
    stdout: BinaryIO,
    *,
    by: Way | None = None,
    name: str | None = None,
    engine: Engine | None = None,
    clock: Clock = time.time,
) -> Exit:
    """Lead one job over the pipe to its end, or to the end of the input. Both streams are of bytes: UTF-8, LF.

    UsageError, ProcedureError and JournalError are for the caller to tell.
    """
    try:
        with (
            _interruptible(),
            contextlib.closing(open_job(argument, jobs_folder, by=by, name=name, clock=clock, engine=engine)) as job,
        ):
            return _converse(job, stdin, Voice(stdout))
    except (InputEnded, KeyboardInterrupt):
        return Exit.INPUT_ENDED


def _converse(job: Job, stdin: BinaryIO, voice: Voice) -> Exit:
    voice.tell(job_line(job))
    for notice in (*doubt_lines(job.survey), *standing_steps(job.survey)):
        voice.tell(notice)
    ended = _turn_given(job, voice)
    may_go_on = any(report.state == "set-aside" for report in job.survey.steps)
    if ended and not may_go_on:
        return Exit.DONE
    for line in lines_of(stdin):
        _take(job, line, voice)
        before, ended = ended, _turn_given(job, voice)
        if ended and not before:
            return Exit.DONE
    return Exit.DONE if ended else Exit.INPUT_ENDED


def _take(job: Job, line: bytes | None, voice: Voice) -> None:
    before = job.survey
    try:
        said = heard(line)
        after = job.answer(said.answer, said.at_s, ask_id=said.ask_id)
    except AnswerError as error:
        voice.tell(problem_line(str(error)))
        return
    questioned = bool(job.history.entries[-1].doubt)  # and not merely still in doubt, while a note was taken
    for notice in (*(doubt_lines(after) if questioned else ()), *changed_steps(before, after)):
        voice.tell(notice)


def _turn_given(job: Job, voice: Voice) -> bool:
    """Tell the open ask, or that nothing is left to do: then True."""
    ask = job.survey.ask
    voice.tell(done_line(job.survey) if ask is None else ask)
    return ask is None


@contextlib.contextmanager
def _interruptible() -> Iterator[None]:
    """Signals that mean "stop" as InputEnded, so that the job is closed in good order.

    Where one comes between the COMMIT of an answer and its being shown, the answer is kept; the next start shows it.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    found = [getattr(signal, name) for name in _INTERRUPTIONS if hasattr(signal, name)]
    before = {number: signal.signal(number, _interrupt) for number in found}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _interrupt(number: int, _frame: FrameType | None) -> None:
    raise InputEnded(f"interrupted by {signal.Signals(number).name}; the job is kept")
