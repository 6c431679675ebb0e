"""Levels that tell the Q of a circuit that is read by its resonance, where its tolerance is given as a loss.

What a loss allows in hertz goes by Q, which no resonance tells. The level before a touch and after it does, at the
place of the touch, where the resonance is read both times: with A and B the two detunings in widths, squared, a
relative error of Q moves the difference of the levels by 20 lg(e) (A/(1 + A) - B/(1 + B)) dB. That costs neither a
touch nor a tuning.
"""

from math import e, log, log10

from aligner.engine.answers import Reading
from aligner.engine.asks import Read, Touch
from aligner.engine.bench import Bench, Target
from aligner.engine.ledger import spot_of
from aligner.engine.peaking import level_read
from aligner.estimate.belief import Belief, CircuitBelief
from aligner.procedure.model import CoverageStep, TrackingStep

TELLS = "the level tells its Q"
ENOUGH = 0.1
"""Relative standard error of a Q that need not be known better."""
TELLING_DB = 1.5
"""The least that the difference of two levels must change by a relative error of Q of one."""
FLOOR_DB = 40.0
"""A level that lies further below its peak may be noise."""


def look_before(
    bench: Bench, step: CoverageStep | TrackingStep, belief: Belief, circuit: CircuitBelief, touch: Touch
) -> Read | None:
    """The level at the place of the next touch, before anything is turned there."""
    if not _asked(bench, step, circuit) or touch.aim.quantity != "resonance":
        return None
    target = _target(bench, step, touch)
    if target is None or _read_since(bench, target, circuit.frame.id, bench.last_move(circuit.frame.id)):
        return None
    now_hz = float(circuit.hz(belief.places_hz((target.spot,)))[0])
    before, after = (_widths(circuit, hz, target.spot.hz) ** 2 for hz in (now_hz, touch.aim.value))
    telling_db = 20.0 * log10(e) * abs(before / (1.0 + before) - after / (1.0 + after))
    if telling_db < TELLING_DB or 10.0 * log10(1.0 + before) > FLOOR_DB:
        return None
    why = (
        f"How far off {step.circuit} may be for the loss that is allowed goes by its Q. The level here, read once more "
        "after the touch, tells it; where no level can be read, say so, and a usual Q is taken."
    )
    return level_read(bench, step.id, step.circuit, target, why)


def looked_before(bench: Bench, step: CoverageStep | TrackingStep, circuit: CircuitBelief) -> bool:
    """Whether a level waits for the one after the next touch, so that Q will be known."""
    last = bench.last_move(circuit.frame.id)
    looked = any(x.circuit == circuit.frame.id and x.seq > last for x in bench.ledger.levels)
    return looked and _asked(bench, step, circuit)


def look_after(bench: Bench, step: CoverageStep | TrackingStep, circuit: CircuitBelief) -> Read | None:
    """The level at the place of the touch just made, where it was read just before it."""
    entries = [x for x in bench.ledger.of_step(step.id) if isinstance(x.answer, Reading)]
    touch = entries[-1].ask if entries else None
    if not isinstance(touch, Touch) or not _asked(bench, step, circuit):
        return None
    before = (2 * x.seq for x in entries[:-1] if isinstance(x.ask, Touch))
    target = _target(bench, step, touch)
    if target is None or not _read_since(bench, target, circuit.frame.id, max(before, default=-1)):
        return None
    why = (
        f"With the level before the touch this tells the Q of {step.circuit}, and so what the allowed loss is in hertz."
    )
    return level_read(bench, step.id, step.circuit, target, why)


def _asked(bench: Bench, step: CoverageStep | TrackingStep, circuit: CircuitBelief) -> bool:
    """Whether Q is worth a look at all: the tolerance goes by it, the meter tells decibels, and it is not known yet."""
    if not isinstance(step, TrackingStep) or step.tolerance_hz is not None or "level" not in step.by:
        return False
    return bench.instruments.in_db and circuit.quality[1] > ENOUGH


def _target(bench: Bench, step: CoverageStep | TrackingStep, touch: Touch) -> Target | None:
    """The place of a touch; None where there was no level to be read."""
    spot = spot_of(bench.procedure, step.id, touch.point)
    if spot is None or spot.kind != "received" or (step.id, "level", touch.point) in bench.ledger.unreadable:
        return None
    return Target(spot, touch.point, spot.hz, 1.0)


def _read_since(bench: Bench, target: Target, circuit: str, seq: int) -> bool:
    return any(x.circuit == circuit and x.hz == target.spot.hz and x.seq > seq for x in bench.ledger.levels)


def _widths(circuit: CircuitBelief, hz: float, generator_hz: float) -> float:
    """Q x for a circuit that stands at `hz`."""
    return circuit.quality[0] * 2.0 * log(hz / generator_hz)
