"""The set as its maker designed it, from what a procedure says; what it leaves open is invented so that it can align.

Nothing is drawn here: `draw` takes this design and makes it real.
"""

import math
from collections.abc import Mapping

import msgspec
import numpy as np

from aligner.procedure.model import Band, Procedure
from aligner.rehearsal.design_circuits import Designed, Maker, tuned
from aligner.rehearsal.design_element import Element, element_for
from aligner.rehearsal.design_parts import preset_for, screws_for, side_of
from aligner.rehearsal.parts import Parts
from aligner.rehearsal.population import Fixed
from aligner.rehearsal.strip import StripElectrical
from aligner.rehearsal.strip_design import strip_for


def design(procedure: Procedure, fixed: Fixed) -> Parts:
    """The nominal set."""
    front = _front(procedure, fixed) if procedure.bands else _none(procedure)
    strip = strip_for(procedure, fixed)
    if strip is None:
        return front
    windings = tuple(StripElectrical(strip).windings().values())
    return msgspec.structs.replace(front, screws=screws_for(procedure, fixed, front.circuits, windings), strip=strip)


def _none(procedure: Procedure) -> Parts:
    """Ahead of a strip alone there is nothing."""
    return Parts((), (), (0.0, 1.0), (0.0, 1.0), (), procedure.intermediate_hz, side_of(procedure))


def _front(procedure: Procedure, fixed: Fixed) -> Parts:
    """Everything ahead of the strip."""
    chosen, henry = _designed(procedure, fixed, 1.0)
    leader = next(row for row in procedure.circuits if row.role == "oscillator")
    rows = (procedure.adjuster(name) for name in leader.adjusters)
    coil = next((row for row in rows if row.does == "inductance"), None)
    if procedure.tuning.curve or (procedure.tuning.span and procedure.tuning.by == "gang") or not coil:
        return chosen
    if coil.travel is None:
        return chosen
    wanted = math.sqrt(coil.travel[0] * coil.travel[1])
    return _designed(procedure, fixed, henry / wanted)[0]


def _designed(procedure: Procedure, fixed: Fixed, scale: float) -> tuple[Parts, float]:
    """The set and its first oscillator's inductance [H], with all capacitances of the tuning scaled."""
    element = element_for(procedure, scale)
    found: dict[str, Designed] = {}
    for band in procedure.bands:
        found.update({row.circuit.id: row for row in _of_band(procedure, fixed, element, band, found)})
    circuits = tuple(found[row.id].circuit for row in procedure.circuits if row.id in found)
    leaders = {band.id: _leader(found, band) for band in procedure.bands}
    dials = {band.id: _dial(procedure, band, leaders[band.id], element) for band in procedure.bands}
    first = procedure.bands[0].id
    parts = Parts(
        circuits=circuits,
        screws=screws_for(procedure, fixed, circuits),
        tuning=element.reach,
        ends=element.ends,
        dial=dials[first],
        intermediate=procedure.intermediate_hz,
        side=side_of(procedure),
        gang=element.gang,
        presets=tuple(preset_for(fixed, adjuster, sets) for adjuster, sets in procedure.tuning.presets),
        settle_s=fixed.oscillator.settle_s,
        more_dials={name: rows for name, rows in dials.items() if name != first},
    )
    return parts, leaders[first].henry


def _leader(found: Mapping[str, Designed], band: Band) -> Designed:
    """The oscillator of a band."""
    rows = [row for row in found.values() if row.circuit.role == "oscillator"]
    return next(row for row in rows if not row.circuit.bands or band.id in row.circuit.bands)


def _of_band(
    procedure: Procedure, fixed: Fixed, element: Element, band: Band, known: Mapping[str, Designed]
) -> list[Designed]:
    """The circuits of a band that no band before it has; trimmers that they share with those are the same parts."""
    worked = [
        row
        for row in procedure.circuits
        if row.role in ("oscillator", "signal") and row.id not in known and (not row.bands or band.id in row.bands)
    ]
    if not worked:
        return []
    shared = {trimmer.screw: trimmer for row in known.values() for trimmer in row.circuit.trimmers}
    maker = Maker(procedure, fixed, element, band, shared)
    plain = [row for row in worked if not maker.padded(row)]
    reference = next((row for row in plain if row.role == "signal"), plain[0] if plain else worked[0])
    guide = maker.plain(reference, maker.anchors())
    return [guide if row.id == reference.id else maker.following(row, guide) for row in worked]


def _dial(procedure: Procedure, band: Band, leader: Designed, element: Element) -> tuple[tuple[float, float], ...]:
    """The printed scale: the position of the tuning at which the design's oscillator receives each frequency."""
    shift = side_of(procedure) * procedure.intermediate_hz
    return tuple(
        (float(hz), tuned(leader, element, float(hz) + shift)) for hz in np.linspace(band.low_hz, band.high_hz, 33)
    )
