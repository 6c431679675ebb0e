"""By how much a reading may play about and still be at rest: a small part of what is allowed there, as it is shown."""

from aligner.engine.asks import Ask, Read, Touch
from aligner.engine.survey import Survey
from aligner.procedure.model import CoverageStep, Procedure, ReadBackStep, SealStep, TrackingStep

REST_SHARE = 1 / 20
"""What plays about by less than this share of what is allowed is at rest: errors are told no finer."""


def rest_width(procedure: Procedure, survey: Survey, ask: Ask) -> float:
    """That width in the terms of the ask's reading; 0 where nothing tells what is allowed."""
    if isinstance(ask, Touch):
        return ask.aim.within
    if not isinstance(ask, Read):
        return 0.0
    divided = ask.quantity == "frequency" and procedure.counter.shows == "divided"
    return REST_SHARE * _allowed(procedure, survey, ask) / (procedure.counter.prescaler if divided else 1)


def _allowed(procedure: Procedure, survey: Survey, ask: Read) -> float:
    """What is allowed [Hz, dB or V] where that is read."""
    match step := procedure.step(ask.step):
        case CoverageStep() if ask.quantity == "frequency":
            return step.tolerance_hz
        case TrackingStep() if ask.quantity == "resonance":
            # A tolerance given as a loss is told in hertz by the report, at the circuit's own Q.
            told = next((row for row in survey.steps if row.id == ask.step and row.unit == "Hz"), None)
            return step.tolerance_hz or (told.tolerance if told is not None else None) or 0.0
        case ReadBackStep() | SealStep():
            return min((row.within for row in step.limits if row.quantity == ask.quantity), default=0.0)
    return 0.0
