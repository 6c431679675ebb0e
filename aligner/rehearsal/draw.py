"""Real sets drawn from a design: every part off by what its kind is usually off, every screw anywhere."""

from functools import lru_cache
from typing import Literal

import msgspec
import numpy as np

from aligner.procedure.model import Procedure
from aligner.rehearsal.design import design
from aligner.rehearsal.parts import Coil, Diode, Parts, Screw, Section, Trimmer, TunedCircuit
from aligner.rehearsal.population import Population

change = msgspec.structs.replace


def draw(procedure: Procedure, population: Population, seed: int, index: int) -> Parts:
    """Set number `index` of a seed; it is the same whatever else is drawn."""
    known = frozenset(row.id for row in procedure.adjusters if row.rotation is not None)
    return _Drawing(population, np.random.default_rng((seed, index)), known).parts(_designed(procedure, population))


@lru_cache(maxsize=8)
def _designed(procedure: Procedure, population: Population) -> Parts:
    return design(procedure, population.fixed)


class _Drawing:
    """One set being drawn; the sense of the screws in `known` is what the procedure says."""

    def __init__(self, population: Population, rng: np.random.Generator, known: frozenset[str]) -> None:
        self._known = known
        self._spread = population.spread
        self._fixed = population.fixed
        self._rng = rng

    def _normal(self, sd: float) -> float:
        return float(self._rng.normal(0.0, sd)) if sd else 0.0

    def _near(self, value: float, sd: float) -> float:
        """A value off by a relative spread; beyond four spreads, or to less than a tenth, nothing is sold."""
        return value * max(0.1, 1 + float(np.clip(self._normal(sd), -4 * sd, 4 * sd)))

    def parts(self, nominal: Parts) -> Parts:
        """The whole set."""
        lot = self._near(1.0, self._spread.gang.lot if nominal.gang else self._spread.diode.lot)
        circuits = tuple(self._circuit(row, lot) for row in nominal.circuits)
        past = {row.coil.screw: row.coil for row in circuits}
        return change(
            nominal,
            circuits=circuits,
            screws=tuple(self._screw(row, past.get(row.id)) for row in nominal.screws),
            dial=self._dial(nominal) if nominal.gang else nominal.dial,
            intermediate=self._near(nominal.intermediate, self._spread.tuning.intermediate),
            settle=self._normal(self._spread.oscillator.settle),
            pulling=abs(self._normal(self._spread.oscillator.pulling)),
            gain_db=float(self._rng.uniform(30.0, 60.0)),
        )

    def _circuit(self, nominal: TunedCircuit, lot: float) -> TunedCircuit:
        stray = self._spread.capacitor.stray
        return change(
            nominal,
            coil=self._coil(nominal.coil),
            trimmers=tuple(self._trimmer(row, self._spread.capacitor.limits) for row in nominal.trimmers),
            stray=self._near(nominal.stray, stray),
            coil_stray=self._near(nominal.coil_stray, stray),
            padder=self._trimmer(nominal.padder, self._spread.capacitor.padder) if nominal.padder else None,
            diode=self._diode(nominal.diode, lot) if nominal.diode else None,
            section=self._section(lot) if nominal.section else None,
        )

    def _coil(self, nominal: Coil) -> Coil:
        spread, fixed = self._spread.coil, self._fixed.coil
        return change(
            nominal,
            inductance=self._near(nominal.inductance, spread.inductance),
            reach=self._near(nominal.reach, spread.reach),
            width=self._near(nominal.width, spread.width),
            self_capacitance=self._near(nominal.self_capacitance, spread.self_capacitance),
            self_moves=self._near(nominal.self_moves, spread.self_moves),
            quality=self._near(nominal.quality, spread.quality),
            ferrite_pull=self._near(nominal.ferrite_pull, fixed.wand_spread),
            brass_pull=self._near(nominal.brass_pull, fixed.wand_spread),
            brass_loss=self._near(nominal.brass_loss, fixed.wand_spread),
        )

    def _trimmer(self, nominal: Trimmer, limits: float) -> Trimmer:
        return change(
            nominal,
            low=self._near(nominal.low, limits),
            high=self._near(nominal.high, limits),
            curvature=self._near(nominal.curvature, self._spread.capacitor.curvature),
        )

    def _diode(self, nominal: Diode, lot: float) -> Diode:
        spread = self._spread.diode
        return change(
            nominal,
            junction=self._near(nominal.junction * lot, spread.mismatch),
            potential=self._near(nominal.potential, spread.potential),
            exponent=self._near(nominal.exponent, spread.exponent),
            coupling=self._near(nominal.coupling, self._spread.capacitor.coupling),
            swing=max(0.0, nominal.swing + self._normal(spread.swing_v)) if nominal.swing else 0.0,
        )

    def _section(self, lot: float) -> Section:
        spread = self._spread.gang
        bends = (self._normal(spread.bend), self._normal(spread.bend), self._normal(spread.bend))
        return Section(self._near(lot, spread.mismatch), self._normal(spread.offset_f), bends)

    def _dial(self, nominal: Parts) -> tuple[tuple[float, float], ...]:
        """The scale as printed and glued on: three smooth errors along it."""
        sd = self._spread.gang.print
        along = np.linspace(0.0, 1.0, len(nominal.dial))
        shape = self._normal(sd) + self._normal(sd) * np.cos(np.pi * along) + self._normal(sd) * np.sin(np.pi * along)
        return tuple((hz, at + float(off)) for (hz, at), off in zip(nominal.dial, shape, strict=True))

    def _screw(self, nominal: Screw, coil: Coil | None) -> Screw:
        fixed = self._fixed
        outside = (1 - fixed.start.share) / 2
        start = nominal.travel * float(self._rng.uniform(outside, 1 - outside))
        past = float(self._rng.uniform())
        flip = float(self._rng.uniform()) < fixed.coil.reversed and nominal.id not in self._known
        clockwise: Literal[1, -1] = -1 if flip != (nominal.clockwise < 0) else 1
        core = coil is not None and coil.law == "core"
        further = nominal.travel * 0.45 if core and past < fixed.coil.past_centre else 0.0
        return change(
            nominal,
            start=start,
            travel=nominal.travel + further,
            clockwise=clockwise,
            play=float(self._rng.uniform(0.0, self._spread.hand.backlash)),
        )
