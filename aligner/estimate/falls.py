"""Falls of the level from a circuit's own peak: how far off it stands, in widths, on a side that others must tell.

With x = ln y - ln y of the generator the level of a single tuned circuit lies 10 lg(1 + (Q x)^2) dB below its peak
(2 Q df/f = Q x). So a fall gives |Q x|, and two falls of one circuit give a ratio of distances in which Q drops out.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np

from aligner.estimate.equations import OUTLIER, Linear, robust
from aligner.estimate.events import Fallen, Moved, Sighted
from aligner.estimate.forward import Forward, Given, Slopes, forward_of
from aligner.estimate.ladder import SERIES, Array

FALL_BEND = 0.015
"""A circuit's skirts are those of a single tuned one to so much (relative)."""
NEAR = 0.5
"""Widths within which a level is blunt, and its side hardly matters: 1 dB."""
_DEEPEST_DB = 60.0  # below this there is only noise
_WIDEST = 12.0  # of ln Q: farther a wild step of the solver does not go
_ANYWHERE = 1e3  # widths: a fall whose side nobody knows says nothing yet
_LEAST_TURNS = 0.1  # less was not turned for sure
_NEARLY_ALL = 1.96  # standard errors within which the meter's uncertainty lies, 95 times in 100
_SURE = 2.5  # standard errors that tell a side
_MOST_OPEN = 2  # falls tried on both sides at a time


@dataclass(frozen=True)
class FallBlock:
    """Falls of one circuit about the generator's frequency, each on its side (+1, -1; 0: not to be used)."""

    forward: Forward
    seqs: tuple[int, ...]
    generator: Array  # ln y
    widths: Array  # |Q x| as seen; nought where the peak itself is not excluded
    sd: Array  # of it
    sides: Array
    quality: int  # column of ln Q

    def on_sides(self, sides: Mapping[int, int]) -> "FallBlock":
        """The same with sides [1] by seq; what is missing there is not used."""
        return replace(self, sides=np.array([float(sides.get(seq, 0)) for seq in self.seqs]))

    @property
    def complete(self) -> bool:
        """Whether every fall has its side, or needs none."""
        return bool(np.all((self.sides != 0.0) | (self.widths == 0.0)))

    def telling(self, mean: Array) -> Array:  # noqa: ARG002 - looks ask for it
        """How much of each residual (n,) about a mean [1] is expected to be scatter [1]: none where a fall only bounds.

        The shape of the skirts is allowed for in every one, and does not scatter.
        """
        used = (self.widths > NEAR) & (self.sides != 0.0)
        return np.where(used, 1.0 - (FALL_BEND * self.widths / self.sd) ** 2, 0.0)

    def linear(self, mean: Array, outlier: float = OUTLIER) -> Linear:
        """The equations about a mean [1] of the unknowns, in widths; outlier [1] as in `robust`."""
        off, slopes = self.off(mean)
        return robust(self.seqs, slopes, self._sided - off, self._sd, outlier)

    @cached_property
    def _sided(self) -> Array:
        return self.sides * self.widths

    @cached_property
    def _sd(self) -> Array:
        """Standard errors; a fall without its side says nothing."""
        return np.where((self.widths > 0.0) & (self.sides == 0.0), _ANYWHERE, self.sd)

    def off(self, mean: Array) -> tuple[Array, Slopes]:
        """Q x [1], shape (n,), and its derivatives (n, unknowns) [1] at the unknowns' mean [1]."""
        return widths_off(self.forward, self.generator, self.quality, mean)


def widths_off(forward: Forward, generator: Array, quality: int, mean: Array) -> tuple[Array, Slopes]:
    """Q x, how far a circuit stands off a generator, and its derivatives.

    Parameters
    ----------
    forward : Forward [1]
        ln y [1] at the places and times of n sightings
    generator : Array [1]
        ln y of the generator, (n,) [1]
    quality : int [1]
        column of ln Q [1]
    mean : Array [1]
        the unknowns, (unknowns,) [1]

    Returns
    -------
    tuple of Array and Slopes
        Q x [1], (n,), and derivatives [1], (n, unknowns)
    """
    now, by_unknown = forward.lny(mean)
    q = float(np.exp(min(max(float(mean[quality]), -_WIDEST), _WIDEST)))
    off = q * (now - generator)

    def slopes() -> Array:
        jacobian = q * by_unknown()
        jacobian[:, quality] += off
        return jacobian

    return off, slopes


def spread_of(jacobian: Array, covariance: Array) -> Array:
    """Standard errors [1], (n,), by a jacobian [1], (n, unknowns), and the unknowns' covariance [1]."""
    return np.asarray(np.sqrt(np.einsum("nq,qr,nr->n", jacobian, covariance, jacobian)))


def fall_block(given: Given, circuit: str) -> FallBlock:
    """The block of a circuit's falls, their sides still open."""
    seen = falls_of(given, circuit)
    widths = [widths_seen(e) for e in seen]
    return FallBlock(
        forward=forward_of(given, circuit, seen),
        seqs=tuple(e.seq for e in seen),
        generator=given.frame.circuits[circuit].lny(np.array([e.hz for e in seen])),
        widths=np.array([away for away, _ in widths]),
        sd=np.array([sd for _, sd in widths]),
        sides=np.zeros(len(seen)),
        quality=given.layout.quality[circuit],
    )


def falls_of(given: Given, circuit: str) -> list[Fallen]:
    """The falls of a circuit, oldest first."""
    return [e for e in given.events if isinstance(e, Fallen) and e.circuit == circuit]


def widths_of(fall_db: float) -> float:
    """|Q x| [1] at which the level has fallen by fall_db [dB]."""
    return float(np.sqrt(10.0 ** (min(max(fall_db, 0.0), _DEEPEST_DB) / 10.0) - 1.0))


def widths_seen(fall: Fallen) -> tuple[float, float]:
    """|Q x| of a fall and its standard error [1]; nought, as far as it reaches, where the peak is not excluded.

    Near the peak the level is blunt: the same decibels are more widths inwards than outwards, and the greater counts.
    """
    sure = _NEARLY_ALL * fall.sd_db
    away, outwards, inwards = (widths_of(db) for db in (fall.fall_db, fall.fall_db + sure, fall.fall_db - sure))
    if blunt(fall):
        return 0.0, outwards / _NEARLY_ALL
    return away, float(np.hypot(max(outwards - away, away - inwards) / _NEARLY_ALL, FALL_BEND * away))


def blunt(fall: Fallen) -> bool:
    """Whether a fall is no more than the meter's uncertainty, so that the peak itself is not excluded."""
    return fall.fall_db <= _NEARLY_ALL * fall.sd_db


def sides_by_turns(given: Given, circuit: str, senses: Mapping[str, int]) -> dict[int, int]:
    """Sides [1] by seq that follow from counted turns between a fall and a peak at its place, for senses [1].

    From the peak a turn that raises ln y leads to a fall above; to the peak it came from a fall below.
    """
    sides: dict[int, int] = {}
    handles = given.frame.handles
    moved = [e for e in given.events if isinstance(e, Moved) and circuit in handles[e.adjuster].adjuster.circuits]
    peaks = [e for e in given.events if isinstance(e, Sighted) and e.circuit == circuit]
    for fall in falls_of(given, circuit):
        way = fall.sign or _short(given, senses, fall)
        for peak in peaks:
            if not way and (peak.spot, peak.hz) == (fall.spot, fall.hz):
                way = _way(given, senses, moved, peak.seq, fall.seq)
        if way:
            sides[fall.seq] = way
    return sides


def _short(given: Given, senses: Mapping[str, int], fall: Fallen) -> int:
    """The side of a fall that an adjuster at its end left, by the way in which it was turned towards the peak."""
    if fall.short is None or abs(fall.short[1]) < _LEAST_TURNS:
        return 0
    name, turns = fall.short
    return -int(np.sign(turns)) * _raises(given, senses, name)


def _raises(given: Given, senses: Mapping[str, int], adjuster: str) -> int:
    """Whether a clockwise turn raises ln y (+1) or lowers it (-1), by supposed senses."""
    return senses[adjuster] * (-1 if given.frame.handles[adjuster].setting == SERIES else 1)


def _way(given: Given, senses: Mapping[str, int], own: list[Moved], peak: int, fall: int) -> int:
    """The side of a fall by the turns of the one adjuster that was moved between it and a peak; 0 where they differ.

    `own` are the movements of the circuit's adjusters.
    """
    first, last = min(peak, fall), max(peak, fall)
    moved = [e for e in own if first < e.seq < last]
    if len({e.adjuster for e in moved}) != 1 or any(e.turns is None for e in moved):
        return 0
    turns = sum(e.turns or 0.0 for e in moved)
    name = moved[0].adjuster
    raises = _raises(given, senses, name)
    return int(np.sign(turns)) * raises * (1 if peak < fall else -1) if abs(turns) > _LEAST_TURNS else 0


def open_sides(
    given: Given, blocks: Sequence[FallBlock], known: Mapping[int, int], mean: Array, covariance: Array
) -> Iterator[dict[int, int]]:
    """Every choice of sides [1] by seq that is still open after a solution without the falls whose side is not known.

    Parameters
    ----------
    given : Given
        events and columns
    blocks : sequence of FallBlock
        the falls of each circuit
    known : mapping of int to int [1]
        sides [1] by seq that are known already
    mean, covariance : Array [1]
        the unknowns of that solution, shapes (q,) and (q, q)

    Yields
    ------
    dict of int to int
        +1 or -1 by seq [1]
    """
    sides, guessed = dict(known), dict(known)
    for block in blocks:
        off, slopes = block.off(mean)
        sd = spread_of(slopes(), covariance)
        for seq, away, about in zip(block.seqs, off, sd, strict=True):
            guessed.setdefault(seq, 1 if away >= 0 else -1)
            if abs(away) > _SURE * about:
                sides.setdefault(seq, guessed[seq])
    falls = [e for e in given.events if isinstance(e, Fallen)]
    _tie(falls, sides)
    free = [e.seq for e in falls if e.seq not in sides and not _tied(e, falls) and _far(blocks, e.seq)]
    older, newest = free[:-_MOST_OPEN], free[-_MOST_OPEN:]
    sides |= {seq: guessed[seq] for seq in older}
    one_side = _seen_alike(blocks, newest)
    for signs in product((1, -1), repeat=len(newest)):
        if one_side and len(set(signs)) > 1:
            continue
        tried = sides | dict(zip(newest, signs, strict=True))
        _tie(falls, tried)
        yield tried


def _seen_alike(blocks: Sequence[FallBlock], seqs: Sequence[int]) -> bool:
    """Whether falls were seen with nothing moved between them, at one place: then they lie on one side, whichever."""
    for block in blocks:
        at = [n for n, seq in enumerate(block.seqs) if seq in seqs]
        if len(at) == len(seqs):
            return all(block.forward.alike(at[0], n) and block.generator[n] == block.generator[at[0]] for n in at)
    return False


def _tie(falls: list[Fallen], sides: dict[int, int]) -> None:
    """Carry sides on between falls that lie on opposite sides of one peak."""
    for fall in falls:
        if fall.opposite in sides:
            sides.setdefault(fall.seq, -sides[fall.opposite])
        elif fall.seq in sides and fall.opposite:
            sides[fall.opposite] = -sides[fall.seq]


def _tied(fall: Fallen, falls: list[Fallen]) -> bool:
    return any(other.seq == fall.opposite for other in falls)


def _far(blocks: Sequence[FallBlock], seq: int) -> bool:
    """Whether a fall is more than the meter's own uncertainty, so that its side matters."""
    return any(s == seq and away > 0.0 for b in blocks for s, away in zip(b.seqs, b.widths, strict=True))
