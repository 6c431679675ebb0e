"""What is known of a job after a history, frozen, for every voice: pipe, screens, sheet, tests."""

from dataclasses import dataclass
from typing import Literal

from aligner.engine.asks import Ask

StepState = Literal["to-do", "held", "disturbed", "at-limit", "set-aside"]


@dataclass(frozen=True, slots=True)
class StepReport:
    """How a step stands. error, tolerance and plus_minus in `unit` ("Hz" or "dB"), None where nothing is known."""

    id: str
    kind: str
    title: str
    state: StepState
    why: str = ""
    error: float | None = None
    tolerance: float | None = None
    plus_minus: float | None = None
    unit: Literal["Hz", "dB", ""] = ""


@dataclass(frozen=True, slots=True)
class Believed:
    """One thing the tool believes, for people: "effect per turn of antenna-coil", "about 0.8 % of frequency", ..."""

    about: str
    what: str
    plus_minus: str = ""


@dataclass(frozen=True, slots=True)
class Survey:
    """Everything computed from one history. `ask` is None when the job is finished.

    doubt: the reason while the newest answer stands questioned. `running` is the id of the step being worked on.
    """

    ask: Ask | None
    steps: tuple[StepReport, ...]
    doubt: str = ""
    running: str = ""
    aligned: bool = False
    touches: int = 0
    readings: int = 0
    beliefs: tuple[Believed, ...] = ()
