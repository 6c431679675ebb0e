"""Real sets drawn from a design: every part off by what its kind is usually off, every screw anywhere."""

from functools import lru_cache
from typing import Literal

import msgspec
import numpy as np

from aligner.procedure.model import Procedure, WarmUpStep
from aligner.rehearsal.design import design
from aligner.rehearsal.parts import Coil, Diode, Parts, Screw, Section, Trimmer, TunedCircuit
from aligner.rehearsal.population import Population
from aligner.rehearsal.strip import StripElectrical
from aligner.rehearsal.strip_draw import with_strip

change = msgspec.structs.replace


def draw(procedure: Procedure, population: Population, seed: int, index: int) -> Parts:
    """Set number `index` of a seed; it is the same whatever else is drawn."""
    known = frozenset(row.id for row in procedure.adjusters if row.rotation is not None)
    nominal = _designed(procedure, population)
    made = Drawing(population, np.random.default_rng((seed, index)), known).parts(nominal)
    if any(isinstance(step, WarmUpStep) for step in procedure.steps):
        cold = population.spread.strip.cold * float(np.random.default_rng((seed, index, 2)).uniform(-1.5, 1.5))
        made = change(made, settle=made.settle + cold)
    if nominal.strip is None:
        return made
    # The strip has its own stream, so that what is ahead of it is the same set with and without.
    return with_strip(Drawing(population, np.random.default_rng((seed, index, 1)), known), made, nominal, nominal.strip)


@lru_cache(maxsize=8)
def _designed(procedure: Procedure, population: Population) -> Parts:
    return design(procedure, population.fixed)


class Drawing:
    """One set being drawn; the sense of the screws in `known` is what the procedure says."""

    def __init__(self, population: Population, rng: np.random.Generator, known: frozenset[str]) -> None:
        self._known = known
        self.spread = population.spread
        self.fixed = population.fixed
        self.rng = rng
        self._made: dict[str, Trimmer] = {}

    def normal(self, sd: float) -> float:
        """A normal deviate; none is drawn where there is no spread."""
        return float(self.rng.normal(0.0, sd)) if sd else 0.0

    def near(self, value: float, sd: float) -> float:
        """A value off by a relative spread; beyond four spreads, or to less than a tenth, nothing is sold."""
        return value * max(0.1, 1 + float(np.clip(self.normal(sd), -4 * sd, 4 * sd)))

    def parts(self, nominal: Parts) -> Parts:
        """The whole set."""
        lot = self.near(1.0, self.spread.gang.lot if nominal.gang else self.spread.diode.lot)
        circuits = tuple(self._circuit(row, lot) for row in nominal.circuits)
        behind = StripElectrical(nominal.strip).windings() if nominal.strip else {}
        past = {row.coil.screw: row.coil for row in circuits}
        return change(
            nominal,
            circuits=circuits,
            screws=tuple(self.screw(row, past.get(row.id)) for row in nominal.screws if row.id not in behind),
            dial=self._dial(nominal.dial) if nominal.gang else nominal.dial,
            intermediate=self.near(nominal.intermediate, self.spread.tuning.intermediate),
            settle=self.normal(self.spread.oscillator.settle),
            pulling=abs(self.normal(self.spread.oscillator.pulling)),
            gain_db=float(self.rng.uniform(30.0, 60.0)),
            more_dials={band: self._dial(rows) if nominal.gang else rows for band, rows in nominal.more_dials.items()},
        )

    def _circuit(self, nominal: TunedCircuit, lot: float) -> TunedCircuit:
        stray = self.spread.capacitor.stray
        return change(
            nominal,
            coil=self.coil(nominal.coil),
            trimmers=tuple(self.trimmer(row, self.spread.capacitor.limits) for row in nominal.trimmers),
            stray=self.near(nominal.stray, stray),
            coil_stray=self.near(nominal.coil_stray, stray),
            padder=self.trimmer(nominal.padder, self.spread.capacitor.padder) if nominal.padder else None,
            diode=self._diode(nominal.diode, lot) if nominal.diode else None,
            section=self._section(lot, nominal.section.rows) if nominal.section else None,
        )

    def coil(self, nominal: Coil) -> Coil:
        """A coil of the design as it was wound."""
        spread, fixed = self.spread.coil, self.fixed.coil
        return change(
            nominal,
            inductance=self.near(nominal.inductance, spread.inductance),
            reach=self.near(nominal.reach, spread.reach),
            width=self.near(nominal.width, spread.width),
            self_capacitance=self.near(nominal.self_capacitance, spread.self_capacitance),
            self_moves=self.near(nominal.self_moves, spread.self_moves),
            quality=self.near(nominal.quality, spread.quality),
            ferrite_pull=self.near(nominal.ferrite_pull, fixed.wand_spread),
            brass_pull=self.near(nominal.brass_pull, fixed.wand_spread),
            brass_loss=self.near(nominal.brass_loss, fixed.wand_spread),
        )

    def trimmer(self, nominal: Trimmer, limits: float) -> Trimmer:
        """A trimmer or padder; one that circuits of several bands share is one part."""
        if nominal.screw in self._made:
            return self._made[nominal.screw]
        made = change(
            nominal,
            low=self.near(nominal.low, limits),
            high=self.near(nominal.high, limits),
            curvature=self.near(nominal.curvature, self.spread.capacitor.curvature),
        )
        if nominal.law == "fixed":
            return change(made, high=made.low)
        self._made[nominal.screw] = made
        return made

    def _diode(self, nominal: Diode, lot: float) -> Diode:
        spread = self.spread.diode
        return change(
            nominal,
            junction=self.near(nominal.junction * lot, spread.mismatch),
            potential=self.near(nominal.potential, spread.potential),
            exponent=self.near(nominal.exponent, spread.exponent),
            coupling=self.near(nominal.coupling, self.spread.capacitor.coupling),
            swing=max(0.0, nominal.swing + self.normal(spread.swing_v)) if nominal.swing else 0.0,
        )

    def _section(self, lot: float, rows: tuple[tuple[float, float], ...]) -> Section:
        spread = self.spread.gang
        bends = (self.normal(spread.bend), self.normal(spread.bend), self.normal(spread.bend))
        return Section(self.near(lot, spread.mismatch), self.normal(spread.offset_f), bends, rows)

    def _dial(self, rows: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        """The scale as printed and glued on: three smooth errors along it."""
        sd = self.spread.gang.print
        along = np.linspace(0.0, 1.0, len(rows))
        shape = self.normal(sd) + self.normal(sd) * np.cos(np.pi * along) + self.normal(sd) * np.sin(np.pi * along)
        return tuple((hz, at + float(off)) for (hz, at), off in zip(rows, shape, strict=True))

    def screw(self, nominal: Screw, coil: Coil | None, share: float | None = None) -> Screw:
        """A screw, left somewhere within a share of its travel (the usual one unless said)."""
        fixed = self.fixed
        outside = (1 - (fixed.start.share if share is None else share)) / 2
        start = nominal.travel * float(self.rng.uniform(outside, 1 - outside))
        past = float(self.rng.uniform())
        flip = float(self.rng.uniform()) < fixed.coil.reversed and nominal.id not in self._known
        clockwise: Literal[1, -1] = -1 if flip != (nominal.clockwise < 0) else 1
        core = coil is not None and coil.law == "core"
        further = nominal.travel * 0.45 if core and past < fixed.coil.past_centre else 0.0
        return change(
            nominal,
            start=start,
            travel=nominal.travel + further,
            clockwise=clockwise,
            play=float(self.rng.uniform(0.0, self.spread.hand.backlash)),
        )
