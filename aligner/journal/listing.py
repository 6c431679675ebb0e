"""The list of jobs: what each is and how far it has come, read without computing anything."""

from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Final, TextIO

from aligner.errors import JournalError, UsageError
from aligner.journal.names import job_files
from aligner.text import clean

_HEADINGS: Final = ("job", "set", "procedure", "entries", "created", "changed", "state")
_WIDEST: Final = 40
_ENDS: Final = {"aligned": "aligned", "at-limit": "ended at limit", "set-aside": "ended, with steps set aside"}
_END: Final = "finished"  # where an older program has not noted how


@dataclass(frozen=True, slots=True)
class Summary:
    """One job of the list. created, changed [s] since 1970; where `fault` is not empty, nothing else is known.

    job is the file's name without its ending, which is the job's name in its folder; name is the name of the set.
    """

    path: Path
    job: str
    name: str = ""
    title: str = ""
    entries: int = 0
    created: float = 0.0
    changed: float = 0.0
    finished: bool = False
    step: str = ""
    step_title: str = ""
    fault: str = ""
    ended: str = ""  # of a finished job, in words
    aside: bool = False  # finished, but for steps that were set aside: they may still be taken up

    @property
    def closed(self) -> bool:
        """Whether nothing is left to be done in it."""
        return self.finished and not self.aside


def summaries(folder: Path) -> tuple[Summary, ...]:
    """All jobs of the folder, the one changed last first; damaged ones at the end."""
    rows = [_summary(path) for path in job_files(folder)]
    return tuple(sorted(rows, key=lambda row: (bool(row.fault), -row.changed, row.job)))


def find_job(folder: Path, name: str) -> Path | None:
    """The file of the job of that name, or of the only job on a set of that name; UsageError where there are more.

    Names are compared with what is in the folder and never made into a path, so none leads out of it.
    """
    for path in job_files(folder):
        if name in (path.stem, path.name):
            return path
    rows = [row for row in summaries(folder) if name and row.name == name and not row.fault]
    if len(rows) > 1:
        raise UsageError(f"there are several jobs on {clean(name)!r}: name one of {', '.join(row.job for row in rows)}")
    return rows[0].path if rows else None


def print_jobs(folder: Path, out: TextIO) -> None:
    """Write the list as a table of plain text."""
    rows = summaries(folder)
    if not rows:
        out.write(f"No jobs in {clean(str(folder))}.\n")
        return
    table = [_HEADINGS, *(_cells(row) for row in rows)]
    widths = [max(len(cells[column]) for cells in table) for column in range(len(_HEADINGS) - 1)]
    for cells in table:
        padded = [cell.ljust(width) for cell, width in zip(cells, widths, strict=False)]
        out.write("  ".join((*padded, cells[-1])).rstrip() + "\n")


def _summary(path: Path) -> Summary:
    from aligner.journal.store import glance  # noqa: PLC0415 - an empty list need not wait for the database

    job = clean(path.stem)
    try:
        seen = glance(path)
    except JournalError as error:
        return Summary(path, job, fault=clean(str(error).removeprefix(f"{path}: ")))
    head = seen.head
    step = "" if seen.finished else seen.step
    title = _step_title(head.procedure, step) if step else ""
    times = head.created, seen.changed
    ended = _ENDS.get(seen.step, _END) if seen.finished else ""
    aside = seen.finished and seen.step == "set-aside"
    done = seen.entries, *times, seen.finished
    return Summary(path, job, head.name, head.title, *done, step, title, ended=ended, aside=aside)


@lru_cache(maxsize=32)
def _step_title(procedure: str, step: str) -> str:
    """The title of a step in a procedure's text; its id where that has none or cannot be read."""
    import tomllib  # noqa: PLC0415 - the list does not wait for it where no job is unfinished

    try:
        rows = tomllib.loads(procedure).get("step", [])
    except tomllib.TOMLDecodeError:
        rows = []
    found = [row for row in rows if isinstance(row, dict) and row.get("id") == step] if isinstance(rows, list) else []
    return clean(str(found[0].get("title") or step), _WIDEST) if found else step


def _cells(row: Summary) -> tuple[str, ...]:
    if row.fault:
        return (row.job, "", "", "", "", "", f"cannot be read: {row.fault}")
    state = row.ended if row.finished else f"at {row.step_title or row.step}" if row.step else "begun"
    texts = (clean(row.name, _WIDEST), clean(row.title, _WIDEST))
    return (row.job, *texts, str(row.entries), _shown(row.created), _shown(row.changed), state)


def _shown(moment_s: float) -> str:
    try:
        return datetime.fromtimestamp(moment_s).astimezone().strftime("%Y-%m-%d %H:%M")
    except (OverflowError, OSError, ValueError):  # a clock that was wrong, or a file that was altered
        return "unknown"
