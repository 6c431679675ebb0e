"""What the leader `signal` means: which signal circuit leads, where the dial gives way, and what a rocked peak tells.

A fixed rod or loop cannot be set at the low end, so there the oscillator is turned, and the gang rocked with it, until
the signal is greatest: then the signal circuit resonates on the generator where the oscillator stands one IF from it.
That is a sighting of the signal circuit, although it is the oscillator's adjuster that was turned.
"""

from aligner.engine.asks import Peak
from aligner.engine.instruments import PEAK_PLAIN
from aligner.estimate.events import Sighted, Spot
from aligner.estimate.frame import USUAL_Q, in_band
from aligner.procedure.model import Circuit, CoveragePoint, CoverageStep, Procedure

_FLAT_TOP = 0.002
"""Standard error of the oscillator on the flat top of the IF, in parts of the IF: a tenth of a usual width of 2 %
(common practice, no source)."""


def leading_circuit(procedure: Procedure, step: CoverageStep) -> Circuit | None:
    """The signal circuit that the oscillator follows: the first whose coil is fixed; None where the dial leads."""
    if step.leader != "signal":
        return None
    band = procedure.band_of(step.band)
    signals = [c for c in procedure.circuits if c.role == "signal" and in_band(c, band)]
    fixed = [c for c in signals if not any(procedure.adjuster(a).does == "inductance" for a in c.adjusters)]
    return next(iter(fixed or signals), None)


def dial_kept(procedure: Procedure, step: CoverageStep) -> tuple[CoveragePoint, ...]:
    """The points where the dial does not give way: the highest, where a trimmer lets the signal circuit follow."""
    lead = leading_circuit(procedure, step)
    if lead is None:
        return step.points
    trimmed = any(procedure.adjuster(a).does == "parallel" for a in lead.adjusters)
    by_hz = sorted(step.points, key=lambda point: point.received_hz)
    return tuple(by_hz[-1:]) if trimmed and len(by_hz) > 1 else ()


def rocked_sighting(procedure: Procedure, ask: Peak, seq: int, spot: Spot) -> Sighted | None:
    """What a peak tells that was found by rocking; None where the step has no signal circuit to lead it."""
    step = procedure.step(ask.step)
    lead = leading_circuit(procedure, step) if isinstance(step, CoverageStep) else None
    if lead is None or ask.generator is None:
        return None
    hz = ask.generator.hz
    blunt_hz = PEAK_PLAIN * hz / (lead.q or USUAL_Q)
    flat_hz = _FLAT_TOP * procedure.intermediate_hz
    return Sighted(seq, lead.id, spot, hz, float((blunt_hz**2 + flat_hz**2) ** 0.5))
