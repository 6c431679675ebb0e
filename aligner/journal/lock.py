"""One writer a job: a lock that the operating system lets go of by itself when the program ends, however it ends.

The lock is on a small file of its own beside the job. Locking the job file itself would be a trap: on POSIX systems
SQLite loses its own locks as soon as anything in the same program opens and closes that file.
"""

import contextlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from aligner.errors import JournalError

if sys.platform == "win32":
    import msvcrt

    def _grasp(descriptor: int) -> None:
        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)

    def _give_up(path: Path, descriptor: int) -> None:
        os.close(descriptor)
        with contextlib.suppress(OSError):  # another program may have opened it in this moment: then it is theirs
            path.unlink(missing_ok=True)
else:
    import fcntl

    def _grasp(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)

    def _give_up(path: Path, descriptor: int) -> None:
        with contextlib.suppress(OSError):  # the folder may have gone; the lock ends with the closing
            path.unlink(missing_ok=True)  # while still held, so that nobody can have locked what is removed
        os.close(descriptor)


_TRIES: Final = 100


class Lock:
    """The right to write to one job, held until `release` or the end of the program."""

    def __init__(self, job: Path) -> None:
        self._path = job.with_name(job.name + ".lock")
        with _told(self._path):
            self._descriptor: int | None = _locked(self._path, job)

    def release(self) -> None:
        """Let go of the job; the lock's file goes with it."""
        descriptor, self._descriptor = self._descriptor, None
        if descriptor is not None:
            _give_up(self._path, descriptor)


def _locked(path: Path, job: Path) -> int:
    for _ in range(_TRIES):
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            _grasp(descriptor)
        except OSError as error:
            os.close(descriptor)
            raise JournalError(
                f"{job}: another program is working on this job; close it there, or only look at the job"
            ) from error
        if _still_there(path, descriptor):
            return descriptor
        os.close(descriptor)  # its holder removed the file between our opening and our locking it
    raise JournalError(f"{path}: the lock cannot be had; try again")


def _still_there(path: Path, descriptor: int) -> bool:
    if sys.platform == "win32":
        return True  # an open file cannot be removed there
    try:
        return path.stat().st_ino == os.fstat(descriptor).st_ino
    except FileNotFoundError:
        return False


@contextlib.contextmanager
def _told(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise JournalError(f"{path}: the job cannot be locked ({error.strerror}); is its folder writable?") from error
