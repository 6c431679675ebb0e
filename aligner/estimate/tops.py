"""Levels at places where the circuit was never peaked: what differs between them tells how far off it stands.

With x = ln y - ln y of the generator the level of a single tuned circuit is P - 10 lg(1 + (Q x)^2) dB, and P, its top
at that place, is one more unknown. Two looks with a known movement between them settle P and x both: so a look costs no
touch, and tells how the circuit runs between the places where it is peaked. Which side it stands on must be known by
then; a search from nought would not find it.
"""

from dataclasses import dataclass, replace

import numpy as np

from aligner.estimate.equations import OUTLIER, Linear, robust
from aligner.estimate.events import Looked
from aligner.estimate.falls import FALL_BEND, NEAR, spread_of, widths_off
from aligner.estimate.forward import Forward, Given, forward_of
from aligner.estimate.ladder import Array

_SURE = 2.0  # standard errors that tell a side
_ANYTHING = 1e3  # dB: a look that says nothing
_DB = 10.0 / np.log(10.0)


@dataclass(frozen=True)
class TopBlock:
    """Levels of one circuit whose tops are unknown."""

    forward: Forward
    seqs: tuple[int, ...]
    generator: Array  # ln y
    level: Array  # dB, more is up
    sd: Array  # dB
    tops: Array  # (n, unknowns): noughts, and one in the column of each look's top
    quality: int  # column of ln Q

    def telling(self, mean: Array) -> Array:
        """How much of each residual (n,) about a mean [1] is expected to be what readings scatter [1]: on slopes only.

        Near its top a level is no straight line of the unknowns, and what it is off is taken up by them.
        """
        off, _ = widths_off(self.forward, self.generator, self.quality, mean)
        used = (self.sd < _ANYTHING) & (np.abs(off) > NEAR)
        return np.where(used, (self.sd / self._sd(off)) ** 2, 0.0)

    def linear(self, mean: Array, outlier: float = OUTLIER) -> Linear:
        """The equations about a mean [1] of the unknowns, in dB; outlier [1] as in `robust`."""
        off, by_unknown = widths_off(self.forward, self.generator, self.quality, mean)
        slope = _slope(off)

        def slopes() -> Array:
            return np.asarray(self.tops - slope[:, None] * by_unknown())

        below = self.level - (self.tops @ mean - _DB * np.log1p(off**2))
        return robust(self.seqs, slopes, below, self._sd(off), outlier)

    def _sd(self, off: Array) -> Array:
        """Standard error (n,) [dB] of each level, the shape of the skirts included."""
        return np.asarray(np.hypot(self.sd, FALL_BEND * np.abs(_slope(off) * off)))

    def heights(self, mean: Array) -> Array:
        """A mean [1] with the heights that the levels give their tops by where it puts the circuit: a start."""
        off, _ = widths_off(self.forward, self.generator, self.quality, mean)
        weight = self.tops.T / self.sd**2
        counted = weight.sum(axis=1)
        seen = counted > 0.0
        start = mean.copy()
        start[seen] = (weight @ (self.level + _DB * np.log1p(off**2)))[seen] / counted[seen]
        return start

    def sided(self, mean: Array, covariance: Array) -> "TopBlock":
        """The same without the looks whose side a mean [1] with its covariance [1] leaves open where it matters."""
        off, by_unknown = widths_off(self.forward, self.generator, self.quality, mean)
        sd = spread_of(by_unknown(), covariance)
        known = (np.abs(off) > _SURE * sd) | (np.abs(off) + _SURE * sd < NEAR)
        return replace(self, sd=np.where(known, self.sd, _ANYTHING))


def _slope(off: Array) -> Array:
    """Of the fall [dB] by how many widths (n,) [1] a circuit stands off."""
    return np.asarray(2.0 * _DB * off / (1.0 + off**2))


def top_block(given: Given, circuit: str) -> TopBlock:
    """The block of a circuit's levels whose tops are unknown."""
    seen = [e for e in given.events if isinstance(e, Looked) and e.circuit == circuit]
    tops = np.zeros((len(seen), given.layout.count))
    tops[np.arange(len(seen)), [given.layout.tops[e.top] for e in seen]] = 1.0
    return TopBlock(
        forward=forward_of(given, circuit, seen),
        seqs=tuple(e.seq for e in seen),
        generator=given.frame.circuits[circuit].lny(np.array([e.hz for e in seen])),
        level=np.array([e.level_db for e in seen]),
        sd=np.array([e.sd_db for e in seen]),
        tops=tops,
        quality=given.layout.quality[circuit],
    )
