"""A real strip drawn from the design: filters off centre as lots are, cans and detector as they were wound."""

from typing import TYPE_CHECKING

import msgspec

from aligner.rehearsal.parts import Can, Detector, Filter, Parts, Strip, Winding
from aligner.rehearsal.strip import StripElectrical

if TYPE_CHECKING:
    from aligner.rehearsal.draw import Drawing

change = msgspec.structs.replace


def with_strip(drawing: "Drawing", front: Parts, designed: Parts, nominal: Strip) -> Parts:
    """The front end with the strip of the same design drawn behind it; its screws come after the others."""
    lot = drawing.near(1.0, drawing.spread.strip.filter_lot)
    strip = change(
        nominal,
        cans=tuple(_can(drawing, row) for row in nominal.cans),
        filters=tuple(_filter(drawing, row, lot) for row in nominal.filters),
        detector=_detector(drawing, nominal.detector) if nominal.detector else None,
        traps=tuple(change(row, winding=_winding(drawing, row.winding)) for row in nominal.traps),
    )
    windings = StripElectrical(strip).windings()
    share = drawing.fixed.strip.start_share
    screws = tuple(
        drawing.screw(row, windings[row.id].coil if windings[row.id].coil.screw else None, share)
        for row in designed.screws
        if row.id in windings
    )
    return change(front, screws=(*front.screws, *screws), strip=strip)


def _filter(drawing: "Drawing", nominal: Filter, lot: float) -> Filter:
    spread = drawing.spread.strip
    return change(
        nominal,
        centre=drawing.near(nominal.centre * lot, spread.filter_mismatch),
        quality=drawing.near(nominal.quality, spread.filter_width),
    )


def _can(drawing: "Drawing", nominal: Can) -> Can:
    coupling = drawing.near(nominal.coupling, drawing.spread.strip.coupling) if nominal.coupling else 0.0
    return change(nominal, windings=tuple(_winding(drawing, row) for row in nominal.windings), coupling=coupling)


def _winding(drawing: "Drawing", nominal: Winding) -> Winding:
    trimmer = drawing.trimmer(nominal.trimmer, drawing.spread.capacitor.limits) if nominal.trimmer else None
    farad = drawing.near(nominal.farad, drawing.spread.strip.winding)
    return change(nominal, coil=drawing.coil(nominal.coil), farad=farad, trimmer=trimmer)


def _detector(drawing: "Drawing", nominal: Detector) -> Detector:
    return change(
        nominal,
        secondary=_winding(drawing, nominal.secondary),
        primary=_winding(drawing, nominal.primary) if nominal.primary else None,
        coupling=drawing.near(nominal.coupling, drawing.spread.strip.coupling) if nominal.coupling else 0.0,
        height=nominal.height * float(drawing.rng.choice([-1.0, 1.0])) * float(drawing.rng.uniform(0.5, 2.0)),
    )
