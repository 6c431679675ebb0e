"""The log file: what the program did and when, for finding faults, and nothing of what a person wrote.

An event has fixed words and numbers; there is no way to hand it a text, so no note and no name can get in. A failure is
kept by its kind and by the places in our files where it went through, without its message, which could quote a person.
"""

import logging
import time
import traceback
from logging.handlers import RotatingFileHandler
from pathlib import Path
from typing import LiteralString

import platformdirs

_LOGGER = "aligner"
_LARGEST = 256 * 1024
_KEPT = 2
_PLACES = 40  # the last ones of a failure; a recursion without end has a thousand


def log_folder() -> Path:
    """The folder that this platform keeps for log and crash files; it need not exist yet."""
    return Path(platformdirs.user_log_dir("aligner", appauthor=False))


def start_log(folder: Path | None = None) -> Path | None:
    """Begin to log into a file of the folder; None where it cannot be written, which is no reason not to work."""
    place = folder if folder is not None else log_folder()
    logger = logging.getLogger(_LOGGER)
    stop_log()
    logger.propagate = False
    logger.setLevel(logging.INFO)
    try:
        place.mkdir(parents=True, exist_ok=True)
        handler = _File(place / "aligner.log", maxBytes=_LARGEST, backupCount=_KEPT, encoding="utf-8")
    except OSError:
        logger.addHandler(logging.NullHandler())
        return None
    handler.setFormatter(_formatter())
    logger.addHandler(handler)
    return place / "aligner.log"


def stop_log() -> None:
    """Close the log file, if there is one."""
    logger = logging.getLogger(_LOGGER)
    for handler in tuple(logger.handlers):
        logger.removeHandler(handler)
        handler.close()


def log_event(words: LiteralString, **numbers: float) -> None:
    """Add an event: fixed words, and numbers by name."""
    facts = "".join(f" {name}={number:g}" for name, number in numbers.items())
    logging.getLogger(_LOGGER).info("%s%s", words, facts)


def log_failure(words: LiteralString, error: BaseException) -> None:
    """Add a failure: fixed words, its kind, and where it went through."""
    logging.getLogger(_LOGGER).error("%s: %s", words, " | ".join(failure_lines(error)))


def failure_lines(error: BaseException) -> tuple[str, ...]:
    """Kinds and places of a failure and of what caused it, the first cause first, without what any of them says."""
    before = error.__cause__ or (None if error.__suppress_context__ else error.__context__)
    lines = failure_lines(before) if before is not None else ()
    places = traceback.extract_tb(error.__traceback__, limit=-_PLACES)
    where = tuple(f"{place.filename}:{place.lineno} in {place.name}: {place.line or ''}" for place in places)
    number = f" (error {error.errno} of the system)" if isinstance(error, OSError) and error.errno else ""
    return (*lines, *where, f"{type(error).__module__}.{type(error).__qualname__}{number}")


class _File(RotatingFileHandler):
    """A log file that is silent where the disk is full or the file is taken: the work at the bench goes on."""

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: N802 - the name is given by logging
        """Say nothing."""


def _formatter() -> logging.Formatter:
    formatter = logging.Formatter("%(asctime)sZ %(process)d %(levelname)s %(message)s", "%Y-%m-%dT%H:%M:%S")
    formatter.converter = time.gmtime
    return formatter
