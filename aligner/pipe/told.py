"""What goes out: notices and asks as lines of JSON, each flushed when it is written."""

import contextlib
import math
import os
from collections.abc import Iterator
from typing import BinaryIO, Final

import msgspec

from aligner.engine.asks import Ask, Turning
from aligner.engine.survey import StepReport, Survey
from aligner.errors import InputEnded
from aligner.job import Job

PIPE_VERSION: Final = 1


class Voice:
    """The one who speaks: one object a line. InputEnded where nobody listens any more."""

    def __init__(self, target: BinaryIO) -> None:
        self._target = target

    def tell(self, line: dict[str, object] | Ask) -> None:
        """Write the line, whole, and let it go."""
        try:
            self._target.write(msgspec.json.encode(line) + b"\n")
            self._target.flush()
        except (OSError, ValueError) as error:  # a pipe that was closed at the other end, or here
            self._let_go()
            raise InputEnded("whoever reads the output has gone; the job is kept") from error

    def _let_go(self) -> None:
        """Lead what is still held to nowhere, or the interpreter would try to write it at its end, and complain."""
        with contextlib.suppress(OSError, ValueError):
            nowhere = os.open(os.devnull, os.O_WRONLY)
            try:
                os.dup2(nowhere, self._target.fileno())
            finally:
                os.close(nowhere)


def job_line(job: Job) -> dict[str, object]:
    """The first line. left_open: the adjuster of an ask that was left open, which may have been turned already."""
    file = os.fsencode(job.path.absolute()).decode("utf-8", "replace")  # a name of another encoding must not break it
    line: dict[str, object] = {
        "tell": "job",
        "pipe": PIPE_VERSION,
        "job": job.name,
        "file": file,
        "entries": len(job.history.entries),
    }
    ask = job.survey.ask if job.history.entries else None
    return line | {"left_open": ask.adjuster} if isinstance(ask, Turning) else line


def problem_line(why: str) -> dict[str, object]:
    """Nothing was recorded."""
    return {"tell": "problem", "why": why}


def doubt_lines(survey: Survey) -> Iterator[dict[str, object]]:
    """The doubt, where the newest answer stands questioned."""
    if survey.doubt and survey.ask is not None:
        yield {"tell": "doubt", "id": survey.ask.id, "why": survey.doubt}


def standing_steps(survey: Survey) -> Iterator[dict[str, object]]:
    """A notice of each step that is not to do."""
    return (_step_line(report) for report in survey.steps if report.state != "to-do")


def changed_steps(before: Survey, after: Survey) -> Iterator[dict[str, object]]:
    """A notice of each step whose state or error is another than before."""
    known = {report.id: (report.state, _finite(report.error)) for report in before.steps}
    for report in after.steps:
        if known.get(report.id) != (report.state, _finite(report.error)):
            yield _step_line(report)


def done_line(survey: Survey) -> dict[str, object]:
    """The last line."""
    return {
        "tell": "done",
        "aligned": survey.aligned,
        "steps": {report.id: report.state for report in survey.steps},
        "touches": survey.touches,
        "readings": survey.readings,
    }


def _step_line(report: StepReport) -> dict[str, object]:
    line: dict[str, object] = {"tell": "step", "step": report.id, "state": report.state}
    if report.why:
        line["why"] = report.why
    for key in ("error", "tolerance", "plus_minus"):
        number = _finite(getattr(report, key))
        if number is not None:
            line[key] = number
    return line


def _finite(number: float | None) -> float | None:
    return number if number is not None and math.isfinite(number) else None
