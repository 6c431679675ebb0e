"""What the IF strip, the detector and the traps of a virtual set do, exactly: levels, voltages, the true centre.

All are the textbook's circuits, from their coils and capacitors: a winding with y = Q (f/f0 - f0/f), a pair of windings
with 1 / ((1 + jy1)(1 + jy2) + k^2 Q1 Q2), a ceramic filter as a pair of modes, and a detector whose diodes see the
primary's voltage with half the secondary's added and taken away.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from aligner.rehearsal.laws import Numbers, inductance, self_capacitance, trimmer_capacitance
from aligner.rehearsal.parts import Can, Detector, Filter, Strip, Trap, Winding

Positions = Mapping[str, Numbers]
Complex = npt.NDArray[np.complexfloating[Any, Any]] | complex
_REACH = 0.08  # the centre is looked for so far from nominal: further than any can tunes
_POINTS = 1601
_HALF_DB = 10 * math.log10(2)


def screw_of(winding: Winding) -> str:
    """The screw that tunes a winding; empty where nothing does."""
    return winding.coil.screw or (winding.trimmer.screw if winding.trimmer else "")


def resonance_of(winding: Winding, positions: Positions) -> Numbers:
    """Resonance [Hz] of a winding by itself."""
    coil = winding.coil
    henry = inductance(coil, positions.get(coil.screw, 0.0))
    trim = winding.trimmer
    more: Numbers = 0.0 if trim is None else trimmer_capacitance(trim, positions.get(trim.screw, 0.0))
    return 1 / (2 * math.pi * np.sqrt(henry * (winding.farad + more + self_capacitance(coil, henry))))


def _off(winding: Winding, hz: Numbers, positions: Positions, quality: float) -> Complex:
    """1 + jy of a winding."""
    own = resonance_of(winding, positions)
    off: Complex = 1 + 1j * quality * (hz / own - own / hz)
    return off


def _db(ratio: Complex) -> Numbers:
    level: Numbers = 20 * np.log10(np.abs(ratio) + 1e-12)
    return level


@dataclass(frozen=True)
class StripElectrical:
    """The strip's circuits; `swamped` is the screw of the winding that a resistor is clipped across (empty: none)."""

    strip: Strip
    swamped: str = ""

    def windings(self) -> dict[str, Winding]:
        """Every winding that can be tuned, by its screw."""
        detector = self.strip.detector
        rows = [row for can in self.strip.cans for row in can.windings]
        rows += [trap.winding for trap in self.strip.traps]
        if detector is not None:
            rows += [row for row in (detector.primary, detector.secondary) if row is not None]
        return {screw_of(row): row for row in rows if screw_of(row)}

    def level_db(self, hz: Numbers, positions: Positions) -> Numbers:
        """Level [dB] behind the cans and filters, against everything in tune."""
        level: Numbers = 0.0
        for can in self.strip.cans:
            level = level + self._can_db(can, hz, positions)
        for part in self.strip.filters:
            level = level + _filter_db(part, hz)
        return level

    def _can_db(self, can: Can, hz: Numbers, positions: Positions) -> Numbers:
        left = [row.coil.quality * self._left(row) for row in can.windings]
        if len(can.windings) == 1:
            return _db(self._left(can.windings[0]) / _off(can.windings[0], hz, positions, left[0]))
        first, second = (_off(row, hz, positions, q) for row, q in zip(can.windings, left, strict=True))
        coupled = can.coupling**2 * left[0] * left[1]
        loss = math.sqrt(self._left(can.windings[0]) * self._left(can.windings[1]))
        return _db(loss * 2 * math.sqrt(coupled) / (first * second + coupled))

    def _left(self, winding: Winding) -> float:
        return self.strip.loaded if self.swamped and screw_of(winding) == self.swamped else 1.0

    def trap_db(self, trap: Trap, hz: Numbers, positions: Positions) -> Numbers:
        """What a trap does to a signal [dB]: least at its own resonance."""
        off = _off(trap.winding, hz, positions, trap.winding.coil.quality)
        return _db((off - 1 + trap.depth) / off)

    @property
    def selects(self) -> bool:
        """Whether it has a pass band of its own; a trap alone stands before a strip that is left as it is."""
        return bool(self.strip.cans or self.strip.filters)

    def centre_hz(self, positions: Positions) -> float:
        """The geometric middle [Hz] of the half-power points, which circuits in tune share: the IF as it truly is."""
        nominal = self.strip.nominal
        if not self.selects:
            return nominal
        grid = nominal * np.linspace(1 - _REACH, 1 + _REACH, _POINTS)
        level = np.asarray(StripElectrical(self.strip).level_db(grid, positions)) + 0.0 * grid
        above = level - (float(level.max()) - _HALF_DB)
        (inside,) = np.nonzero(above >= 0)
        return math.sqrt(_edge(grid, above, int(inside[0]), -1) * _edge(grid, above, int(inside[-1]), 1))

    def detector_volts(self, hz: Numbers, positions: Positions) -> tuple[Numbers, Numbers]:
        """A detector's output and (ratio detector) its stabilised voltage [V]."""
        detector = self.strip.detector
        assert detector is not None  # noqa: S101 - asked only of a set that has one
        drive: Numbers = np.power(10.0, (self.strip.headroom + self.level_db(hz, positions)) / 20)
        height: Numbers = detector.height * drive / (1 + drive)
        if detector.primary is None:
            off = _off(detector.secondary, hz, positions, detector.secondary.coil.quality)
            x: Numbers = np.asarray(np.imag(off), dtype=np.float64)
            return height * 2 * x / (1 + x * x), np.abs(height)
        above, below = _halves(detector, hz, positions)
        return height * (above - below), np.abs(height) * (above + below)


def _edge(grid: npt.NDArray[np.float64], above: npt.NDArray[np.float64], inside: int, way: int) -> float:
    outside = inside + way
    if not 0 <= outside < grid.size:
        return float(grid[inside])
    share = above[inside] / (above[inside] - above[outside])
    return float(grid[inside] + share * (grid[outside] - grid[inside]))


def _filter_db(part: Filter, hz: Numbers) -> Numbers:
    off = 1 + 1j * part.quality * (hz / part.centre - part.centre / hz)
    coupled = part.coupling**2
    # Against its own greatest: past critical coupling that is on the two humps.
    greatest = 1 / (2 * part.coupling) if part.coupling > 1 else 1 / (1 + coupled)
    return _db(1 / (off * off + coupled) / greatest)


def _halves(detector: Detector, hz: Numbers, positions: Positions) -> tuple[Numbers, Numbers]:
    """What the two diodes see, against the primary's voltage with everything in tune."""
    first, second = detector.primary, detector.secondary
    assert first is not None  # noqa: S101 - a quadrature detector has no halves
    one = _off(first, hz, positions, first.coil.quality)
    two = _off(second, hz, positions, second.coil.quality)
    coupled = detector.coupling**2 * first.coil.quality * second.coil.quality
    primary = (1 + coupled) * two / (one * two + coupled)
    half = 1j * detector.share / two
    # At its resonance the secondary stands a quarter period from the primary, so both sums are alike: zero.
    return np.abs(primary * (1 - half)), np.abs(primary * (1 + half))
