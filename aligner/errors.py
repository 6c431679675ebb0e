"""The one error tree, by who must act.

    AlignerError
    ├── UsageError        the person who typed the command line      exit 2
    ├── ProcedureError    the author of the procedure file           exit 2
    ├── AnswerError       the person (or program) that answers       a `problem`, never an exit
    ├── QuantityError     the person who typed a quantity            a message beside the entry line
    ├── CircuitError      the author of the values: no such circuit  exit 2
    ├── InputEnded        nobody: input ended or was interrupted     exit 3
    ├── InstrumentError   the instrument or its cable                exit 4
    └── JournalError      the disk or the job file                   exit 5

Everything else that escapes is a bug of ours (exit 1, and a crash file is written).
Every message says what, where, and what to do.
"""

from dataclasses import dataclass
from enum import IntEnum


class Exit(IntEnum):
    """The exit codes of every command."""

    DONE = 0
    OUR_BUG = 1
    USAGE = 2
    INPUT_ENDED = 3
    INSTRUMENT = 4
    JOURNAL = 5


class AlignerError(Exception):
    """Something that somebody can put right; the message says how."""

    exit_code = Exit.OUR_BUG


class UsageError(AlignerError):
    """The command line asks for something that cannot be."""

    exit_code = Exit.USAGE


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a procedure file: where it stands, what was found, what is meant."""

    file: str
    line: int
    key: str
    found: str
    cure: str

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}" if self.line else self.file
        key = f" {self.key}:" if self.key else ""
        return f"{where}:{key} {self.found}; {self.cure}"


class ProcedureError(AlignerError):
    """A procedure file with one fault or more; all of them are listed at once."""

    exit_code = Exit.USAGE

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__("\n".join(str(fault) for fault in faults))
        self.faults = faults


class AnswerError(AlignerError):
    """An answer that does not fit the open ask; nothing was recorded."""


class QuantityError(AlignerError):
    """Text that is no quantity; the message shows what would be understood."""


class CircuitError(AlignerError):
    """Values that fit no circuit: outside a table, a padder that cannot be; the message says which and why."""

    exit_code = Exit.USAGE


class InputEnded(AlignerError):
    """Input ended or was interrupted; the job is kept."""

    exit_code = Exit.INPUT_ENDED


class InstrumentError(AlignerError):
    """An instrument that cannot be reached or does not answer."""

    exit_code = Exit.INSTRUMENT


class JournalError(AlignerError):
    """A job file or folder that cannot be read or written: locked, damaged, newer, no space."""

    exit_code = Exit.JOURNAL
