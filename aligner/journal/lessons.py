"""The lessons of finished jobs under the very same procedure, for a job that begins."""

import contextlib
from pathlib import Path
from typing import Final

from aligner.engine.history import History
from aligner.engine.taught import Lesson, lesson_of, taught_by
from aligner.errors import AlignerError
from aligner.journal.listing import summaries
from aligner.journal.store import Journal
from aligner.procedure.model import Procedure

_MOST: Final = 5  # the newest few say as much as all, and a job must begin at once


def lessons_in(folder: Path, procedure: Procedure) -> str:
    """What the newest finished jobs of the folder teach a new one; a job that cannot be read teaches nothing."""
    lessons: list[Lesson] = []
    for row in summaries(folder):
        if len(lessons) == _MOST:
            break
        if row.finished and not row.fault:
            with contextlib.suppress(AlignerError):
                lessons.extend(_lesson(row.path, procedure))
    return taught_by(lessons)


def _lesson(path: Path, procedure: Procedure) -> list[Lesson]:
    with contextlib.closing(Journal.look(path)) as journal:
        if journal.head.procedure != procedure.text:
            return []
        history = History()
        for entry in journal.entries():
            history = history.with_entry(entry)
    # By the procedure as it stands in the file: what was taught before is not taught on as if it were seen again.
    return [lesson_of(procedure, history)]
