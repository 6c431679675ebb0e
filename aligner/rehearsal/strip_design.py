"""The IF strip as its maker designed it, from what a procedure says of its cans, filters, detector and traps."""

import math
from dataclasses import dataclass

from aligner.procedure.model import Adjuster, Circuit, DetectorStep, IfPeakStep, IfSweepStep, Procedure, TrapStep
from aligner.rehearsal.design_parts import CORE_WIDTH, coil_law, coil_turns, from_travel, middle_of, trimmer_for
from aligner.rehearsal.parts import Can, Coil, Detector, Filter, Strip, Trap, Winding
from aligner.rehearsal.population import Fixed

_FARAD = 47e-12  # across a winding for 10.7 MHz; common practice, no source
_FM_HZ = 5e6
_SELF = 0.06  # share of a winding's capacitance that is the coil's own
_FILTER_COUPLING = 1.15  # a little past critical: flat within a tenth of a decibel
_DETECTOR_COUPLING = 1.0


def strip_for(procedure: Procedure, fixed: Fixed) -> Strip | None:
    """The strip; None for a set of which the procedure names nothing behind the mixer."""
    steps = [row for row in procedure.steps if isinstance(row, IfPeakStep | IfSweepStep | DetectorStep | TrapStep)]
    if not steps:
        return None
    maker = _Maker(procedure, fixed)
    sweep = next((row for row in steps if isinstance(row, IfSweepStep)), None)
    detector = next((row for row in steps if isinstance(row, DetectorStep)), None)
    hz = procedure.intermediate_hz
    return Strip(
        nominal=hz,
        cans=tuple(maker.can(row) for row in procedure.circuits if row.role == "if"),
        filters=tuple(_filter(hz, width) for width in (sweep.filters_hz if sweep else ())),
        traps=tuple(maker.trap(row) for row in procedure.circuits if row.role == "trap"),
        loaded=fixed.strip.swamped,
        headroom=fixed.strip.headroom_db,
        through=fixed.strip.through_db,
        detector=maker.detector(detector) if detector else None,
    )


def _filter(hz: float, width_hz: float) -> Filter:
    """Two modes whose -3 dB points stand as far apart as is stated."""
    c2 = _FILTER_COUPLING**2
    # |(1 + jy)^2 + c2|^2 = (1 + c2 - y^2)^2 + 4 y^2 is twice its least, 4 c2, at the edge.
    edge = math.sqrt((c2 - 1) + 2 * _FILTER_COUPLING)
    return Filter(hz, edge * hz / width_hz, _FILTER_COUPLING)


@dataclass(frozen=True)
class _Maker:
    """Windings of one procedure."""

    procedure: Procedure
    fixed: Fixed

    def can(self, circuit: Circuit) -> Can:
        """A can with as many windings as it has adjusters, one at least."""
        hz, own = self.procedure.intermediate_hz, self.fixed.strip
        quality = circuit.q or (own.quality_fm if hz > _FM_HZ else own.quality_am)
        rows: list[Adjuster | None] = [self.procedure.adjuster(name) for name in circuit.adjusters]
        windings = tuple(self.winding(row, hz, quality) for row in rows[:2] or [None])
        past = any(isinstance(step, IfPeakStep) and circuit.id in step.swamped for step in self.procedure.steps)
        coupling = 0.0 if len(windings) < 2 else (own.over if past else own.under) / quality
        return Can(circuit.id, windings, coupling)

    def trap(self, circuit: Circuit) -> Trap:
        """A trap on its step's frequency, the IF where it has none."""
        steps = [row for row in self.procedure.steps if isinstance(row, TrapStep) and row.circuit == circuit.id]
        hz = steps[0].hz if steps else self.procedure.intermediate_hz
        turned = self.procedure.adjuster(circuit.adjusters[0]) if circuit.adjusters else None
        winding = self.winding(turned, hz, circuit.q or self.fixed.strip.quality_am)
        return Trap(circuit.id, winding, self.fixed.strip.depth)

    def detector(self, step: DetectorStep) -> Detector:
        """A detector whose secondary is what sets its zero."""
        hz, own = self.procedure.intermediate_hz, self.fixed.strip
        quality = self.procedure.circuit(step.circuit).q or own.quality_detector
        secondary = self.winding(self.procedure.adjuster(step.zero), hz, quality)
        if step.form == "quadrature":
            return Detector(step.circuit, step.form, secondary, 1.0)
        turned = self.procedure.adjuster(step.symmetry) if step.symmetry else None
        primary = self.winding(turned, hz, quality)
        return Detector(step.circuit, step.form, secondary, 1.0, primary, _DETECTOR_COUPLING / quality)

    def winding(self, adjuster: Adjuster | None, hz: float, quality: float) -> Winding:
        """A winding that is right on `hz` with its adjuster in the middle."""
        total = _FARAD * (10.7e6 / hz) ** 0.4
        henry = 1 / ((2 * math.pi * hz) ** 2 * total)
        if adjuster is not None and adjuster.does == "parallel":
            trimmer = trimmer_for(self.fixed, adjuster, 0.2 * total)
            rest = total * (1 - _SELF) - (trimmer.low + trimmer.high) / 2
            return Winding(self._coil(None, henry, _SELF * total, quality), rest, trimmer)
        return Winding(self._coil(adjuster, henry, _SELF * total, quality), total * (1 - _SELF))

    def _coil(self, adjuster: Adjuster | None, henry: float, own_f: float, quality: float) -> Coil:
        law, reach = coil_law(self.fixed, adjuster)
        reach = math.copysign(min(abs(reach), self.fixed.strip.reach), reach)
        bare = henry / middle_of(law, reach)
        if adjuster is not None and adjuster.travel is not None:
            bare, reach = from_travel(law, reach, min(adjuster.travel), max(adjuster.travel))
        turns = coil_turns(self.fixed, adjuster, abs(bare * reach), law)
        fixed = self.fixed.coil
        return Coil(
            screw=adjuster.id if adjuster else "",
            law=law,
            inductance=bare,
            reach=reach,
            centre=turns,
            width=CORE_WIDTH * turns,
            travel=turns,
            self_capacitance=own_f / (1 + fixed.self_moves * (henry / bare - 1)),
            self_moves=fixed.self_moves,
            quality=quality,
            ferrite_pull=fixed.ferrite_pull,
            brass_pull=fixed.brass_pull,
            brass_loss=fixed.brass_loss,
        )
