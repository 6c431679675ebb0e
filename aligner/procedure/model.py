"""What a procedure says, as frozen values in SI units; `reader` makes them from TOML.

Everything that a bench may not know is optional and None (or empty) when it is absent.
"""

from dataclasses import dataclass
from typing import Literal, Protocol, TypeVar

from aligner.procedure.set_model import (
    COUNTED_BY_KIND,
    Adjuster,
    Band,
    Circuit,
    Counter,
    CoveragePoint,
    Does,
    Generator,
    Kind,
    Meter,
    Place,
    Role,
    Tuning,
    Way,
)

__all__ = [
    "COUNTED_BY_KIND",
    "Adjuster",
    "Band",
    "Circuit",
    "Counter",
    "CoveragePoint",
    "CoverageStep",
    "DetectorStep",
    "Does",
    "Generator",
    "IfPeakStep",
    "IfSweepStep",
    "ImageStep",
    "Kind",
    "Limit",
    "Lock",
    "Meter",
    "Place",
    "PrepareStep",
    "Procedure",
    "ReadBackStep",
    "Role",
    "SealStep",
    "Step",
    "TrackingStep",
    "TrapStep",
    "Tuning",
    "WarmUpStep",
    "Way",
    "by_id",
]


@dataclass(frozen=True, slots=True)
class PrepareStep:
    """Things to confirm before anything is measured."""

    id: str
    confirm: tuple[str, ...]
    kind: Literal["prepare"] = "prepare"
    title: str = ""


@dataclass(frozen=True, slots=True)
class CoverageStep:
    """The oscillator made to cover the band: at each point it shall receive what the point says."""

    id: str
    points: tuple[CoveragePoint, ...]
    tolerance_hz: float
    circuit: str
    leader: Literal["oscillator", "signal"] = "oscillator"
    band: str = ""
    kind: Literal["coverage"] = "coverage"
    title: str = ""
    generator: Generator | None = None  # where this step couples it otherwise


@dataclass(frozen=True, slots=True)
class TrackingStep:
    """One signal circuit made to follow the oscillator. Exactly one of the two tolerances is given."""

    id: str
    circuit: str
    by: tuple[Way, ...]
    points_hz: tuple[float, ...]
    tolerance_hz: float | None = None
    tolerance_db: float | None = None
    band: str = ""
    kind: Literal["tracking"] = "tracking"
    title: str = ""
    generator: Generator | None = None


@dataclass(frozen=True, slots=True)
class Limit:
    """What is read back at a place, and how far [Hz, dB or V] it may be off.

    received_hz: what shall be received there, and so what a frequency or a resonance is compared with.
    """

    place: Place
    quantity: Literal["frequency", "resonance", "level", "volts"]
    within: float
    circuit: str = ""
    received_hz: float | None = None


@dataclass(frozen=True, slots=True)
class ReadBackStep:
    """Readings at the end, compared with limits."""

    id: str
    limits: tuple[Limit, ...]
    band: str = ""
    kind: Literal["read-back"] = "read-back"
    title: str = ""
    generator: Generator | None = None


@dataclass(frozen=True, slots=True)
class WarmUpStep:
    """The oscillator read until it drifts less than drift_hz [Hz] in per_s [s]; a reading about every every_s [s]."""

    id: str
    place: Place
    received_hz: float
    drift_hz: float
    per_s: float = 600.0
    every_s: float = 120.0
    band: str = ""
    kind: Literal["warm-up"] = "warm-up"
    title: str = ""


@dataclass(frozen=True, slots=True)
class IfPeakStep:
    """The cans of the IF strip peaked; `cans` stand in the order of the signal, `swamped` are coupled past critical.

    swamp loads the other winding, clamp holds the AGC line; the IF may prove tolerance_hz [Hz] off (None: ever so far).
    """

    id: str
    cans: tuple[str, ...]
    swamped: tuple[str, ...] = ()
    swamp: str = ""
    clamp: str = ""
    tolerance_hz: float | None = None
    place: Place | None = None
    kind: Literal["if-peak"] = "if-peak"
    title: str = ""
    generator: Generator | None = None


@dataclass(frozen=True, slots=True)
class IfSweepStep:
    """The response of the IF strip, whose centre becomes the IF; it shall be sure within tolerance_hz [Hz].

    off_hz [Hz]: how far from the nominal IF the centre may lie. filters_hz [Hz]: stated widths of filters in cascade.
    """

    id: str
    span_hz: tuple[float, float]
    tolerance_hz: float
    cans: tuple[str, ...] = ()
    count: int = 15
    off_hz: float | None = None
    filters_hz: tuple[float, ...] = ()
    place: Place | None = None
    kind: Literal["if-sweep"] = "if-sweep"
    title: str = ""
    generator: Generator | None = None


@dataclass(frozen=True, slots=True)
class TrapStep:
    """A trap set for the least level at its frequency [Hz]; least_db [dB] is what it shall take away, where said."""

    id: str
    circuit: str
    hz: float
    least_db: float | None = None
    place: Place | None = None
    kind: Literal["trap"] = "trap"
    title: str = ""
    generator: Generator | None = None


@dataclass(frozen=True, slots=True)
class DetectorStep:
    """The detector's S-curve: zero at the IF within tolerance_hz [Hz], halves alike, linear over linear_hz [Hz].

    zero, symmetry: ids of the adjusters that set them, symmetry empty where there is none. asymmetry [1]: the greatest
    difference of the two peaks as a share of their mean.
    """

    id: str
    circuit: str
    form: Literal["discriminator", "ratio", "quadrature"]
    zero: str
    symmetry: str
    span_hz: tuple[float, float]
    tolerance_hz: float
    count: int = 15
    asymmetry: float = 0.15
    linear_hz: float | None = None
    place: Place | None = None
    kind: Literal["detector"] = "detector"
    title: str = ""
    generator: Generator | None = None


@dataclass(frozen=True, slots=True)
class ImageStep:
    """The image read at places [Hz]; least_db [dB] is what it shall be weaker, where said."""

    id: str
    points_hz: tuple[float, ...]
    least_db: float | None = None
    band: str = ""
    kind: Literal["image"] = "image"
    title: str = ""
    generator: Generator | None = None


@dataclass(frozen=True, slots=True)
class Lock:
    """Adjusters that are locked together, and how."""

    adjusters: tuple[str, ...]
    how: str = ""


@dataclass(frozen=True, slots=True)
class SealStep:
    """Adjusters locked one after the other; the limits are read before, and again after each lock."""

    id: str
    locks: tuple[Lock, ...]
    limits: tuple[Limit, ...]
    band: str = ""
    kind: Literal["seal"] = "seal"
    title: str = ""
    generator: Generator | None = None


Step = (
    PrepareStep
    | WarmUpStep
    | IfPeakStep
    | IfSweepStep
    | TrapStep
    | DetectorStep
    | CoverageStep
    | TrackingStep
    | ImageStep
    | ReadBackStep
    | SealStep
)


@dataclass(frozen=True, slots=True)
class Procedure:
    """The set, its circuits and adjusters, the instruments, the steps. `text` is the file as it was read."""

    format: int
    title: str
    about: str
    hazards: tuple[str, ...]
    intermediate_hz: float
    oscillator: Literal["above", "below"]
    bands: tuple[Band, ...]
    tuning: Tuning
    counter: Counter
    meter: Meter | None
    generator: Generator
    circuits: tuple[Circuit, ...]
    adjusters: tuple[Adjuster, ...]
    steps: tuple[Step, ...]
    name: str = ""  # the file's stem
    text: str = ""
    digest: str = ""  # of the text; two procedures with one digest are the same

    def __hash__(self) -> int:
        """By the text alone: it is asked for at every step of the engine, and everything else was read from it."""
        return hash((self.name, self.digest or self.text))

    def circuit(self, circuit_id: str) -> Circuit:
        """The circuit of that id; KeyError where there is none (the reader has checked all references)."""
        return by_id(self.circuits, circuit_id)

    def adjuster(self, adjuster_id: str) -> Adjuster:
        """The adjuster of that id; KeyError where there is none."""
        return by_id(self.adjusters, adjuster_id)

    def step(self, step_id: str) -> Step:
        """The step of that id; KeyError where there is none."""
        return by_id(self.steps, step_id)

    def band_of(self, band_id: str) -> Band:
        """The band of that id; the only one (or the first) where the id is empty."""
        return by_id(self.bands, band_id) if band_id else self.bands[0]


class _HasId(Protocol):
    @property
    def id(self) -> str: ...


_T = TypeVar("_T", bound=_HasId)


def by_id(rows: tuple[_T, ...], wanted: str) -> _T:
    """The first of `rows` with that id; KeyError where there is none."""
    for row in rows:
        if row.id == wanted:
            return row
    raise KeyError(wanted)
