"""The set, its circuits and adjusters and the instruments as a procedure gives them: frozen values in SI units.

Everything that a bench may not know is optional and None (or empty) when it is absent.
"""

from dataclasses import dataclass
from typing import Literal

Does = Literal["inductance", "parallel", "series", "tuning-voltage"]
Kind = Literal[
    "air-coil",
    "ferrite-core",
    "brass-core",
    "rod-coil",
    "compression-trimmer",
    "rotary-trimmer",
    "piston-trimmer",
    "wire-trimmer",
    "preset",
]
Role = Literal["oscillator", "signal", "if", "detector", "trap"]
Way = Literal["resonance", "level", "wand", "stage-voltage"]

COUNTED_BY_KIND: dict[Kind, bool] = {
    "air-coil": False,
    "ferrite-core": True,
    "brass-core": True,
    "rod-coil": False,
    "compression-trimmer": True,
    "rotary-trimmer": False,
    "piston-trimmer": True,
    "wire-trimmer": False,
    "preset": True,
}
"""Whether the turns of an adjuster of this kind can be counted, unless the procedure says otherwise."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the set is tuned for a reading; exactly one of the fields is given.

    dial [Hz]: the scale says so. received [Hz]: the oscillator truly stands one IF from it.
    volts [V]: the tuning voltage. mark: a mark on the scale. end: an end of the gang, by frequency.
    """

    dial: float | None = None
    received: float | None = None
    volts: float | None = None
    mark: str | None = None
    end: Literal["low", "high"] | None = None


@dataclass(frozen=True, slots=True)
class CoveragePoint:
    """A place on the tuning, and the frequency [Hz] that shall be received there."""

    place: Place
    received_hz: float


@dataclass(frozen=True, slots=True)
class Taught:
    """What other jobs taught of an adjuster, and how many they are.

    per_turn: effect of a turn on its scaled setting [1]; spread: of its logarithm [1]; sense: of a clockwise turn,
    0 where it was as often one as the other.
    """

    per_turn: float
    spread: float
    sense: int
    jobs: int = 1


@dataclass(frozen=True, slots=True)
class Adjuster:
    """One thing to turn. travel [H or F] and turn [H or F a turn] as `does` says."""

    id: str
    does: Does
    kind: Kind
    counted: bool
    circuits: tuple[str, ...]
    where: str = ""
    travel: tuple[float, float] | None = None
    rotation: Literal["more", "less"] | None = None  # what a clockwise turn gives
    turn: float | None = None
    taught: Taught | None = None  # never from the file: frozen into a job when it begins


@dataclass(frozen=True, slots=True)
class Circuit:
    """One tuned circuit and the ids of its adjusters in procedure order; `bands` empty means all."""

    id: str
    role: Role
    adjusters: tuple[str, ...]
    trimmer_across: Literal["tuning", "coil"] = "coil"
    bands: tuple[str, ...] = ()
    q: float | None = None
    section: Literal["plain", "cut"] | None = None  # of the gang; None: what is usual for the band and the IF
    padder_f: float | None = None  # a padder [F] that nobody turns


@dataclass(frozen=True, slots=True)
class Band:
    """One band by the ends [Hz] of what is received."""

    id: str
    low_hz: float
    high_hz: float


@dataclass(frozen=True, slots=True)
class Tuning:
    """How all circuits are tuned together.

    span: ends of the tuning [V] by voltage, or of the gang [F].
    curve: rows of (volts [V] or dial [Hz], capacitance [F]).
    """

    by: Literal["voltage", "gang", "none"]  # "none": an IF strip alone
    span: tuple[float, float] | None = None
    law: Literal["straight-capacitance", "straight-frequency"] | None = None
    curve: tuple[tuple[float, float], ...] = ()
    presets: tuple[tuple[str, Literal["low-end", "high-end"]], ...] = ()  # (adjuster id, what it sets)


@dataclass(frozen=True, slots=True)
class Counter:
    """The frequency counter. offset_hz only where it shows what is received."""

    shows: Literal["divided", "oscillator", "received"] = "oscillator"
    prescaler: int = 1
    gate_s: float = 1.0
    offset_hz: float | None = None


@dataclass(frozen=True, slots=True)
class Meter:
    """The level meter."""

    law: Literal["log", "linear", "unknown"] = "unknown"
    more_signal: Literal["up", "down"] = "up"
    resolution_db: float = 0.5


@dataclass(frozen=True, slots=True)
class Generator:
    """How the signal generator is coupled."""

    into: str = "aerial"
    through: str = ""
    modulation: str = "none"
