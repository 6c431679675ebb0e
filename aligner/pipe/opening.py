"""Which job the argument of the command means."""

from pathlib import Path
from typing import Final

from aligner.engine.answers import SwitchWay
from aligner.errors import UsageError
from aligner.job import Clock, Engine, Job
from aligner.journal.listing import find_job
from aligner.procedure.library import find
from aligner.procedure.model import Procedure, TrackingStep, Way
from aligner.procedure.reader import read_procedure
from aligner.text import clean

_PROCEDURE: Final = ".toml"


def open_job(
    argument: str,
    jobs_folder: Path,
    *,
    by: Way | None = None,
    name: str | None = None,
    clock: Clock,
    engine: Engine | None,
) -> Job:
    """The job of a job file, a new one of a procedure file, the job of that name, or a new one of a shipped procedure.

    by: the way of seeing to switch to. name: that of the set, where the job is new.
    """
    kept = _kept_job(argument, jobs_folder)
    if kept is not None:
        if name is not None:
            raise UsageError(f"{clean(argument)} is a job already; a name goes with a new one")
        job = Job.open(kept, clock=clock, engine=engine)
    else:
        procedure = read_procedure(_procedure_file(argument, jobs_folder))
        if by is not None:
            _demand_way(procedure, by)
        from aligner.journal.lessons import lessons_in  # noqa: PLC0415 - physics waits until a job begins

        taught = lessons_in(jobs_folder, procedure)
        job = Job.create(procedure, name or "", jobs_folder, clock=clock, engine=engine, taught=taught)
    try:
        if by is not None:
            _switch(job, by)
    except BaseException:
        job.close()
        raise
    return job


def _kept_job(argument: str, jobs_folder: Path) -> Path | None:
    path = Path(argument)
    if path.suffix.lower() == _PROCEDURE:
        return None
    return path if _is_file(path) else find_job(jobs_folder, argument)


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):  # a name that no file can have
        return False


def _procedure_file(argument: str, jobs_folder: Path) -> Path:
    path = Path(argument)
    if path.suffix.lower() == _PROCEDURE:
        return path
    try:
        return find(argument)
    except UsageError as error:
        raise UsageError(
            f"{clean(argument)}: no job file, no procedure file, and no job in {clean(str(jobs_folder))}. {error}"
        ) from error


def _demand_way(procedure: Procedure, way: Way) -> None:
    listed = {known for step in procedure.steps if isinstance(step, TrackingStep) for known in step.by}
    if way not in listed:
        ways = ", ".join(sorted(listed)) or "none"
        raise UsageError(f"--by {way}: no step of this procedure can be seen that way (listed: {ways})")


def _switch(job: Job, way: Way) -> None:
    """Switch all steps, unless that is how they were switched last."""
    _demand_way(job.procedure, way)
    switches = [entry.answer for entry in job.history.live() if isinstance(entry.answer, SwitchWay)]
    if job.survey.ask is not None and switches[-1:] != [SwitchWay(way)]:
        job.answer(SwitchWay(way))
