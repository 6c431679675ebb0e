"""Sweep files of other instruments, told apart by their names and first characters."""

import re
from pathlib import Path

from aligner.errors import AnswerError
from aligner.readings.imported import ImportedSweep, sweep_error
from aligner.readings.sweep_csv import parse_csv
from aligner.readings.touchstone import parse_touchstone
from aligner.text import clean

GREATEST_BYTES = 4 * 1024 * 1024
_TOUCHSTONE = re.compile(r"\.(s[0-9]{1,2}p|ts)$", re.IGNORECASE)


def read_sweep(path: Path, *, column: str | None = None, parameter: tuple[int, int] | None = None) -> ImportedSweep:
    """The sweep in a file: Touchstone by its ending (.s1p, .s2p, .ts), otherwise a table of text."""
    text = _text(path)
    if _TOUCHSTONE.search(path.name):
        return parse_touchstone(text, path.name, parameter)
    return parse_csv(text, path.name, column=column)


def _text(path: Path) -> str:
    """The file's text; only plain files of a size that a sweep may have are opened at all."""
    try:
        if not path.is_file():
            raise sweep_error(path.name, 0, "is no file that can be read")
        with path.open("rb") as file:
            data = file.read(GREATEST_BYTES + 1)
    except (OSError, ValueError) as error:
        raise AnswerError(f"{clean(str(path), 120)}: cannot be read ({clean(str(error), 120)})") from error
    if len(data) > GREATEST_BYTES:
        raise sweep_error(path.name, 0, f"is larger than {GREATEST_BYTES // 1024 // 1024} MiB, which no sweep is")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")
