"""What was seen and counted, as equations about the unknowns: residuals, derivatives and standard errors."""

from dataclasses import dataclass, replace
from functools import cached_property

import msgspec
import numpy as np
from numpy.typing import NDArray

from aligner.estimate.events import Event, Moved, Sighted, Wanded
from aligner.estimate.forward import Forward, Given, Slopes, forward_of
from aligner.estimate.frame import Frame
from aligner.estimate.ladder import Array
from aligner.estimate.layout import BRASS_LOSS_DB, Layout

NDArrayInt = NDArray[np.int64]

OUTLIER = 3.0
"""Standard errors beyond which a sighting is weighed down."""
_PER_TURN_BEND = 0.06  # what such a law of the effect along the travel leaves unsaid (relative)
_PLAIN_BEND = 0.3  # the same where a steady change is not allowed for
_MOST_GROWTH = 3.0
_GAUSS_AT, _GAUSS = 0.5 + 0.5 * np.sqrt(0.6) * np.array([-1.0, 0.0, 1.0]), np.array([5.0, 8.0, 5.0]) / 18.0
_WIDEST = 12.0
_WAND_HELD = 0.015
"""How far a hand that holds a wand against the coil's mouth does the same twice (relative, of what it does; common
practice, no source); the tests themselves tell how far this one does."""
_USUAL_HELD = 0.5
"""That a hand is as usual counts as much as so many equations of its tests."""
_GRID_X = np.linspace(-0.3, 0.3, 241)
_GRID_PULL, _GRID_PUSH, _GRID_Q = (
    np.array([0.017, 0.025, 0.036]),
    np.array([0.012, 0.018, 0.026]),
    np.array([0.75, 1.0, 1.3]),
)
_MOST_DAMPED_DB = 6.0  # brass that takes more than half of the signal is no wand


class Linear(msgspec.Struct, frozen=True, eq=False):  # many are made: a struct is there sooner than a dataclass
    """A block of equations about a mean: residual (n,), sd (n,), residual in standard errors (n,), and slopes.

    Where some are weighed down, sd holds it, and root (n,) are the roots of the weights of the readings `seqs`.
    """

    slopes: Slopes
    residual: Array
    sd: Array
    scaled: Array
    seqs: tuple[int, ...] = ()
    root: Array | None = None

    @property
    def jacobian(self) -> Array:
        """Derivatives of what the residuals are taken from, (n, unknowns) [1]."""
        return self.slopes()

    @property
    def beyond(self) -> float:
        """What comes on top of the squares of `scaled` [1]: r [sd] that is weighed down counts 9 (1 + 2 ln(|r|/3))."""
        return 0.0 if self.root is None else -2.0 * OUTLIER**2 * float(np.log(self.root).sum())

    def free(self, covariance: Array) -> Array:
        """Share of each residual's variance (n,) [1] that unknowns of a covariance [1] do not take up."""
        jacobian = self.jacobian
        return np.asarray(1.0 - (jacobian.dot(covariance) * jacobian).sum(axis=1) / self.sd**2)

    @property
    def weights(self) -> dict[int, float]:
        """Weights [1] by seq of what is weighed down; where seqs repeat, those of one reading's equations multiply."""
        weights: dict[int, float] = {}
        for seq, root in zip(self.seqs, () if self.root is None else self.root.tolist(), strict=False):
            if root < 1.0:
                weights[seq] = weights.get(seq, 1.0) * root**2
        return weights


@dataclass(frozen=True)
class CircuitBlock:
    """Resonances of one circuit, ready for iterations.

    A hand finds a peak to so much of its width: (ln y as seen - ln y) Q/Q0 is what scatters by the error that is stated
    for Q0. With an error in hertz a high Q would be rewarded for every peak that levels contradict: they tell in widths
    how far off it was left, and the narrower the width, the less that would cost. How likely a peak is goes with Q as
    well, as 1/width, but so does the room for the movement that led to it, and the two cancel. Where a circuit is read
    in hertz as well, peaks are few beside that, and their errors are left in hertz too.
    """

    forward: Forward
    seqs: tuple[int, ...]
    target: Array  # ln y as seen
    sd: Array
    usual: Array  # ln Q0
    quality: int  # column of ln Q, -1 where no error goes by it

    def telling(self, mean: Array) -> Array:  # noqa: ARG002 - looks ask for it
        """How much of each residual (n,) about a mean [1] is expected to be what readings scatter [1]: all."""
        return np.ones(len(self.seqs))

    def linear(self, mean: Array, outlier: float = OUTLIER) -> Linear:
        """The equations about a mean [1] of the unknowns; outlier [1] as in `robust`."""
        now, by_unknown = self.forward.lny(mean)
        if self.quality < 0:
            return robust(self.seqs, by_unknown, self.target - now, self.sd, outlier)
        narrower = np.exp(np.minimum(np.maximum(mean[self.quality] - self.usual, -_WIDEST), _WIDEST))
        residual = narrower * (self.target - now)

        def slopes() -> Array:
            jacobian = narrower[:, None] * by_unknown()
            jacobian[:, self.quality] -= residual
            return np.asarray(jacobian)

        return robust(self.seqs, slopes, residual, self.sd, outlier)


def robust(seqs: tuple[int, ...], slopes: Slopes, residual: Array, sd: Array, outlier: float = OUTLIER) -> Linear:
    """Equations weighed down where a residual [1] passes outlier [1] times its sd [1]; seqs [1] as in `Linear`."""
    scaled = residual / sd
    if max(map(abs, scaled.tolist()), default=0.0) <= outlier:
        return Linear(slopes, residual, sd, scaled)
    root = outlier / np.maximum(np.abs(scaled), outlier)
    return Linear(slopes, residual, sd / root, scaled * root, seqs, root)


def circuit_block(given: Given, circuit: str) -> CircuitBlock:
    """The block of a circuit's resonances."""
    own = given.frame.circuits[circuit]
    seen = [e for e in given.events if isinstance(e, Sighted) and e.circuit == circuit]
    hz = np.array([e.hz for e in seen])
    return CircuitBlock(
        forward=forward_of(given, circuit, seen),
        seqs=tuple(e.seq for e in seen),
        target=own.lny(hz) if seen else hz,
        sd=np.array([2.0 * e.sd_hz / e.hz for e in seen]),
        usual=np.log([e.by_q or 1.0 for e in seen]),
        quality=given.layout.quality.get(circuit, -1) if all(e.by_q for e in seen) else -1,
    )


@dataclass(frozen=True)
class WandBlock:
    """Wand tests of one circuit: how the level changes when ln y is pushed up by ferrite, down by brass.

    With x = ln y - ln y of the generator the level lies 10 lg(1 + (Q x)^2) dB below the peak (2 Q df/f = Q x). Brass
    takes some of the Q: by D dB less at the peak, 10 lg(10^(D/10) + (Q x)^2) in all, and nothing on the skirts.

    Both changes are from one level without the wand, so that what this is off goes into both alike: their sum and their
    difference (each by the root of two) err apart, the difference by half the variance of a change, the sum by 3/2.
    """

    forward: Forward
    seqs: tuple[int, ...]
    generator: Array
    ferrite_db: Array
    brass_db: Array
    sd_meter: Array  # of sums and differences (2 n,), by the meter alone
    sd_held: Array  # the same, by how the wand was held
    quality: int
    column: int

    def linear(self, mean: Array, outlier: float = OUTLIER) -> Linear:
        """About a mean [1] of the unknowns: all sums of both ends, then all differences; outlier [1] as in `robust`."""
        now, by_unknown = self.forward.lny(mean)
        x = now - self.generator
        pull, push = np.exp(np.clip(mean[self.column : self.column + 2], -_WIDEST, _WIDEST))
        quality = np.exp(np.clip(mean[self.quality], -_WIDEST, _WIDEST))
        damped = float(np.clip(mean[self.column + 2], 0.0, _MOST_DAMPED_DB))
        here, here_x, here_q, _ = _loss(x, quality)
        up, up_x, up_q, _ = _loss(x + pull, quality)
        down, down_x, down_q, down_d = _loss(x - push, quality, damped)
        n = len(x)

        def slopes() -> Array:
            by_x = (here_x - up_x)[:, None], (here_x - down_x)[:, None]
            jacobian = np.concatenate([by * by_unknown() for by in by_x])
            jacobian[:n, self.column] += -up_x * pull
            jacobian[n:, self.column + 1] += down_x * push
            jacobian[:, self.quality] += np.concatenate((here_q - up_q, here_q - down_q))
            jacobian[n:, self.column + 2] -= down_d
            return _sum_and_difference(jacobian[:n], jacobian[n:])

        residual = _sum_and_difference(self.ferrite_db - (here - up), self.brass_db - (here - down))
        return robust(self.seqs + self.seqs, slopes, residual, np.hypot(self.sd_meter, self.sd_held), outlier)

    def telling(self, mean: Array) -> Array:  # noqa: ARG002 - looks ask for it
        """How much of each residual (2 n,) about a mean [1] is expected to be scatter [1]: all, once it is as held."""
        return np.ones(2 * len(self.seqs))

    def as_held(self, mean: Array, covariance: Array) -> "WandBlock":
        """The same as its own tests tell that the wand was held, about a mean [1] and covariance [1] of the unknowns.

        How many times more or less than usual is the root of (n0 + found) / (n0 + expected), as for a bench's readings
        (`belief`): what the meter makes of the residuals, and what of them the unknowns take up, is taken off both.
        """
        linear = self.linear(mean)
        free = linear.free(covariance)
        meter = float(free @ (self.sd_meter / linear.sd) ** 2)
        found, expected = float(linear.scaled @ linear.scaled) - meter, float(free.sum()) - meter
        more = np.sqrt((_USUAL_HELD + max(found, 0.0)) / (_USUAL_HELD + max(expected, 0.0)))
        return replace(self, sd_held=self.sd_held * more)


def _sum_and_difference(ferrite: Array, brass: Array) -> Array:
    """Of n rows each, 2 n rows: sums and differences, by the root of two."""
    return np.asarray(np.concatenate((ferrite + brass, ferrite - brass)) * np.sqrt(0.5))


def _loss(x: Array, quality: float, damped_db: float = 0.0) -> tuple[Array, Array, Array, Array]:
    """10 lg(10^(D/10) + (Q x)^2) [dB] and its derivatives to x, to ln Q and to D [dB]."""
    square, least = (quality * x) ** 2, 10.0 ** (damped_db / 10.0)
    scale = 10.0 / np.log(10.0)
    whole = least + square
    by_x = scale * 2.0 * quality**2 * x / whole
    return scale * np.log(whole), by_x, scale * 2.0 * square / whole, least / whole


def wand_hints(given: Given, circuit: str) -> CircuitBlock:
    """Where each wand test by itself puts the circuit, as resonances: a start for the solver, which may not see so far.

    The level changes little both near the resonance and far from it, so that a search from nought can end on the wrong
    slope; a grid over distance, pulls and Q does not.
    """
    own = given.frame.circuits[circuit]
    seen = [e for e in given.events if isinstance(e, Wanded) and e.circuit == circuit]
    likely = np.array([_likely_distance(e) for e in seen])
    return CircuitBlock(
        forward=forward_of(given, circuit, seen),
        seqs=tuple(e.seq for e in seen),
        target=own.lny(np.array([e.hz for e in seen])) + likely,
        sd=0.2 * np.abs(likely) + 0.002,
        usual=np.zeros(len(seen)),
        quality=-1,
    )


def _likely_distance(event: Wanded) -> float:
    """ln y - ln y of the generator [1] that explains one wand test best, over usual pulls and qualities."""
    x, pull, push, quality = np.meshgrid(_GRID_X, _GRID_PULL, _GRID_PUSH, event.q * _GRID_Q, indexing="ij")
    here = np.log1p((quality * x) ** 2)
    scale = 10.0 / np.log(10.0)
    ferrite = scale * (here - np.log1p((quality * (x + pull)) ** 2))
    least = 10.0 ** (BRASS_LOSS_DB / 10.0)
    brass = scale * (here - np.log(least + (quality * (x - push)) ** 2))
    miss = (ferrite - event.ferrite_db) ** 2 + (brass - event.brass_db) ** 2
    return float(x.flat[int(np.argmin(miss))])


def wand_block(given: Given, circuit: str) -> WandBlock:
    """The block of a circuit's wand tests; there is at least one."""
    seen = [e for e in given.events if isinstance(e, Wanded) and e.circuit == circuit]
    sd, ferrite, brass = np.array([(e.sd_db, e.ferrite_db, e.brass_db) for e in seen]).T
    held = _WAND_HELD * np.sqrt(0.5 * (ferrite**2 + brass**2))
    return WandBlock(
        forward=forward_of(given, circuit, seen),
        seqs=tuple(e.seq for e in seen),
        generator=given.frame.circuits[circuit].lny(np.array([e.hz for e in seen])),
        ferrite_db=ferrite,
        brass_db=brass,
        sd_meter=np.concatenate((np.sqrt(1.5) * sd, np.sqrt(0.5) * sd)),
        sd_held=np.concatenate((held, held)),
        quality=given.layout.quality[circuit],
        column=given.layout.wand[circuit],
    )


@dataclass(frozen=True)
class TurnBlock:
    """Soft equations: turns = movement / mean effect per turn on the way, effect * exp(steeper n + bent n^2 / 2) at n.

    n are the net turns from where the adjuster first stood; the mean over them is by Gauss's rule of three places
    along (n, 3). A count that the rest contradicts is weighed down like a reading: it was miscounted, or the core went
    past its middle.
    """

    seqs: tuple[int, ...]
    moves: NDArrayInt
    effects: NDArrayInt
    steeper: NDArrayInt
    bent: NDArrayInt
    along: Array
    senses: Array
    turns: Array
    sd_turns: Array
    usual: Array
    count: int

    def linear(self, mean: Array) -> Linear:
        """The equations about a mean [1] of the unknowns, in turns where every sense is known."""
        if not self._sensed:
            return self._plain(mean)
        growing = mean[self.steeper, None] * self.along + mean[self.bent, None] * self._squares
        growth = np.minimum(np.maximum(growing, -_MOST_GROWTH), _MOST_GROWTH)
        parts = np.exp(growth)
        grown = parts.dot(_GAUSS)
        effect = self.senses * np.exp(mean[self.effects]) * grown
        counted = mean[self.moves] / effect

        def slopes() -> Array:
            jacobian, at = np.zeros((len(self.turns), self.count)), self._rows
            free, by_grown = parts * (growth == growing), -counted / grown
            jacobian[at, self.moves] = 1.0 / effect
            jacobian[at, self.effects] = -counted
            jacobian[at, self.steeper] = by_grown * (free * self.along).dot(_GAUSS)
            jacobian[at, self.bent] = by_grown * (free * self._squares).dot(_GAUSS)
            return jacobian

        return robust(self.seqs, slopes, self.turns - counted, self._sd)

    @cached_property
    def _sensed(self) -> bool:
        return bool(self.senses.all())

    @cached_property
    def _squares(self) -> Array:
        return np.asarray(0.5 * self.along**2)

    @cached_property
    def _rows(self) -> NDArrayInt:
        return np.arange(len(self.turns))

    @cached_property
    def _sd(self) -> Array:
        return np.asarray(np.hypot(self.sd_turns, _PER_TURN_BEND * self.turns))

    def _plain(self, mean: Array) -> "Linear":
        """The same with every effect as a plain number: movement - effect * turns, in scaled settings."""
        moved, raw = mean[self.moves], mean[self.effects]
        known = self.senses != 0.0
        effect = np.where(known, self.senses * np.exp(np.where(known, raw, 0.0)), raw) if known.any() else raw
        sd = np.maximum(np.abs(effect), self._least) * self._plain_sd

        def slopes() -> Array:
            jacobian, at = np.zeros((len(self.turns), self.count)), self._rows
            jacobian[at, self.moves] = 1.0
            jacobian[at, self.effects] = -self.turns * np.where(known, effect, 1.0)
            return jacobian

        residual = effect * self.turns - moved
        return Linear(slopes, residual, sd, residual / sd)

    @cached_property
    def _least(self) -> Array:
        """Of an effect: less is no scale for what movements are off."""
        return 0.3 * self.usual

    @cached_property
    def _plain_sd(self) -> Array:
        return np.asarray(np.hypot(self.sd_turns, _PLAIN_BEND * self.turns))


def turn_block(frame: Frame, layout: Layout, events: tuple[Event, ...], senses: dict[str, int]) -> TurnBlock:
    """The block of counted turns, with senses [1] of +1, -1 or 0 by adjuster."""
    rows = [e for e in events if isinstance(e, Moved) and e.turns is not None]
    return TurnBlock(
        seqs=tuple(e.seq for e in rows),
        moves=np.array([layout.moves[e.seq] for e in rows], dtype=np.int64),
        effects=np.array([layout.turned[e.adjuster] for e in rows], dtype=np.int64),
        steeper=np.array([layout.steeper[e.adjuster] for e in rows], dtype=np.int64),
        bent=np.array([layout.bent[e.adjuster] for e in rows], dtype=np.int64),
        along=np.array([_along(rows, e) for e in rows], dtype=np.float64).reshape(-1, 3),
        senses=np.array([senses[e.adjuster] for e in rows], dtype=np.float64),
        turns=np.array([e.turns for e in rows], dtype=np.float64),
        sd_turns=np.array([e.turns_sd for e in rows], dtype=np.float64),
        usual=np.array([frame.handles[e.adjuster].per_turn for e in rows], dtype=np.float64),
        count=layout.count,
    )


def _along(rows: list[Moved], event: Moved) -> Array:
    """Net turns of the adjuster at Gauss's places of a movement (3,) [turn], from where it first stood."""
    before = sum(e.turns or 0.0 for e in rows if e.adjuster == event.adjuster and e.seq < event.seq)
    return np.asarray(before + _GAUSS_AT * (event.turns or 0.0))
