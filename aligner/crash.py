"""The crash file: what is needed to find a fault of ours, and nothing of what a person wrote into the job."""

import os
import platform
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from aligner import __version__
from aligner.log import failure_lines, log_folder

_LIBRARIES = ("textual", "rich", "numpy", "scipy", "msgspec", "pyserial", "platformdirs")


@dataclass
class _Running:
    """What runs now, for a crash that is only seen at the outermost edge."""

    job: Path | None = None


_RUNNING = _Running()


def running_job(path: Path | None) -> None:
    """Say which job is open (None: none), so that a crash file can name it."""
    _RUNNING.job = path


def write_crash(error: BaseException, job: Path | None = None, folder: Path | None = None) -> Path | None:
    """Write the crash file and return its path; None where nowhere on this machine a file can be written.

    It names the job's file (the one given, or the one said to be open), and does not look into it.
    """
    text = crash_text(error, job or _RUNNING.job)
    second, part_ns = divmod(time.time_ns(), 1_000_000_000)
    name = f"crash-{time.strftime('%Y%m%d-%H%M%S', time.gmtime(second))}-{part_ns:09}-{os.getpid()}.txt"
    for place in (folder or log_folder(), Path(tempfile.gettempdir())):
        try:
            place.mkdir(parents=True, exist_ok=True)
            path = place / name
            with path.open("x", encoding="utf-8", errors="backslashreplace") as file:
                file.write(text)
        except OSError:
            continue
        return path
    return None


def crash_text(error: BaseException, job: Path | None = None) -> str:
    """Versions, the job's file, and the failure by its kinds and places; its message is left out, it could quote."""
    lines = (
        f"aligner {__version__}",
        f"Python {sys.version.split()[0]} on {platform.system()} {platform.release()} {platform.machine()}",
        *(f"{name} {_version(name)}" for name in _LIBRARIES),
        f"job file: {job if job is not None else 'none was open'}",
        "",
        *failure_lines(error),
    )
    return "\n".join(lines) + "\n"


def _version(library: str) -> str:
    from importlib import metadata  # noqa: PLC0415 - slow to load, and hardly ever needed

    try:
        return metadata.version(library)
    except metadata.PackageNotFoundError:
        return "is not installed"
