"""Finding a peak by what was seen on the way: how far the person is, what to do next, when to stop.

A peak is blunt: half-way down its sides the level tells the setting about ten times better than at the top. So a fine
peak is the middle between two settings of equal fall. With x = 2 Q df/f the level falls by 10 log10(1 + x^2) (single
tuned circuit; derived), and x is straight in the setting there.
"""

import math
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import groupby, pairwise
from operator import itemgetter
from statistics import fmean
from typing import Literal

from aligner.engine.asks import Peak
from aligner.engine.gauge import best_of, merit
from aligner.screens.stream import Stream

FALL_DB = 3.0
"""The fall on each side: there the level changes fastest with the setting for what is still far above the noise."""

ANEW_DB = 0.5
"""A level so far above the highest before it is another peak, or the first was none: the sides are looked for anew."""

NEAR_ENOUGH = 0.05
"""Of the way from the middle to either side; at Q 60 and 98 MHz 41 kHz, twice what a good hand is left off by."""

LEAST_OFF = 0.5
"""Half-widths: a look so far off tells on which side of the best it lies (1 dB)."""

LEAST_LOOKS = 4
"""Settings by which a middle is told: one more than a parabola has numbers."""

FINEST_TURN = 1 / 1024
"""No hand sets an adjuster closer than that [turn]."""

Looks = list[tuple[float, float]]
"""Settings [turn] and what was seen there."""

Curve = tuple[float, float, float]
"""Place, height and curvature of the least of a parabola."""

Phase = Literal["start", "climb", "worse", "past", "back", "middle", "top"]


@dataclass(frozen=True, slots=True)
class Search:
    """How far the search is.

    phase: "start" nothing turned yet, "climb" at the best so far, "worse" than where it stood at first and tried
    only that way, "past" the best, "back" over it from the first side, "middle" both sides were seen; "top": within
    what the meter shows of the best, after it was passed. over: whether the best was passed on the way back. left:
    turns to the middle, clockwise positive, where the turns are known; near: so many of them are near enough. home:
    the sense in which to turn back, clockwise 1, 0 where unknown. share: of the way to the middle, 0 to 1. stop:
    whether it stands where it should. risen: from the first look to the newest. deepest: the greatest fall since
    the best. scale: what a rise is weighed against. up: the sense in which the best was come to. rising: whether it
    is turned back towards the best. short: whether the middle was looked at and lies clearly below the best, so
    that the best counts. jumped: whether a turn home went over the best from one skirt to the other. other: whether
    it has gone on the same way until it rose again, towards another peak. anew: whether the best was found after a
    side was counted; kept: whether then the side of it that lies behind was seen far enough. unpassed: whether it
    only fell from where it stood at first, so that no best was passed.
    """

    phase: Phase
    fallen: float
    over: bool = False
    left: float | None = None
    near: float = 0.0
    home: float = 0.0
    share: float = 0.0
    stop: bool = False
    rising: bool = False
    short: bool = False
    jumped: bool = False
    other: bool = False
    risen: float = 0.0
    deepest: float = 0.0
    scale: float = FALL_DB
    up: float = 0.0
    anew: bool = False
    kept: bool = False
    unpassed: bool = False

    @property
    def seen_to_fall(self) -> bool:
        """Whether the best lies behind, so that no end of travel keeps from it."""
        return self.phase not in {"start", "climb"}


def search(ask: Peak, stream: Stream, *, twin: bool = False) -> Search | None:
    """Where the search for that peak stands; None before the first reading.

    twin: whether the adjuster peaks twice a turn and either peak will do; then the one that was left is forgotten.
    """
    if not stream.trace or stream.best() is None:
        return None
    if not stream.peak_is_moving:
        return Search("start", 0.0)
    return _searched(ask, _Seen(stream.trace, stream.turns, stream.resolution, stream.felt), twin)


@dataclass(frozen=True, slots=True)
class _Seen:
    """What a stream has seen of a peak, names as of `Stream`."""

    trace: tuple[float, ...]
    turns: tuple[float, ...]
    resolution: float
    felt: float


@lru_cache(maxsize=2)
def _searched(ask: Peak, seen: _Seen, twin: bool) -> Search:  # noqa: FBT001 - a cache takes it by place
    """The same of what was seen; kept, because words, bar and keys ask for it at every look."""
    flicker = 3 * seen.resolution
    valley, other = _valley([merit(ask, value) for value in seen.trace], seen.turns, flicker)
    begun = valley if twin else 0
    merits = [merit(ask, value) for value in seen.trace[begun:]]
    turns = seen.turns[begun:]
    way = _way_so_far(merits, turns, flicker)
    found, top = _found(ask, seen, merits, way), merits.index(max(merits))
    return replace(
        found,
        home=way.home,
        rising=way.rising,
        jumped=way.jumped,
        other=other,
        risen=merits[-1] - merits[0],
        deepest=merits[top] - min(merits[top:]),
        scale=_weighed_against(ask, merits),
        up=way.up,
        anew=way.anew and way.sides == 0,
        kept=any((at - turns[top]) * way.up < 0.0 for at in _both_shallow(merits, turns)),
        unpassed=way.sides == 1 and max(merits) - merits[0] <= flicker and _one_way(turns),
    )


def is_fine(ask: Peak) -> bool:
    """Whether the peak is the middle between two settings of equal fall."""
    return ask.fine and ask.quantity == "level" and ask.find != "null" and not ask.rock


def _weighed_against(ask: Peak, merits: list[float]) -> float:
    """What a rise is weighed against: what is left to nought; decibels as many as a fall; else what was read first."""
    if ask.find == "null":
        return -merits[-1]
    return FALL_DB if ask.quantity == "level" else abs(merits[0])


def _found(ask: Peak, seen: _Seen, merits: list[float], way: "_Way") -> Search:
    turns = seen.turns[-len(merits) :]
    best = best_of(ask, seen.trace[-len(merits) :], seen.resolution)
    here, fallen = best is not None and best.here, max(merits) - merits[-1]
    if not is_fine(ask):
        return _plain(merits, fallen, here=here, flicker=way.flicker)
    if way.anew and way.sides < 2 and _flanks_known(merits, turns):
        return _to_the_middle(merits, turns, seen.felt, fallen, flicker=way.flicker, here=here)
    if way.sides == 0:
        risen = here or max(merits) - merits[0] > way.flicker or not _one_way(turns)
        going: Phase = "climb" if here else "past" if risen else "worse"
        return Search(going, fallen)
    if way.sides == 1:
        return Search("back", fallen, way.near)
    return _to_the_middle(merits, turns, seen.felt, fallen, flicker=way.flicker, here=here)


def _flanks_known(merits: list[float], turns: tuple[float, ...]) -> bool:
    """Whether both sides of the best were walked through where its middle is told: neither is to be asked for again."""
    best, shallow = max(merits), _both_shallow(merits, turns)
    top = turns[merits.index(best)]
    below = any(at < top for at in shallow)
    return below and any(at > top for at in shallow) and middle(merits, turns) is not None


def _both_shallow(merits: list[float], turns: tuple[float, ...]) -> list[float]:
    """The settings whose looks lie between one and two such falls below the best."""
    best = max(merits)
    return [at for at, now in zip(turns, merits, strict=True) if FALL_DB <= best - now <= 2 * FALL_DB]


def _valley(merits: list[float], turns: tuple[float, ...], flicker: float) -> tuple[int, bool]:
    """Where it was lowest between two peaks, the newest such look (0: none); whether the second is still come to.

    Nobody turned back there, so it is no way home: it fell by far, and then rose again in the same sense.
    """
    sense, top, low, low_at, valley, other = 0.0, merits[0], merits[0], 0, 0, False
    for at in range(1, len(merits)):
        now, moved = merits[at], turns[at] - turns[at - 1]
        if moved * sense < 0.0:
            top, low, low_at, other = merits[at - 1], merits[at - 1], at - 1, False
        sense = math.copysign(1.0, moved) if moved else sense
        if now < low:
            low, low_at = now, at
        crossed = bool(sense) and top - low >= FALL_DB and now - low > max(2 * ANEW_DB, flicker)
        if crossed:
            valley, other = low_at, True
        if crossed or now > top:
            top, low, low_at = now, now, at
    return valley, other


def _one_way(turns: tuple[float, ...]) -> bool:
    return len({after > before for before, after in pairwise(turns) if after != before}) < 2


def _plain(merits: list[float], fallen: float, *, here: bool, flicker: float) -> Search:
    best = max(merits)
    passed = any(best - now > flicker for now in merits[merits.index(best) :])
    if here:
        return Search("top" if passed else "climb", fallen, stop=passed)
    return Search("past", fallen)


@dataclass(slots=True)
class _Way:
    """What the way so far tells. sides: how often it fell far from the best; near: whether it came to it since.

    anew: whether a side was counted of what then was found not to be the best.

    home is against the sense of the turn that made it fall: where the best stood in turns says nothing of it, for on
    the way back the play of the thread lies between.
    """

    best: float
    flicker: float
    sides: int = 0
    near: bool = True
    away: bool = False
    anew: bool = False
    home: float = 0.0
    least: float = math.inf
    side: float = 0.0  # the way home from the side that was counted last
    rising: bool = False
    jumped: bool = False
    up: float = 0.0
    first: float = field(init=False)

    def __post_init__(self) -> None:
        self.first = self.best

    def look(self, now: float, sense: float) -> None:
        """One look more, and the sense in which it was turned last."""
        if now > self.best + ANEW_DB:
            self.anew = self.anew or self.sides > 0
            self.sides, self.near, self.side = 0, True, 0.0
        if now > self.best:
            # What only plays about where it stood at first tells no way up.
            self.best, self.up = now, sense if now - self.first > self.flicker else self.up
        fallen = self.best - now
        # A bold turn on the way home may go over the peak from one skirt to the other.
        over = self.away and sense == self.home and fallen > self.least + 2 * self.flicker
        if over or (fallen > self.flicker and not self.away):
            self.home, self.least = -sense, fallen
        self.away = fallen > self.flicker
        self.least = min(self.least, fallen) if sense == self.home else fallen
        self.rising = bool(sense) and self.away and sense == self.home
        self.jumped = bool(sense) and (over or (self.jumped and self.away and sense == -self.home))
        self.near = self.near or (over and bool(sense))  # the best was passed between two looks
        if self.near and fallen >= FALL_DB:
            self.sides += not (self.side and self.side == self.home)  # turned back early, it is the same side again
            self.near, self.side = False, self.home
        elif fallen <= max(FALL_DB / 3, self.flicker):
            self.near = True


def _way_so_far(merits: list[float], turns: tuple[float, ...], flicker: float) -> _Way:
    way, sense = _Way(merits[0], flicker), 0.0
    for at, now in enumerate(merits):
        moved = turns[at] - turns[at - 1] if at else 0.0
        sense = math.copysign(1.0, moved) if moved else sense
        way.look(now, sense)
    return way


def _to_the_middle(
    merits: list[float], turns: tuple[float, ...], turned: float, fallen: float, *, flicker: float, here: bool
) -> Search:
    fine = middle(merits, turns)
    found = fine or roughly(merits, turns)
    if found is None:
        share = 1.0 - min(1.0, fallen / FALL_DB)
        return Search("middle", fallen, share=1.0 if here else share, stop=here and not any(turns))
    at, half = found
    near, left = max(NEAR_ENOUGH * half, FINEST_TURN), at - turned
    if _lies_low(merits, turns, at, near, flicker):
        share = 1.0 - min(1.0, fallen / FALL_DB)
        return Search("middle", fallen, left=left, near=near, share=1.0 if here else share, stop=here, short=True)
    stop = (abs(left) <= near and (here or fine is not None)) or (here and _crossed(merits, turns, at))
    share = 1.0 if stop else max(0.0, 1.0 - abs(left) / half)
    return Search("middle", fallen, left=left, near=near, share=share, stop=stop)


def _crossed(merits: list[float], turns: tuple[float, ...], at: float) -> bool:
    """Whether the newest turn went over the middle: where it is as high as it gets, nobody is sent to and fro."""
    places = _places(merits, turns)
    return len(places) > 1 and (places[-1][0] - at) * (places[-2][0] - at) < 0.0


def _lies_low(merits: list[float], turns: tuple[float, ...], at: float, near: float, flicker: float) -> bool:
    """Whether the middle was seen to lie clearly below the best: the sides were seen unevenly, or too coarsely."""
    there = [now for place, now in _places(merits, turns) if abs(place - at) <= near]
    return bool(there) and max(merits) - max(there) > 1.1 * flicker


def middle(merits: list[float], turns: tuple[float, ...]) -> tuple[float, float] | None:
    """The middle between the settings of equal fall on both sides, and its distance from either [turn].

    With fall L and setting t, 10^(L/10) is a parabola in t: least squares over all looks that lie not too far down,
    each weighed by its reading's noise. The settings are those of the adjuster, without the play of its thread.
    """
    curve = _both_sides(_shallow(_places(merits, turns), max(merits)))
    if curve is None:
        return None
    vertex, lowest, curvature = curve
    return vertex, math.sqrt(max(lowest, 0.5) * (10 ** (FALL_DB / 10) - 1) / curvature)


def roughly(merits: list[float], turns: tuple[float, ...]) -> tuple[float, float] | None:
    """The same from the two looks next to the best, one on each side, where there are too few for more.

    With fall L a setting is sqrt(10^(L/10) - 1) half-widths off, so their middle is weighed by that.
    """
    places = _places(merits, turns)
    best_at, best = max(places, key=itemgetter(1))
    off = [(at, math.sqrt(max(10 ** ((best - value) / 10) - 1, 0.0))) for at, value in places]
    below = max((row for row in off if row[0] < best_at and row[1] > LEAST_OFF), default=None)
    above = min((row for row in off if row[0] > best_at and row[1] > LEAST_OFF), default=None)
    if below is None or above is None:
        return None
    half = (above[0] - below[0]) / (above[1] + below[1])
    return below[0] + half * below[1], half * math.sqrt(10 ** (FALL_DB / 10) - 1)


def _both_sides(looks: Looks) -> Curve | None:
    """The parabola through those looks, where they lie on both sides of its middle."""
    found, low = _parabola(looks), 10 ** (FALL_DB / 20)
    if found is None:
        return None
    vertex = found[0]
    seen = any(at < vertex and u > low for at, u in looks) and any(at > vertex and u > low for at, u in looks)
    return found if seen else None


def _parabola(looks: Looks) -> Curve | None:
    """Place, height and curvature of the least of a parabola through those (setting, height); None where none is."""
    if len({at for at, _ in looks}) < LEAST_LOOKS:
        return None
    centre = fmean(at for at, _ in looks)
    span = max(abs(at - centre) for at, _ in looks)
    rows = [((at - centre) / span, u) for at, u in looks]
    power = [sum(t**n / u**2 for t, u in rows) for n in range(5)]
    right = [sum(t**n / u for t, u in rows) for n in range(3)]

    def determinant(columns: list[list[float]]) -> float:
        (a, b, c), (d, e, f), (g, h, i) = columns
        return a * (e * i - f * h) - d * (b * i - c * h) + g * (b * f - c * e)

    matrix = [power[n : n + 3] for n in range(3)]
    whole = determinant(matrix)
    if whole <= 0.0:
        return None
    height, slope, bend = (
        determinant([right if m == n else column for m, column in enumerate(matrix)]) / whole for n in range(3)
    )
    if bend <= 0.0:
        return None
    return centre - span * slope / (2 * bend), height - slope**2 / (4 * bend), bend / span**2


def _places(merits: list[float], turns: tuple[float, ...]) -> Looks:
    """The settings in their order, each with the mean of its looks."""
    rows = groupby(zip(turns, merits, strict=True), key=itemgetter(0))
    return [(at, fmean(value for _, value in looks)) for at, looks in rows]


def _shallow(places: Looks, best: float) -> Looks:
    """The settings that lie not too far down, each with its 10^(L/10)."""
    rows = [(at, 10 ** ((best - value) / 10)) for at, value in places]
    return [(at, u) for at, u in rows if u <= 10 ** (2 * FALL_DB / 10)]
