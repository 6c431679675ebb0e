"""What happened to the circuits, as the fit wants it: movements and sightings, in their order."""

from typing import Literal

import msgspec


class _Happened(msgspec.Struct, frozen=True):
    """A part of what happened; what is fitted is kept by these, and the hash and comparison of a struct take little."""


class Spot(_Happened, frozen=True):
    """A place on the scale [Hz]: the scale (or voltage) says so, or the oscillator truly receives it."""

    hz: float
    kind: Literal["dial", "received"] = "dial"


class Moved(_Happened, frozen=True):
    """An adjuster was moved; turns (clockwise positive) where they were counted, with their standard error.

    rises is +1 or -1 where the hand could see that its setting went up or down, else 0.
    """

    seq: int
    adjuster: str
    turns: float | None = None
    turns_sd: float = 0.05
    rises: int = 0


class Sighted(_Happened, frozen=True):
    """A circuit's own frequency was seen [Hz], with its standard error [Hz].

    by_q is the Q [1] for which that is stated, where it goes with the circuit's width as a peak's does; nought where it
    does not.
    """

    seq: int
    circuit: str
    spot: Spot
    hz: float
    sd_hz: float
    by_q: float = 0.0


class Fallen(_Happened, frozen=True):
    """The level stands `fall_db` below the circuit's peak at that spot, generator at hz [Hz]: a detuning of known size.

    sd_db is the standard error of the fall. sign is +1 or -1 where it is known on which side (ln y above or below that
    of the generator), else 0; opposite names an earlier fall from which the circuit went through the peak to here;
    short is the adjuster that came to its end on the way to the peak, and its turns.
    """

    seq: int
    circuit: str
    spot: Spot
    hz: float
    fall_db: float
    sd_db: float
    sign: int = 0
    opposite: int = 0
    short: tuple[str, float] | None = None


class Looked(_Happened, frozen=True):
    """A level with the generator at hz [Hz] at a spot where the circuit's peak was never seen.

    Looks of the same `top` lie below one and the same unknown peak; level_db [dB, more is up] counts from the greatest
    of them, sd_db [dB] is the standard error of each.
    """

    seq: int
    circuit: str
    spot: Spot
    hz: float
    level_db: float
    sd_db: float
    top: int


class Wanded(_Happened, frozen=True):
    """What a wand did to the level [dB against none] with the generator at hz [Hz]; sd_db [dB] is that of a difference.

    The pull of the wand's ends on this coil, and the circuit's Q (q [1], with relative standard error q_sd [1]), are
    unknowns that every test and every peak teaches.
    """

    seq: int
    circuit: str
    spot: Spot
    hz: float
    ferrite_db: float
    brass_db: float
    sd_db: float
    q: float
    q_sd: float


class Drifted(_Happened, frozen=True):
    """A circuit may have moved a little by itself: all its ln y by one amount of standard deviation sd [1]."""

    seq: int
    circuit: str
    sd: float


Seen = Sighted | Fallen | Looked | Wanded
Event = Moved | Seen | Drifted
