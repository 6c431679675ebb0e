"""The solutions that are credible after some events: senses of screws and sides of falls that are open, both ways.

Where an adjuster's sense of rotation is not known, the posterior may have two modes, mirror images of each other: peaks
and counted turns alone cannot tell them apart. A fit with plain effects about nought decides where readings do tell;
otherwise both senses are tried and kept as long as they are credible. A fall of the level has two sides, and turns do
not always tell which.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache, reduce
from itertools import product

import numpy as np

from aligner.estimate.descent import priced
from aligner.estimate.events import Event, Looked, Moved, Seen
from aligner.estimate.falls import FallBlock, open_sides, sides_by_turns
from aligner.estimate.fit import Fit, Problem, as_held, fallen, hinted, on_sides, problem_of, solved
from aligner.estimate.forward import Given
from aligner.estimate.frame import Frame
from aligner.estimate.key import Key
from aligner.estimate.ladder import Array
from aligner.estimate.layout import columns_in, prior_of
from aligner.estimate.tops import TopBlock

_PLAIN_ROUNDS = 4
_FEW = 0.2  # of all readings: so many may be weighed down in a solution that is not doubted
_HOPELESS = 20.0  # of cost, above the best solution found: what is priced higher is not sought
_PLAIN_SENSE = 5.0  # standard errors from nought that make a sense certain
_CREDIBLE = 12.0  # a mode that fits worse by more than this (2 ln of the odds) is forgotten
_SQUARES = 1.2  # 2 / (1 + ln 2): squares of what is not weighed down cost no more than so many times what they cost
_MANY = 24  # readings: fewer may have led to a false minimum, which another choice of sides does not have
_TORN = 8.0  # of cost for each reading: their scatter is three times the usual, or every fourth is far off
_NONE = 1e9  # standard errors: nothing is an outlier
_MOST_OPEN = 2  # senses tried both ways at a time


@dataclass(frozen=True, eq=False)
class Mode:
    """A solution, and the problem that it solves: falls on their sides, looks without those whose side is open."""

    fit: Fit
    problem: Problem


def fits_of(key: Key, before: Key | None = None) -> tuple[Fit, ...]:
    """Least squares with priors of the unknowns of some circuits: the likeliest first, then what is credible besides.

    Parameters
    ----------
    key : Key
        the scaled circuits, which of them, and what happened to them, places in Hz
    before : Key or None
        the same with places [Hz] that differ by little: then its solutions are followed to these places

    Returns
    -------
    tuple of Fit
        means and covariances of the unknowns [1]
    """
    return tuple(mode.fit for mode in (_modes(key) if before is None else _followed(key, _modes(before))))


@lru_cache(maxsize=64)
def _modes(key: Key) -> tuple[Mode, ...]:
    told = tuple(e for e in key.events if not isinstance(e, Looked))
    seen = {e.seq for e in told if isinstance(e, Seen)}
    plain = _plain(replace(key, events=told, places=tuple(place for place in key.places if place[0] in seen)))
    if len(told) == len(key.events):
        return plain
    problem = problem_of(key)
    widened = [(on_sides(problem, m.problem.sides), _widened(problem.given, m.fit)) for m in plain]
    return _credible(_all_topped(widened))


def _followed(key: Key, modes: tuple[Mode, ...]) -> tuple[Mode, ...]:
    """Solutions for the places of a key, each from where it was with others that differ by little."""
    problem = problem_of(key)
    found: list[Mode] = []
    for mode in modes:
        looks = tuple(replace(now, sd=then.sd) for now, then in zip(problem.tops, mode.problem.tops, strict=True))
        sided = on_sides(problem, mode.problem.sides)
        sided = replace(sided, blocks=sided.blocks + looks, tops=looks)
        found.append(Mode(solved(sided, mode.fit.senses, start=mode.fit.mean, hopeless=_enough(found)), sided))
    return _credible(found)


@lru_cache(maxsize=64)
def _plain(key: Key) -> tuple[Mode, ...]:
    """The credible solutions without looks; kept, for more looks change nothing of them."""
    frame = key.frame
    problem = problem_of(key)
    senses = {a: frame.handles[a].sense or _told_sense(key.events, a) for a in problem.layout.turned}
    if 0 in senses.values():
        plain = hinted(problem, senses, _PLAIN_ROUNDS) if problem.hints else solved(problem, senses, _PLAIN_ROUNDS)
        senses = {a: s or _plain_sense(plain, a) or _seen_sense(plain, a) for a, s in senses.items()}
    unsure = [a for a, s in senses.items() if not s]
    tried: list[Mode] = []
    for signs in product((1, -1), repeat=min(len(unsure), _MOST_OPEN)):
        guess = dict(zip(unsure, signs, strict=False))
        supposed = {a: s or guess.get(a, 0) or _usual(frame, a) for a, s in senses.items()}
        found: list[Mode] = []
        for sided, start in _with_sides(problem, supposed):
            if found and len(tried) + len(found) > 1 and _torn(sided, found):
                break
            enough = _enough([*tried, *found])
            found += [Mode(fit, sided) for fit in _solutions(sided, supposed, start, enough)]
        tried += _trusted(problem, supposed, found, _enough([*tried, *found]))
    chosen = _credible(tried)
    if not problem.layout.wand:
        return chosen
    return tuple(replace(mode, fit=as_held(mode.problem, mode.fit)) for mode in chosen)


def _torn(problem: Problem, found: list[Mode]) -> bool:
    """Whether many readings contradict each other so much that it says little which open sides they fit better."""
    readings = sum(len(block.seqs) for block in problem.blocks)
    return readings >= _MANY and min(mode.fit.cost for mode in found) > _TORN * readings


def _enough(found: list[Mode]) -> float:
    """The cost [1] that is still credible beside what has been found."""
    return min((mode.fit.cost for mode in found), default=math.inf) + _CREDIBLE


def _credible(tried: list[Mode]) -> tuple[Mode, ...]:
    """The likeliest first, then what is not much less so."""
    enough = _enough(tried)
    return tuple(mode for mode in sorted(tried, key=lambda mode: mode.fit.cost) if mode.fit.cost <= enough)


def _widened(given: Given, fit: Fit) -> Fit:
    """A solution as one of a problem with more looks, of whose own unknowns nothing is known yet."""
    at = columns_in(fit.layout, given.layout)
    mean, sd = prior_of(given.frame, given.layout, fit.senses)
    covariance = np.diag(sd**2)
    mean[at], covariance[np.ix_(at, at)] = fit.mean, fit.covariance
    return replace(
        fit, layout=given.layout, events=given.events, mean=mean, covariance=covariance, whitener=given.whitener
    )


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


def _usual(frame: Frame, adjuster: str) -> int:
    return frame.handles[adjuster].usual_sense


def _with_sides(problem: Problem, senses: dict[str, int]) -> Iterator[tuple[Problem, Array | None]]:
    """The problem with its falls, once for each choice of their sides that is open, and where to start from.

    Counted turns tell most sides; for the others a solution without those falls is where the search begins, and sides
    that its covariance makes hopeless are not tried.
    """
    given, blocks = problem.given, problem.falls
    known = {seq: side for c in fallen(given) for seq, side in sides_by_turns(given, c, senses).items()}
    sided = on_sides(problem, known)
    if all(block.on_sides(known).complete for block in blocks):
        yield sided, None
        return
    first = hinted(sided, senses) if problem.hints else solved(sided, senses)
    choices = list(open_sides(given, blocks, known, first.mean, first.covariance))
    prices = [_price(tuple(block.on_sides(sides) for block in blocks), first, first.mean) for sides in choices]
    for price, sides in sorted(zip(prices, choices, strict=True), key=lambda one: one[0]):
        if price < min(prices) + _HOPELESS:
            yield on_sides(problem, sides), first.mean


def _solutions(problem: Problem, senses: dict[str, int], start: Array | None, hopeless: float) -> list[Fit]:
    """The solution from a start; with wand tests from where they by themselves put the circuits, if all agrees there.

    Small changes of level mean a circuit that is near with a wand that pulls little, or far with one that pulls more.
    """
    if not problem.hints:
        return [solved(problem, senses, start=start, hopeless=hopeless)]
    near = solved(problem, senses, start=hinted(problem, senses).mean)
    return [near, solved(problem, senses, start=start)] if near.weights else [near]


def _trusted(problem: Problem, senses: dict[str, int], found: list[Mode], hopeless: float) -> Iterator[Mode]:
    """The solutions, each on its sides, or in place of a doubted one what believing every reading leads to.

    Where several are doubted, what all their sides have in common is believed first: each of them costs more than that.
    """
    doubted = [n for n, mode in enumerate(found) if _doubted(mode)]
    if len(doubted) > 1:
        first, *others = (found[n].problem.sides for n in doubted)
        shared = {seq: side for seq, side in first.items() if all(other.get(seq) == side for other in others)}
        enough = _SQUARES * min(hopeless, max(found[n].fit.cost for n in doubted))
        if solved(on_sides(problem, shared), senses, outlier=_NONE, hopeless=enough).cost > enough:
            doubted = []
    for n, mode in enumerate(found):
        yield _trusting(senses, mode, hopeless) if n in doubted else mode


def _doubted(mode: Mode) -> bool:
    """Whether a solution that weighs readings down may be one that fits a few of them by chance.

    Far from nought the search starts with nearly all readings weighed down: one that fits by chance would decide. Where
    most readings agree it cannot have been so. Where something may have drifted since, even a few may be right.
    """
    problem, found = mode.problem, mode.fit
    few = len(found.weights) <= _FEW * sum(len(block.seqs) for block in problem.blocks)
    return not problem.hints and bool(found.weights) and not (few and not problem.layout.drifts)


def _trusting(senses: dict[str, int], mode: Mode, hopeless: float) -> Mode:
    """A doubted solution, or one that costs less and weighs nothing down, from where every reading is believed."""
    problem, found = mode.problem, mode.fit
    enough = _SQUARES * min(hopeless, found.cost)
    plain = solved(problem, senses, outlier=_NONE, hopeless=enough)
    if plain.cost > enough:
        return mode
    believing = solved(problem, senses, start=plain.mean)
    return Mode(believing, problem) if believing.cost < found.cost and not believing.weights else mode


def _all_topped(credible: list[tuple[Problem, Fit]]) -> list[Mode]:
    """The solutions with the levels whose tops are unknown, from where all else puts the circuits.

    What those levels would cost follows from a solution without them and its covariance; one for which that is hopeless
    is not sought.
    """
    looked = [(*_looked(problem, fit), fit) for problem, fit in credible]
    prices = [fit.cost + _price(problem.tops, fit, start) for problem, start, fit in looked]
    found: list[Mode] = []
    for price, (problem, start, fit) in sorted(zip(prices, looked, strict=True), key=lambda one: one[0]):
        if all(price < other.fit.cost + _HOPELESS for other in found):
            topped = solved(problem, fit.senses, start=start, hopeless=_enough(found))
            found.append(Mode(as_held(problem, topped), problem))
    return found


def _price(blocks: tuple[FallBlock, ...] | tuple[TopBlock, ...], fit: Fit, mean: Array) -> float:
    """What more equations add to the cost of a solution without them, if all is linear about a mean."""
    return sum(priced(block.linear(mean, _NONE), fit.covariance) for block in blocks)


def _looked(problem: Problem, fit: Fit) -> tuple[Problem, Array]:
    """The problem with the levels whose side a solution tells, and where to start from."""
    looks = tuple(block.sided(fit.mean, fit.covariance) for block in problem.tops)
    start = reduce(lambda mean, block: block.heights(mean), looks, fit.mean)
    return replace(problem, blocks=problem.blocks + looks, tops=looks), start
