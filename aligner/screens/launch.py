"""Guides for new jobs and for old ones, each with its source of readings."""

import sys
from collections.abc import Callable
from pathlib import Path

from aligner import shipped
from aligner.job import Job
from aligner.procedure.library import find
from aligner.procedure.model import Procedure
from aligner.procedure.reader import read_procedure
from aligner.screens.guide import Guide
from aligner.screens.opening import Opening
from aligner.screens.sources import Choice, Plugged, felt_before, plugged, remember
from aligner.screens.tour import TOUR

DEMO_PROCEDURE = "fm-varactor"
DEMO_NAME = "Virtual FM set"


def begun(procedure: Path, name: str, folder: Path, choice: Choice) -> Guide:
    """The guide of a new job."""
    return _guide(lambda: _new(read_procedure(procedure), name, folder), choice, fresh=True)


def copied(procedure: Procedure, name: str, folder: Path, choice: Choice) -> Guide:
    """The guide of a new job by a procedure that another job has kept, as it was then."""
    return _guide(lambda: _new(procedure, name, folder), choice, fresh=True)


def _new(procedure: Procedure, name: str, folder: Path) -> Job:
    """A new job that knows what finished ones of the folder taught; on the job's own thread, for it computes."""
    from aligner.journal.lessons import lessons_in  # noqa: PLC0415 - physics must not delay the first screen

    return Job.create(procedure, name, folder, taught=lessons_in(folder, procedure))


def tour(folder: Path) -> Guide:
    """A fresh job of six asks on the virtual set, each with a word of what it is about."""
    return begun(shipped.folder("demo_data") / f"{TOUR}.toml", "Guided tour", folder, Choice("virtual"))


def resumed(job: Path, choice: Choice) -> Guide:
    """The guide of a job that was begun before."""
    return _guide(lambda: Job.open(job), choice, fresh=False)


def demo(folder: Path) -> Guide:
    """A fresh job on the virtual set, with nothing to choose."""
    return begun(find(DEMO_PROCEDURE), DEMO_NAME, folder, Choice("virtual"))


def plain_terminal() -> bool:
    """Whether the terminal's encoding has no block characters."""
    # While the application runs, the name without the underscores is the framework's, which knows no encoding.
    encoding = sys.__stdout__.encoding if sys.__stdout__ is not None else ""
    return not (encoding or "").lower().startswith("utf")


def _guide(job: Callable[[], Job], choice: Choice, *, fresh: bool) -> Guide:
    def source(opened: Job) -> Plugged:
        source_in_use = plugged(choice, opened.procedure, opened.path)
        virtual = source_in_use.virtual
        if virtual is None:
            remember(opened.path, choice)
        else:
            remember(opened.path, choice, virtual.positions(), felt_before(opened.path))
        return source_in_use

    return Guide(Opening(job, source, fresh), ascii_only=plain_terminal())
