"""How a finished file gets its place: in one stroke, and never over another."""

import contextlib
import os
import secrets
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from aligner.errors import JournalError
from aligner.journal.names import free_files

_SQLITE_HEADER: Final = 100  # [bytes], by the SQLite file format


@contextlib.contextmanager
def draft_in(folder: Path) -> Iterator[Path]:
    """A name for a file that is being made; what has not been placed at the end is removed."""
    draft = folder / f".{secrets.token_hex(8)}.new"
    try:
        yield draft
    finally:
        for path in (draft, draft.with_name(draft.name + "-journal")):
            with contextlib.suppress(OSError):
                path.unlink(missing_ok=True)


def placed_as_job(draft: Path, folder: Path, name: str) -> Path:
    """Give the draft the first free file name for a job of that name, and return it."""
    for path in free_files(folder, name):
        with contextlib.suppress(FileExistsError):  # another program took that number in this moment
            place(draft, path)
            return path
    raise AssertionError


def place(draft: Path, path: Path) -> None:
    """Give the draft its name; FileExistsError where there is such a file, JournalError where it cannot be done."""
    try:
        _place(draft, path)
    except FileExistsError:
        raise
    except OSError as error:
        raise JournalError(f"{path}: cannot be written ({error.strerror})") from error


def _place(draft: Path, path: Path) -> None:
    if sys.platform == "win32":
        draft.rename(path)  # which refuses there, where elsewhere it replaces
        return
    try:
        os.link(draft, path)
    except FileExistsError:
        raise
    except OSError:  # a file system without links: the name is claimed first, then filled in one stroke
        os.close(os.open(path, os.O_CREAT | os.O_EXCL, 0o600))
        draft.replace(path)
    _sync_folder(path.parent)


def _sync_folder(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):  # some file systems cannot sync a folder
            os.fsync(descriptor)
    finally:
        os.close(descriptor)


def demand_file(path: Path) -> None:
    """JournalError unless there is a file with something in it (SQLite takes a tiny one for an empty database)."""
    try:
        size = path.stat().st_size
    except OSError as error:
        raise JournalError(f"{path}: the job file cannot be read ({error.strerror})") from error
    if not path.is_file():
        raise JournalError(f"{path}: no job: this is no file")
    if size == 0:
        raise JournalError(f"{path}: no job: the file is empty")
    if size < _SQLITE_HEADER:
        raise JournalError(f"{path}: damaged: almost nothing is in it; take a copy kept elsewhere")
