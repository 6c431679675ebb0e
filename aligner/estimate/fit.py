"""The fit: all events of a group of circuits, least squares with priors, robust, with covariance."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache, reduce
from itertools import product

import numpy as np

from aligner.estimate.descent import Block, priced, settled
from aligner.estimate.drifting import DriftBlock, drift_block
from aligner.estimate.equations import (
    OUTLIER,
    CircuitBlock,
    WandBlock,
    circuit_block,
    turn_block,
    wand_block,
    wand_hints,
)
from aligner.estimate.events import Event, Fallen, Looked, Moved, Seen
from aligner.estimate.falls import FallBlock, fall_block, open_sides, sides_by_turns
from aligner.estimate.forward import Given
from aligner.estimate.frame import Frame
from aligner.estimate.key import Key
from aligner.estimate.ladder import Array
from aligner.estimate.layout import Layout, columns_in, layout_of, prior_of, whitener_of
from aligner.estimate.scatter import scatter_of
from aligner.estimate.tops import TopBlock, top_block

_ROUNDS = 40
_PLAIN_ROUNDS = 4
_FEW = 0.2  # of all readings: so many may be weighed down in a solution that is not doubted
_HOPELESS = 20.0  # of cost, above the best solution found: what is priced higher is not sought
_PLAIN_SENSE = 5.0  # standard errors from nought that make a sense certain
_UNUSUAL = 4.4  # 2 ln 9: one screw in ten works against the custom of its kind (common practice, no source)
_CREDIBLE = 12.0  # a mode that fits worse by more than this (2 ln of the odds) is forgotten
_WEIGHED_DOWN = 0.5  # a sighting with less weight than this is told to the person
_SQUARES = 1.2  # 2 / (1 + ln 2): squares of what is not weighed down cost no more than so many times what they cost
_NONE = 1e9  # standard errors: nothing is an outlier
_MOST_OPEN = 2  # senses tried both ways at a time

Telling = CircuitBlock | WandBlock | FallBlock | TopBlock | DriftBlock
"""Equations whose residuals tell how much the readings of this bench scatter."""

Sides = Mapping[int, int]
"""Of falls by their seq: +1 above the generator in ln y, -1 below."""


@dataclass(frozen=True, eq=False)
class Fit:
    """The result: mean and covariance of the unknowns, and what is needed to predict from them.

    senses: +1 or -1 by adjuster; the effect is that times exp(unknown). cost: twice the negative logarithm of the
    posterior at the mean, up to a constant. weights: by seq, of sightings that were weighed down. told: the blocks of
    readings and drifts that tell how much those of this bench scatter.
    """

    frame: Frame
    layout: Layout
    events: tuple[Event, ...]
    mean: Array
    covariance: Array
    whitener: dict[str, Array]
    senses: dict[str, int]
    cost: float
    weights: dict[int, float] = field(default_factory=dict)
    told: tuple[Telling, ...] = ()

    @cached_property
    def scatter(self) -> tuple[float, float]:
        """Sum of squares of what readings are off [1], and what is to be expected of it; wand tests apart."""
        return scatter_of([b for b in self.told if not isinstance(b, WandBlock)], self.mean, self.covariance)

    @cached_property
    def tests(self) -> tuple[float, float]:
        """The same [1] of wand tests, which tell nothing of other circuits' readings."""
        return scatter_of([b for b in self.told if isinstance(b, WandBlock)], self.mean, self.covariance)

    def effect(self, adjuster: str) -> tuple[float, float] | None:
        """Effect per turn where the adjuster stands now [1] and its standard error [1]; None without counted turns."""
        column = self.layout.turned.get(adjuster)
        if column is None:
            return None
        row = self.effect_row(adjuster)
        size = float(np.exp(row @ self.mean))
        return self.senses[adjuster] * size, size * float(np.sqrt(row @ self.covariance @ row))

    def effect_row(self, adjuster: str, ahead: float = 0.0) -> Array:
        """Derivatives (unknowns,) [1] of ln of an adjuster's effect, ahead [1] turns from where it stands."""
        net = ahead + sum(e.turns or 0.0 for e in self.events if isinstance(e, Moved) and e.adjuster == adjuster)
        row = np.zeros(self.layout.count)
        row[self.layout.turned[adjuster]], row[self.layout.steeper[adjuster]] = 1.0, net
        row[self.layout.bent[adjuster]] = 0.5 * net**2
        return row


def fits_of(
    frame: Frame, circuits: tuple[str, ...], events: tuple[Event, ...], places: dict[int, float]
) -> tuple[Fit, ...]:
    """Least squares with priors of the unknowns of some circuits: the likeliest first, then what is credible besides.

    Parameters
    ----------
    frame : Frame
        the scaled circuits
    circuits : tuple of str
        ids of the circuits of this group; they share no adjuster with others
    events : tuple of Event
        what happened to them, oldest first
    places : dict of int to float [Hz]
        for each sighting's seq, the place on the scale [Hz] where the set then truly stood

    Returns
    -------
    tuple of Fit
        means and covariances of the unknowns [1]

    Notes
    -----
    Where an adjuster's sense of rotation is not known, the posterior may have two modes, mirror images of each other:
    peaks and counted turns alone cannot tell them apart. A fit with plain effects about nought decides where readings
    do tell; otherwise both senses are tried and kept as long as they are credible.
    """
    told = tuple(e for e in events if not isinstance(e, Looked))
    plain = _plain(Key(frame, circuits, told, tuple((e.seq, places[e.seq]) for e in told if isinstance(e, Seen))))
    if len(told) == len(events):
        return tuple(fit for fit, _ in plain)
    problem = _problem(frame, circuits, events, places)
    return _credible(_all_topped([(_on_sides(problem, sides), _widened(problem.given, fit)) for fit, sides in plain]))


@lru_cache(maxsize=64)
def _plain(key: Key) -> tuple[tuple[Fit, Sides], ...]:
    """The credible fits without looks, and the sides of falls; kept, for more looks change nothing of them."""
    frame = key.frame
    problem = _problem(frame, key.group, key.events, dict(key.places))
    senses = {a: frame.handles[a].sense or _told_sense(key.events, a) for a in problem.layout.turned}
    if 0 in senses.values():
        plain = _hinted(problem, senses, _PLAIN_ROUNDS) if problem.hints else _solved(problem, senses, _PLAIN_ROUNDS)
        senses = {a: s or _plain_sense(plain, a) or _seen_sense(plain, a) for a, s in senses.items()}
    unsure = [a for a, s in senses.items() if not s]
    tried: list[tuple[Fit, Sides]] = []
    for signs in product((1, -1), repeat=min(len(unsure), _MOST_OPEN)):
        guess = dict(zip(unsure, signs, strict=False))
        supposed = {a: s or guess.get(a, 0) or _usual(frame, a) for a, s in senses.items()}
        found = [(p, fit) for p, start in _with_sides(problem, supposed) for fit in _solutions(p, supposed, start)]
        tried.extend((fit, sided.sides) for sided, fit in _trusted(problem, supposed, found))
    chosen = (next(one for one in tried if one[0] is fit) for fit in _credible([fit for fit, _ in tried]))
    if not problem.layout.wand:
        return tuple(chosen)
    return tuple((_as_held(_on_sides(problem, sides), fit), sides) for fit, sides in chosen)


def _widened(given: Given, fit: Fit) -> Fit:
    """A solution as one of a problem with more looks, of whose own unknowns nothing is known yet."""
    at = columns_in(fit.layout, given.layout)
    mean, sd = prior_of(given.frame, given.layout, fit.senses)
    covariance = np.diag(sd**2)
    mean[at], covariance[np.ix_(at, at)] = fit.mean, fit.covariance
    return replace(
        fit, layout=given.layout, events=given.events, mean=mean, covariance=covariance, whitener=given.whitener
    )


def _credible(tried: list[Fit]) -> tuple[Fit, ...]:
    """The likeliest first, then what is not much less so."""
    ranked = sorted(tried, key=lambda fit: fit.cost)
    return tuple(fit for fit in ranked if fit.cost <= ranked[0].cost + _CREDIBLE)


def _told_sense(events: tuple[Event, ...], adjuster: str) -> int:
    """The sense that follows from a counted movement whose direction the hand saw."""
    told = [
        e.rises * int(np.sign(e.turns))
        for e in events
        if isinstance(e, Moved) and e.adjuster == adjuster and e.rises and e.turns
    ]
    return told[-1] if told else 0


def _plain_sense(plain: Fit, adjuster: str) -> int:
    column = plain.layout.turned[adjuster]
    mean, sd = plain.mean[column], float(np.sqrt(plain.covariance[column, column]))
    return int(np.sign(mean)) if abs(mean) > _PLAIN_SENSE * sd else 0


def _seen_sense(plain: Fit, adjuster: str) -> int:
    """The sense that movements tell whose direction was seen, and was counted, for sure; 0 where they disagree."""
    told = set()
    for event in plain.events:
        if isinstance(event, Moved) and event.adjuster == adjuster and event.turns is not None:
            column = plain.layout.moves[event.seq]
            mean, sd = plain.mean[column], float(np.sqrt(plain.covariance[column, column]))
            if abs(mean) > _PLAIN_SENSE * sd and abs(event.turns) > _PLAIN_SENSE * event.turns_sd:
                told.add(int(np.sign(mean * event.turns)))
    return told.pop() if len(told) == 1 else 0


@dataclass(frozen=True)
class _Problem:
    """What stays the same while senses are tried."""

    given: Given
    blocks: tuple[Block, ...]
    hints: tuple[CircuitBlock, ...] = ()
    tops: tuple[TopBlock, ...] = ()
    sides: Sides = field(default_factory=dict)

    @property
    def layout(self) -> Layout:
        return self.given.layout

    @cached_property
    def falls(self) -> tuple[FallBlock, ...]:
        """The falls of each circuit, their sides still open."""
        return tuple(fall_block(self.given, c) for c in _fallen(self.given))


def _problem(frame: Frame, circuits: tuple[str, ...], events: tuple[Event, ...], places: dict[int, float]) -> _Problem:
    layout = layout_of(circuits, events)
    whitener = {c: whitener_of(frame.circuits[c], layout.spots[c]) for c in circuits}
    given = Given(frame, layout, events, places, whitener)
    blocks: list[CircuitBlock | WandBlock | FallBlock] = [circuit_block(given, c) for c in circuits]
    blocks += [wand_block(given, c) for c in layout.wand]
    looked = [c for c in circuits if any(isinstance(e, Looked) and e.circuit == c for e in events)]
    hints = tuple(wand_hints(given, c) for c in layout.wand)
    return _Problem(given, tuple(blocks), hints, tuple(top_block(given, c) for c in looked))


def _with_sides(problem: _Problem, senses: dict[str, int]) -> Iterator[tuple[_Problem, Array | None]]:
    """The problem with its falls, once for each choice of their sides that is open, and where to start from.

    Counted turns tell most sides; for the others a solution without those falls is where the search begins, and sides
    that its covariance makes hopeless are not tried.
    """
    given, blocks = problem.given, problem.falls
    known = {seq: side for c in _fallen(given) for seq, side in sides_by_turns(given, c, senses).items()}
    sided = _on_sides(problem, known)
    if all(block.on_sides(known).complete for block in blocks):
        yield sided, None
        return
    first = _hinted(sided, senses) if problem.hints else _solved(sided, senses)
    choices = list(open_sides(given, blocks, known, first.mean, first.covariance))
    prices = [_price(tuple(block.on_sides(sides) for block in blocks), first, first.mean) for sides in choices]
    for sides, price in zip(choices, prices, strict=True):
        if price < min(prices) + _HOPELESS:
            yield _on_sides(problem, sides), first.mean


def _fallen(given: Given) -> list[str]:
    return [c for c in given.layout.quality if any(isinstance(e, Fallen) and e.circuit == c for e in given.events)]


def _on_sides(problem: _Problem, sides: Sides) -> _Problem:
    """The problem with its falls on some sides."""
    falls = tuple(block.on_sides(sides) for block in problem.falls)
    return replace(problem, blocks=problem.blocks + falls, sides=sides)


def _all_topped(credible: list[tuple[_Problem, Fit]]) -> list[Fit]:
    """The solutions with the levels whose tops are unknown, from where all else puts the circuits.

    What those levels would cost follows from a solution without them and its covariance; one for which that is hopeless
    is not sought.
    """
    looked = [(*_looked(problem, fit), fit) for problem, fit in credible]
    prices = [fit.cost + _price(problem.tops, fit, start) for problem, start, fit in looked]
    found: list[Fit] = []
    for price, (problem, start, fit) in sorted(zip(prices, looked, strict=True), key=lambda one: one[0]):
        if all(price < other.cost + _HOPELESS for other in found):
            found.append(_as_held(problem, _solved(problem, fit.senses, start=start)))
    return found


def _price(blocks: tuple[FallBlock, ...] | tuple[TopBlock, ...], fit: Fit, mean: Array) -> float:
    """What more equations add to the cost of a solution without them, if all is linear about a mean."""
    return sum(priced(block.linear(mean, _NONE), fit.covariance) for block in blocks)


def _looked(problem: _Problem, fit: Fit) -> tuple[_Problem, Array]:
    """The problem with the levels whose side a solution tells, and where to start from."""
    looks = tuple(block.sided(fit.mean, fit.covariance) for block in problem.tops)
    start = reduce(lambda mean, block: block.heights(mean), looks, fit.mean)
    return replace(problem, blocks=problem.blocks + looks, tops=looks), start


def _usual(frame: Frame, adjuster: str) -> int:
    return frame.handles[adjuster].usual_sense


def _solutions(problem: _Problem, senses: dict[str, int], start: Array | None) -> list[Fit]:
    """The solution from a start; with wand tests from where they by themselves put the circuits, if all agrees there.

    Small changes of level mean a circuit that is near with a wand that pulls little, or far with one that pulls more.
    """
    if not problem.hints:
        return [_solved(problem, senses, start=start)]
    hinted = _solved(problem, senses, start=_hinted(problem, senses).mean)
    return [hinted, _solved(problem, senses, start=start)] if hinted.weights else [hinted]


def _trusted(
    problem: _Problem, senses: dict[str, int], found: list[tuple[_Problem, Fit]]
) -> Iterator[tuple[_Problem, Fit]]:
    """The solutions, each on its sides, or in place of a doubted one what believing every reading leads to.

    Where several are doubted, what all their sides have in common is believed first: each of them costs more than that.
    """
    doubted = [n for n, (sided, fit) in enumerate(found) if _doubted(sided, fit)]
    if len(doubted) > 1:
        first, *others = (found[n][0].sides for n in doubted)
        shared = {seq: side for seq, side in first.items() if all(other.get(seq) == side for other in others)}
        enough = _SQUARES * max(found[n][1].cost for n in doubted)
        if _solved(_on_sides(problem, shared), senses, outlier=_NONE, hopeless=enough).cost > enough:
            doubted = []
    for n, (sided, fit) in enumerate(found):
        yield sided, _trusting(sided, senses, fit) if n in doubted else fit


def _doubted(problem: _Problem, found: Fit) -> bool:
    """Whether a solution that weighs readings down may be one that fits a few of them by chance.

    Far from nought the search starts with nearly all readings weighed down: one that fits by chance would decide. Where
    most readings agree it cannot have been so. Where something may have drifted since, even a few may be right.
    """
    few = len(found.weights) <= _FEW * sum(len(block.seqs) for block in problem.blocks)
    return not problem.hints and bool(found.weights) and not (few and not problem.layout.drifts)


def _trusting(problem: _Problem, senses: dict[str, int], found: Fit) -> Fit:
    """A doubted solution, or one that costs less and weighs nothing down, from where every reading is believed."""
    enough = _SQUARES * found.cost
    plain = _solved(problem, senses, outlier=_NONE, hopeless=enough)
    if plain.cost > enough:
        return found
    believing = _solved(problem, senses, start=plain.mean)
    return believing if believing.cost < found.cost and not believing.weights else found


def _hinted(problem: _Problem, senses: dict[str, int], rounds: int = _ROUNDS) -> Fit:
    """The solution with resonances in place of wand tests, and nothing weighed down: a start that is not far off."""
    alone = tuple(block for block in problem.blocks if not isinstance(block, WandBlock))
    return _solved(replace(problem, blocks=(*alone, *problem.hints)), senses, rounds, outlier=_NONE)


def _as_held(problem: _Problem, found: Fit) -> Fit:
    """A solution with its wand tests as well trusted as they agree there; it is as likely as it was."""
    if not problem.layout.wand:
        return found
    blocks = (b.as_held(found.mean, found.covariance) if isinstance(b, WandBlock) else b for b in problem.blocks)
    held = _solved(replace(problem, blocks=tuple(blocks)), found.senses, start=found.mean)
    return replace(held, cost=found.cost)


def _unusual(frame: Frame, senses: dict[str, int]) -> float:
    """The cost of senses that are not those of their kind, where they are not known."""
    open_handles = ((frame.handles[a], s) for a, s in senses.items() if s and not frame.handles[a].sense)
    return sum(_UNUSUAL for handle, s in open_handles if s != handle.usual_sense)


def _solved(
    problem: _Problem,
    senses: dict[str, int],
    rounds: int = _ROUNDS,
    start: Array | None = None,
    outlier: float = OUTLIER,
    hopeless: float = math.inf,
) -> Fit:
    """The unknowns that explain a problem best with some senses, from nought or a start; `hopeless` as in `settled`."""
    prior = prior_of(problem.given.frame, problem.layout, senses)
    turns = turn_block(problem.given.frame, problem.layout, problem.given.events, senses)
    white = np.zeros(problem.layout.count)  # the unknowns in units of their priors, where the numbers are of one size
    if start is not None:
        np.divide(start - prior[0], prior[1], out=white, where=prior[1] > 0.0)
    drifts = drift_block(problem.layout)
    here, normal = settled((*problem.blocks, turns, drifts), prior, white, rounds, outlier, hopeless)
    covariance = np.linalg.inv(normal) * prior[1] * prior[1][:, None]
    return Fit(
        frame=problem.given.frame,
        layout=problem.layout,
        events=problem.given.events,
        mean=prior[0] + prior[1] * here.white,
        covariance=covariance,
        whitener=problem.given.whitener,
        senses=senses,
        cost=here.cost + _unusual(problem.given.frame, senses),
        weights={seq: weight for seq, weight in here.weights.items() if seq >= 0 and weight < _WEIGHED_DOWN},
        told=tuple(block for block in (*_telling(problem), drifts) if block.seqs),
    )


def _telling(problem: _Problem) -> tuple[Telling, ...]:
    """The blocks that tell how much readings scatter.

    Where there are wand tests these do, and the few levels beside them are left out.
    """
    kinds = CircuitBlock | WandBlock if problem.layout.wand else CircuitBlock | FallBlock | TopBlock
    return tuple(block for block in problem.blocks if isinstance(block, kinds))
