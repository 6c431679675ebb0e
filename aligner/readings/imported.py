"""A sweep from a file, whatever its format: the points, and the message where it cannot be had."""

import math
from dataclasses import dataclass
from typing import Literal

from aligner.errors import AnswerError
from aligner.text import clean

LEAST_POINTS = 3
GREATEST_POINTS = 10_000
"""As many as an answer to a sweep may have."""


@dataclass(frozen=True, slots=True)
class ImportedSweep:
    """Pairs of (frequency [Hz], value [dB or V]) by rising frequency.

    taken: which columns or which parameter they are, in words. left_out: rows that say nothing of a circuit (a
    frequency of zero, or a magnitude of zero, which has no level in dB).
    """

    points: tuple[tuple[float, float], ...]
    unit: Literal["dB", "V"]
    taken: str
    left_out: int = 0


def sweep_error(name: str, line: int, what: str) -> AnswerError:
    """The error that names file and line; line 0 is the file as a whole."""
    where = f"{clean(name, 120)}:{line}" if line else clean(name, 120)
    return AnswerError(f"{where}: {what}")


def checked(name: str, sweep: ImportedSweep) -> ImportedSweep:
    """The sweep sorted by frequency, if it is one that can be answered."""
    count = len(sweep.points)
    if not LEAST_POINTS <= count <= GREATEST_POINTS:
        raise sweep_error(name, 0, f"has {count} points; a sweep has {LEAST_POINTS} to {GREATEST_POINTS}")
    if not all(math.isfinite(hz) and math.isfinite(value) for hz, value in sweep.points):
        raise sweep_error(name, 0, "has a number that is not finite")
    return ImportedSweep(tuple(sorted(sweep.points)), sweep.unit, sweep.taken, sweep.left_out)
