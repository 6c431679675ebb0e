"""The fit: all events of a group of circuits, least squares with priors, robust, with covariance."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from aligner.estimate.descent import Block, settled
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
from aligner.estimate.events import Event, Fallen, Looked, Moved
from aligner.estimate.falls import FallBlock, fall_block
from aligner.estimate.forward import Given
from aligner.estimate.frame import Frame
from aligner.estimate.key import Key
from aligner.estimate.ladder import Array
from aligner.estimate.layout import Layout, layout_of, prior_of, whitener_of
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


@dataclass(frozen=True)
class Problem:
    """What stays the same while senses are tried."""

    given: Given
    blocks: tuple[Block, ...]
    hints: tuple[CircuitBlock, ...] = ()
    tops: tuple[TopBlock, ...] = ()
    sides: Sides = field(default_factory=dict)

    @property
    def layout(self) -> Layout:
        """The columns of its unknowns."""
        return self.given.layout

    @cached_property
    def falls(self) -> tuple[FallBlock, ...]:
        """The falls of each circuit, their sides still open."""
        return tuple(fall_block(self.given, c) for c in fallen(self.given))


def problem_of(key: Key) -> Problem:
    """The equations of what happened to some circuits, those of falls left out: their sides are still open."""
    frame, circuits, events = key.frame, key.group, key.events
    layout = layout_of(circuits, events)
    whitener = {c: whitener_of(frame.circuits[c], layout.spots[c]) for c in circuits}
    given = Given(frame, layout, events, dict(key.places), whitener)
    blocks: list[CircuitBlock | WandBlock | FallBlock] = [circuit_block(given, c) for c in circuits]
    blocks += [wand_block(given, c) for c in layout.wand]
    looked = [c for c in circuits if any(isinstance(e, Looked) and e.circuit == c for e in events)]
    hints = tuple(wand_hints(given, c) for c in layout.wand)
    return Problem(given, tuple(blocks), hints, tuple(top_block(given, c) for c in looked))


def fallen(given: Given) -> list[str]:
    """The circuits that falls were seen of."""
    return [c for c in given.layout.quality if any(isinstance(e, Fallen) and e.circuit == c for e in given.events)]


def on_sides(problem: Problem, sides: Sides) -> Problem:
    """The problem with its falls on some sides [1]."""
    falls = tuple(block.on_sides(sides) for block in problem.falls)
    return replace(problem, blocks=problem.blocks + falls, sides=sides)


def hinted(problem: Problem, senses: dict[str, int], rounds: int = _ROUNDS) -> Fit:
    """The solution with resonances in place of wand tests, and nothing weighed down: a start that is not far off.

    senses [1] and rounds [1] as in `solved`.
    """
    alone = tuple(block for block in problem.blocks if not isinstance(block, WandBlock))
    return solved(replace(problem, blocks=(*alone, *problem.hints)), senses, rounds, outlier=_NONE)


def as_held(problem: Problem, found: Fit) -> Fit:
    """A solution with its wand tests as well trusted as they agree there; it is as likely as it was."""
    if not problem.layout.wand:
        return found
    blocks = (b.as_held(found.mean, found.covariance) if isinstance(b, WandBlock) else b for b in problem.blocks)
    held = solved(replace(problem, blocks=tuple(blocks)), found.senses, start=found.mean)
    return replace(held, cost=found.cost)


def solved(
    problem: Problem,
    senses: dict[str, int],
    rounds: int = _ROUNDS,
    start: Array | None = None,
    outlier: float = OUTLIER,
    hopeless: float = math.inf,
) -> Fit:
    """The unknowns that explain a problem best.

    Parameters
    ----------
    problem : Problem
        the equations
    senses : dict of str to int [1]
        +1 or -1 by adjuster, 0 where its effect is a plain number
    rounds : int [1]
        steps tried at most
    start : Array or None [1]
        unknowns to start from, (unknowns,); None: from nought
    outlier, hopeless : float [1]
        as in `settled`

    Returns
    -------
    Fit
        their means and covariance [1]
    """
    prior = prior_of(problem.given.frame, problem.layout, senses)
    turns = turn_block(problem.given.frame, problem.layout, problem.given.events, senses)
    white = np.zeros(problem.layout.count)  # the unknowns in units of their priors, where the numbers are of one size
    if start is not None:
        np.divide(start - prior[0], prior[1], out=white, where=prior[1] > 0.0)
    drifts, unusual = drift_block(problem.layout), _unusual(problem.given.frame, senses)
    here, normal = settled((*problem.blocks, turns, drifts), prior, white, rounds, outlier, hopeless - unusual)
    covariance = np.linalg.inv(normal) * prior[1] * prior[1][:, None]
    return Fit(
        frame=problem.given.frame,
        layout=problem.layout,
        events=problem.given.events,
        mean=prior[0] + prior[1] * here.white,
        covariance=covariance,
        whitener=problem.given.whitener,
        senses=senses,
        cost=here.cost + unusual,
        weights={seq: weight for seq, weight in here.weights.items() if seq >= 0 and weight < _WEIGHED_DOWN},
        told=tuple(block for block in (*_telling(problem), drifts) if block.seqs),
    )


def _unusual(frame: Frame, senses: dict[str, int]) -> float:
    """The cost of senses that are not those of their kind, where they are not known."""
    open_handles = ((frame.handles[a], s) for a, s in senses.items() if s and not frame.handles[a].sense)
    return sum(_UNUSUAL for handle, s in open_handles if s != handle.usual_sense)


def _telling(problem: Problem) -> tuple[Telling, ...]:
    """The blocks that tell how much readings scatter.

    Where there are wand tests these do, and the few levels beside them are left out.
    """
    kinds = CircuitBlock | WandBlock if problem.layout.wand else CircuitBlock | FallBlock | TopBlock
    return tuple(block for block in problem.blocks if isinstance(block, kinds))
