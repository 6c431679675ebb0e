"""About what a reading will be, so that a bare number is read in the right unit and a slip shows its likely meaning."""

from aligner.engine.asks import Ask, Peak, Point, Read, Touch
from aligner.procedure.model import CoverageStep, Procedure


def expected(procedure: Procedure, ask: Ask) -> float | None:
    """About what the open ask will read [Hz]; None where nothing is known, as of levels and volts."""
    if isinstance(ask, Touch):
        return ask.aim.value
    if not isinstance(ask, Read | Peak) or ask.quantity not in {"frequency", "resonance"}:
        return None
    received_hz = _received(procedure, ask.step, ask.point)
    if received_hz is None:
        return None
    if ask.quantity == "frequency":
        return _displayed(procedure, received_hz)
    roles = {circuit.id: circuit.role for circuit in procedure.circuits}
    return _oscillator(procedure, received_hz) if roles.get(ask.circuit) == "oscillator" else received_hz


def _received(procedure: Procedure, step_id: str, point: Point) -> float | None:
    if point.received is not None or point.dial is not None:
        return point.received if point.received is not None else point.dial
    wanted = (point.volts, point.mark, point.end)
    steps = sorted((row for row in procedure.steps if isinstance(row, CoverageStep)), key=lambda row: row.id != step_id)
    for step in steps:
        for row in step.points:
            if (row.place.volts, row.place.mark, row.place.end) == wanted:
                return row.received_hz
    return None


def _oscillator(procedure: Procedure, received_hz: float) -> float:
    sign = 1.0 if procedure.oscillator == "above" else -1.0
    return received_hz + sign * procedure.intermediate_hz


def _displayed(procedure: Procedure, received_hz: float) -> float:
    counter = procedure.counter
    oscillator_hz = _oscillator(procedure, received_hz)
    if counter.shows == "divided":
        return oscillator_hz / counter.prescaler
    return received_hz if counter.shows == "received" else oscillator_hz
