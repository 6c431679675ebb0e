"""What the presets of the tuning voltage do to what was read: a place of the scale is another voltage after each.

A preset sets the voltage at one end of the scale, so a dial frequency, a mark or an end stands for another voltage once
it was moved, for all circuits at once. A voltage that is read stays what it is, and so does a frequency that is
received. Readings at places of the scale therefore count only from the last preset moved, and not at all where the band
is known by voltages: the two would be taken for one scale.
"""

from aligner.engine.answers import Cannot, Reading
from aligner.engine.asks import Point, Turning
from aligner.engine.history import Entry
from aligner.procedure.model import CoverageStep, Procedure


def preset_ids(procedure: Procedure) -> frozenset[str]:
    """The presets of the tuning voltage."""
    return frozenset(name for name, _ in procedure.tuning.presets)


def last_preset(procedure: Procedure, taken: tuple[Entry, ...]) -> int:
    """Number of the newest entry that moved a preset; nought for none."""
    names = preset_ids(procedure)
    if not names:
        return 0
    moved = (e.seq for e in taken if isinstance(e.ask, Turning) and e.ask.adjuster in names and _moves(e))
    return max(moved, default=0)


def _moves(entry: Entry) -> bool:
    return isinstance(entry.answer, Reading) or (
        isinstance(entry.answer, Cannot) and entry.answer.why == "end-of-travel"
    )


def by_scale(point: Point) -> bool:
    """Whether a point is a place of the scale, whose voltage the presets make."""
    return point.volts is None and point.received is None


def displaced(procedure: Procedure, band_id: str, point: Point, seq: int, last: int) -> bool:
    """Whether what was read at a point in entry `seq` says nothing of the circuits at that place of the scale now."""
    if not procedure.tuning.presets or not by_scale(point):
        return False
    return seq < last or known_by_volts(procedure, band_id)


def known_by_volts(procedure: Procedure, band_id: str) -> bool:
    """Whether a coverage of the band names voltages: then these are its places."""
    band = procedure.band_of(band_id)
    return any(
        point.place.volts is not None
        for step in procedure.steps
        if isinstance(step, CoverageStep) and procedure.band_of(step.band) == band
        for point in step.points
    )


def set_by_presets(procedure: Procedure, step: CoverageStep) -> bool:
    """Whether the presets bring a coverage about: all its points are places of the scale."""
    return bool(procedure.tuning.presets) and all(point.place.volts is None for point in step.points)
