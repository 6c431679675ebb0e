"""The IF strip as the history shows it: its newest sweep, the response behind it, and the IF that it gives.

The centre that a sweep finds is the IF from then on, for every step that reckons with it. While the strip has been
touched since and no new sweep is there, the last centre that was found still stands: it is nearer than the nominal.
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from aligner.engine.answers import Cannot, SweepSeen
from aligner.engine.asks import GeneratorSetting, Point, Sweep
from aligner.engine.instruments import point_of
from aligner.engine.ledger import Ledger
from aligner.estimate.events import Moved
from aligner.procedure.model import Generator, IfSweepStep, Place, Procedure
from aligner.quantity import show

if TYPE_CHECKING:
    from aligner.circuits.response_fit import Points, ResponseFit
    from aligner.circuits.uncertain import CannotTell

MOST_SWEEPS = 3
"""Sweeps of a strip as it stands, after which another will not tell more."""
SURE = 1.96
_LEAST_SD_DB = 0.15
"""What reading a level while the generator is set by hand leaves open, besides the meter (common practice)."""
_UNKNOWN_SD_DB = 1.0
"""The same where the meter's law is not known: its decibels may be squeezed."""
_MOST_FITTED = 161
"""Of an imported sweep of thousands no more than these are fitted; the rest would only cost time."""


@dataclass(frozen=True, slots=True)
class Swept:
    """The readings of a step since something of its strip was last moved: how many, their points, refused or not."""

    sweeps: int = 0
    points: "Points" = ()
    refused: bool = False


@dataclass(frozen=True, slots=True)
class Found:
    """The IF [Hz] that a step found, with its standard error [Hz]."""

    hz: float
    sd_hz: float
    step: str

    def words(self, nominal_hz: float) -> str:
        """For `why`: the IF that is reckoned with."""
        unit = max(self.sd_hz, 1.0)
        off = self.hz - nominal_hz
        against = (
            f", {show(abs(off), 'Hz', unit)} {'above' if off > 0 else 'below'} nominal" if abs(off) >= unit else ""
        )
        return f"IF reckoned with: {show(self.hz, 'Hz', unit)} as found by {self.step}{against}"


def moved_at(ledger: Ledger, procedure: Procedure, circuits: tuple[str, ...]) -> tuple[int, ...]:
    """Numbers of the movements of any adjuster of some circuits, oldest first."""
    return tuple(
        e.seq
        for e in ledger.events
        if isinstance(e, Moved) and set(circuits) & set(procedure.adjuster(e.adjuster).circuits)
    )


def swept(procedure: Procedure, ledger: Ledger, step_id: str, circuits: tuple[str, ...]) -> tuple[Swept, ...]:
    """A step's sweeps by how the circuits stood, the present state last (empty where they were moved since)."""
    moves = moved_at(ledger, procedure, circuits)
    states: dict[int, Swept] = {}
    for entry in ledger.of_step(step_id):
        if isinstance(entry.ask, Sweep) and isinstance(entry.answer, SweepSeen | Cannot):
            state = sum(seq < 2 * entry.seq for seq in moves)
            old = states.get(state, Swept())
            more = entry.answer.points if isinstance(entry.answer, SweepSeen) else ()
            states[state] = Swept(old.sweeps + 1, (*old.points, *more), isinstance(entry.answer, Cannot))
    states.setdefault(len(moves), Swept())
    return tuple(states[state] for state in sorted(states))


def found_intermediate(procedure: Procedure, ledger: Ledger) -> Found | None:
    """The IF that the last sweep step found; None while the nominal one is all there is."""
    found = None
    for step in procedure.steps:
        if isinstance(step, IfSweepStep) and step.id not in ledger.set_aside:
            found = _found(procedure, ledger, step) or found
    return found


def _found(procedure: Procedure, ledger: Ledger, step: IfSweepStep) -> Found | None:
    from aligner.circuits.uncertain import CannotTell  # noqa: PLC0415 - scipy only where a sweep was taken

    for state in reversed(swept(procedure, ledger, step.id, step.cans)):
        if state.points:
            fit = response_of(state.points, level_sd_db(procedure))
            if not isinstance(fit, CannotTell) and enough(step, state, fit):
                return Found(_settable(fit.centre_hz.value, fit.centre_hz.sd), fit.centre_hz.sd, step.id)
    return None


def _settable(hz: float, sd_hz: float) -> float:
    """Rounded to the first digit of its standard error: more digits are not known, and a generator is set by hand."""
    unit = 10.0 ** math.floor(math.log10(max(sd_hz, 1.0)))
    return float(round(hz / unit) * unit)


def enough(step: IfSweepStep, state: Swept, fit: "ResponseFit") -> bool:
    """Whether the centre is as sure as was asked for, or as sure as it will become."""
    return SURE * fit.centre_hz.sd <= step.tolerance_hz or state.sweeps >= MOST_SWEEPS


def level_sd_db(procedure: Procedure) -> float:
    """Standard error [dB] of one level of a sweep."""
    meter = procedure.meter
    if meter is None or meter.law == "unknown":
        return _UNKNOWN_SD_DB
    return float((_LEAST_SD_DB**2 + meter.resolution_db**2 / 12.0) ** 0.5)


@lru_cache(maxsize=32)
def response_of(points: "Points", sd_db: float) -> "ResponseFit | CannotTell":
    """The response behind levels over frequency; fitted once for the same readings."""
    from aligner.circuits.response_fit import fit_response  # noqa: PLC0415 - scipy only where a sweep was taken

    return fit_response(thinned(points), sd_db)


def thinned(points: "Points") -> "Points":
    """At most so many as are worth fitting, evenly taken, the ends included."""
    if len(points) <= _MOST_FITTED:
        return points
    ordered = sorted(points)
    step = (len(ordered) - 1) / (_MOST_FITTED - 1)
    return tuple(ordered[round(n * step)] for n in range(_MOST_FITTED))


def rest_point(procedure: Procedure, place: Place | None) -> Point:
    """Where the set stands while the generator is on the IF; a strip alone receives nothing but the IF itself."""
    if place is not None:
        return point_of(place)
    if not procedure.bands:
        return Point(received=procedure.intermediate_hz)
    if procedure.tuning.by == "voltage" and procedure.tuning.span:
        return Point(volts=procedure.tuning.span[0])
    return Point(end="low")


def rest_words(procedure: Procedure, point: Point) -> str:
    """How a person is told to let the set stand; nothing for a strip alone."""
    if point.volts is not None:
        return f"Set the tuning voltage to {show(point.volts, 'V')}. "
    if point.dial is not None:
        return f"Set the pointer to {show(point.dial, 'Hz')}. "
    if point.mark is not None:
        return f"Set the pointer to the mark \u201c{point.mark}\u201d. "
    if point.end is not None:
        what = "gang" if procedure.tuning.by == "gang" else "tuning voltage"
        return f"Set the {what} to its {point.end} end. "
    return ""


def strip_generator(procedure: Procedure, own: Generator | None, hz: float) -> GeneratorSetting:
    """The generator at a frequency [Hz], into the mixer unless the step says otherwise."""
    how = own or Generator("mixer", "", procedure.generator.modulation)
    return GeneratorSetting(hz, how.modulation, how.into, how.through)


def into_words(generator: GeneratorSetting) -> str:
    """How the generator is coupled, for people."""
    through = f" through {generator.through}" if generator.through else ""
    return f"into the {generator.into}{through}"
