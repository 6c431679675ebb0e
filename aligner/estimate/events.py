"""What happened to the circuits, as the fit wants it: movements and sightings, in their order."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the scale [Hz]: the scale (or voltage) says so, or the oscillator truly receives it."""

    hz: float
    kind: Literal["dial", "received"] = "dial"


@dataclass(frozen=True, slots=True)
class Moved:
    """An adjuster was moved; turns (clockwise positive) where they were counted, with their standard error."""

    seq: int
    adjuster: str
    turns: float | None = None
    turns_sd: float = 0.05


@dataclass(frozen=True, slots=True)
class Sighted:
    """A circuit's own frequency was seen [Hz], with its standard error [Hz]."""

    seq: int
    circuit: str
    spot: Spot
    hz: float
    sd_hz: float


@dataclass(frozen=True, slots=True)
class Fallen:
    """The level stands `fall_db` below the circuit's peak at that spot: a detuning of known size, of either sign.

    q is the circuit's Q and q_sd its relative standard error; sd_db is that of the fall.
    """

    seq: int
    circuit: str
    spot: Spot
    hz: float
    fall_db: float
    sd_db: float
    q: float
    q_sd: float
    sign: int = 0  # -1 or +1 where it is known on which side (turned past the peak), else 0


Event = Moved | Sighted | Fallen
