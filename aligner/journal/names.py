"""Where jobs lie, and what their files are called."""

import re
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import platformdirs

from aligner.errors import JournalError

SUFFIX: Final = ".job"
_LONGEST_SLUG: Final = 40


def jobs_folder(chosen: Path | None = None) -> Path:
    """The chosen folder, or the one that this platform keeps for us; it need not exist yet."""
    return chosen if chosen is not None else Path(platformdirs.user_data_dir("aligner", appauthor=False)) / "jobs"


def made_folder(folder: Path) -> Path:
    """The folder, made where it did not exist."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise JournalError(f"{folder}: the folder for jobs cannot be made ({error.strerror})") from error
    return folder


def slug(name: str) -> str:
    """The name as small letters, digits and hyphens: safe as part of a file name on every platform."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    words = "-".join(re.findall("[a-z0-9]+", plain))
    return words[:_LONGEST_SLUG].strip("-") or "job"


def job_files(folder: Path) -> tuple[Path, ...]:
    """The job files in the folder, by name; none where there is no folder."""
    try:
        return tuple(sorted(path for path in folder.iterdir() if path.suffix == SUFFIX and path.is_file()))
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise JournalError(f"{folder}: the folder of jobs cannot be read ({error.strerror})") from error


def free_files(folder: Path, name: str) -> Iterator[Path]:
    """File names for a new job of that name, each one number higher than the last; the caller takes the first free."""
    stem = slug(name)
    used = [int(number) for path in job_files(folder) for number in re.findall(rf"^{stem}-([0-9]{{1,9}})$", path.stem)]
    number = max(used, default=0)
    while True:
        number += 1
        yield folder / f"{stem}-{number}{SUFFIX}"
