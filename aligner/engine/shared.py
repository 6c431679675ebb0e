"""Adjusters that bands share: who cannot do without them, and how far they may be turned without spoiling that.

A trimmer on the gang is in circuit on every band. A band that has a trimmer of its own besides is put right with that
one; a band that has none leans on the shared one, which then stays where that band needs it. Another band may use what
the tolerance there leaves, and no more: else the two would undo each other for ever.
"""

from typing import TYPE_CHECKING

import numpy as np

from aligner.engine.answers import Reading, Result
from aligner.engine.asks import Turning
from aligner.engine.tolerances import tolerance_hz
from aligner.estimate.belief import Belief
from aligner.estimate.events import Spot
from aligner.estimate.frame import Frame
from aligner.estimate.ladder import COIL, SERIES
from aligner.procedure.model import Adjuster, CoverageStep, TrackingStep
from aligner.procedure.sharing import leans_on, substitutes

if TYPE_CHECKING:
    from aligner.engine.bench import Bench

_USED = 0.9
"""Share of another band's tolerance that may be used; the rest is for how surely its units are known here."""
_SMALL = 1e-4

Room = tuple[float, float]


def spared(bench: "Bench", belief: Belief) -> frozenset[str]:
    """Shared adjusters that are to be left alone if others can do: set on another band, or needed by one to come."""
    here = belief.frame.band.id
    steps = {s.id: getattr(s, "band", "") for s in bench.procedure.steps}
    touched = {
        e.ask.adjuster
        for e in bench.ledger.entries
        if isinstance(e.ask, Turning) and isinstance(e.answer, Result) and steps.get(e.ask.step) not in ("", here, None)
    }
    return frozenset(
        name
        for name, handle in belief.frame.handles.items()
        if _is_shared(bench, name) and (name in touched or _needed_elsewhere(bench, handle.adjuster, here))
    )


def _needed_elsewhere(bench: "Bench", adjuster: Adjuster, here: str) -> bool:
    whole = bench.procedure.adjuster(adjuster.id)
    if any(leans_on(bench.procedure, bench.procedure.circuit(c), whole) for c in adjuster.circuits):
        return False
    return any(
        leans_on(bench.procedure, bench.procedure.circuit(s.circuit), whole) for s in _others(bench, whole, here)
    )


def _is_shared(bench: "Bench", adjuster: str) -> bool:
    return len(bench.procedure.adjuster(adjuster).circuits) > 1


def _others(bench: "Bench", adjuster: Adjuster, here: str) -> list[CoverageStep | TrackingStep]:
    """The steps of other bands whose circuit an adjuster turns."""
    return [
        s
        for s in bench.procedure.steps
        if isinstance(s, CoverageStep | TrackingStep)
        and s.circuit in adjuster.circuits
        and bench.procedure.band_of(s.band).id != here
        and s.id not in bench.ledger.set_aside
    ]


def room_of(bench: "Bench", frame: Frame, name: str) -> tuple[Room, tuple[str, ...]]:
    """How far down and up a setting may go for the steps of other bands that lean on the adjuster, and which those are.

    Steps that were not begun yet, and bands that have another adjuster of the kind with travel left, leave it free.
    """
    if not _is_shared(bench, name):
        return (-np.inf, np.inf), ()
    down, up = -np.inf, np.inf
    held = []
    for step in _others(bench, bench.procedure.adjuster(name), frame.band.id):
        if _leans(bench, step, name):
            low, high = _room(bench, step, name)
            unit = _unit(frame, bench.frame(step.band), name)
            down, up = max(down, low * unit), min(up, high * unit)
            held.append(step.id)
    return (min(down, 0.0), max(up, 0.0)), tuple(held)


def _leans(bench: "Bench", step: CoverageStep | TrackingStep, name: str) -> bool:
    if not any(isinstance(e.answer, Reading) for e in bench.ledger.of_step(step.id)):
        return False
    own = substitutes(bench.procedure, bench.procedure.circuit(step.circuit), bench.procedure.adjuster(name))
    out = {stop.adjuster for stop in bench.ledger.stops}
    return all(other in out for other in own)


def _room(bench: "Bench", step: CoverageStep | TrackingStep, name: str) -> Room:
    """How far the setting may go, in that step's own scale, before the step leaves its tolerance; linear."""
    belief = bench.belief(step.band)
    circuit, setting = belief.circuits[step.circuit], belief.frame.handles[name].setting
    if isinstance(step, CoverageStep):
        z = np.array([p.received_hz for p in step.points])
        allowed = np.full(len(z), step.tolerance_hz)
        wanted = z + circuit.frame.offset_hz
    else:
        wanted = np.array(step.points_hz)
        allowed = np.array([tolerance_hz(bench, step, hz) for hz in step.points_hz])
        z = belief.places_hz(tuple(Spot(hz, "received") for hz in step.points_hz))
    off = circuit.hz(z) - wanted
    slope = (circuit.hz(z, _SMALL * circuit.push(setting)) - circuit.hz(z)) / _SMALL
    most = np.maximum(_USED * allowed - circuit.sd_hz(z), np.abs(off))
    ends = np.sort(np.array([(-most - off) / slope, (most - off) / slope]), axis=0)
    return float(ends[0].max()), float(ends[1].min())


def _unit(here: Frame, there: Frame, name: str) -> float:
    """One unit of a setting on another band in units of this one.

    Capacitances are in units of the mid-band value, and the same gang swings through all of the band: its swing is
    r - 1/r of the mid-band value, r being the ratio of the band's ends. A coil's unit is its logarithm everywhere.
    """
    setting = here.handles[name].setting
    if setting == COIL:
        return 1.0
    ratio = _swing(here) / _swing(there)
    return 1.0 / ratio if setting == SERIES else ratio


def _swing(frame: Frame) -> float:
    ratio = frame.band.high_hz / frame.band.low_hz
    return ratio - 1.0 / ratio
