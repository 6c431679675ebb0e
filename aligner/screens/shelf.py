"""What can be done with a job from the list without going on with it; slow things, called on a thread."""

from pathlib import Path

from aligner.errors import AlignerError
from aligner.job import Job
from aligner.journal.names import SUFFIX
from aligner.journal.store import export_job, import_job
from aligner.procedure.model import Procedure
from aligner.screens.insight import Subject
from aligner.screens.launch import plain_terminal
from aligner.text import clean


def exported(job: Path, typed: str) -> str:
    """Write the job to the file (or into the folder) that was typed; what to tell of it."""
    target = Path(typed).expanduser()
    if target.is_dir():
        target /= job.name
    if not target.suffix:
        target = target.with_suffix(SUFFIX)
    try:
        export_job(job, target)
    except (AlignerError, OSError) as error:
        return clean(str(error))
    return f"Exported, whole, to {clean(str(target.absolute()), 300)}"


def imported(typed: str, folder: Path) -> str:
    """Take a job file from elsewhere into the list; what to tell of it."""
    try:
        taken = import_job(Path(typed).expanduser(), folder)
    except (AlignerError, OSError) as error:
        return clean(str(error))
    return f"Taken in as {clean(taken.stem, 60)}."


def looked_at(job: Path) -> Subject:
    """The job as it stands; nothing is written, and another program may be at work on it."""
    seen = Job.look(job)
    try:
        return Subject(seen.procedure, seen.history, seen.survey, plain_terminal())
    finally:
        seen.close()


def procedure_of(job: Path) -> Procedure:
    """The procedure as it was when that job began."""
    seen = Job.look(job)
    try:
        return seen.procedure
    finally:
        seen.close()
