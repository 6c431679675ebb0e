"""The stream of live readings since the open ask was shown: the newest, the best, how still it stands."""

import math
import statistics
from dataclasses import dataclass, field
from itertools import pairwise

from aligner.engine.answers import Reading
from aligner.engine.asks import Ask, Peak, Read, Touch
from aligner.engine.capture import HOLD_S, Captured, NotYet, Sample, Window, capture, newest, settled
from aligner.engine.gauge import LEAVES, Best, Gauge, best_of, gauge
from aligner.procedure.model import Adjuster
from aligner.screens.feel import CLEAR_STEPS, Feel, known_feel
from aligner.screens.fingers import PLAIN_FINEST, Fingers
from aligner.screens.held import Held

A_LOOK = 12
"""Values that are taken over at each look at a source; a flood of more is thinned, or the keys would wait for it."""

AT_REST_S = 6.0
"""So long a hand that turns on changes a reading, unless the adjuster is at its end [s]."""

FLICKER_S, FLICKERS = 3.0, 2
"""A reading that went in and out of its aim so often within that time [s] stands at its edge."""

FOLLOWED_DB = 1.5
"""A press that changes the level by more becomes finer: half of the fall on each side of a peak."""

_ROUNDED = 1e-9
"""What a turn differs by from the press because of rounding [turn]."""

LONGEST_TRACE = 3000
"""Readings kept for the peak seen so far, five minutes at ten a second; of more than that the older are thinned."""


@dataclass(slots=True)
class Stream:
    """What came from the source since the ask was shown. `turned` [turn]: how far the virtual adjuster was turned."""

    ask: Ask
    resolution: float
    rest: float = 0.0  # what plays about by so much in all is at rest; at least three resolutions
    window: Window = field(default_factory=Window)
    start: float | None = None
    trace: tuple[float, ...] = ()
    turns: tuple[float, ...] = ()  # as many as the trace has: where the adjuster then stood, without the play
    turned: float = 0.0
    slack: float = 0.0  # of that: the play of the thread that was taken up by turning back [turn]
    handled: bool = False  # whether the virtual adjuster was turned at all, be it back to where it stood
    fingers: Fingers = field(default_factory=Fingers)
    moved: bool = False  # whether the newest press of an arrow key turned the adjuster as far as it was meant to
    turned_s: float = 0.0  # the newest value before the newest press of an arrow key [s]
    pressed_early: bool = False
    inside: bool = False
    left_here: bool = False  # asked once whether the adjuster was left where it stands
    at_stop: bool = False  # the virtual adjuster did not go as far as it was turned
    _edge_s: float = -math.inf  # when the reading was seen last at the edge of its aim [s]
    adjuster: Adjuster | None = None
    feel: Feel = field(default_factory=lambda: Feel(fickle=True))
    held: Held = field(default_factory=Held)

    @property
    def live(self) -> float | None:
        """The newest value."""
        return self.window.samples[-1].value if self.window.samples else None

    def take(self, sample: Sample) -> None:
        """One value more."""
        self.window = self.window.with_sample(self.ask, sample)
        if self.start is None:
            self.start = self.live
            if isinstance(self.ask, Touch) and self.adjuster is not None:
                self.feel.hint(known_feel(self.ask, self.adjuster, sample.value))
        self.feel.see(sample.value, self.turned, self.resolution, self._relative(sample.value))
        shown = self.gauge()
        self.inside = shown is not None and shown.inside
        if self.edge() is not None:
            self._edge_s = sample.at_s
        self.pressed_early = self.pressed_early and isinstance(self._settled(), NotYet)
        if isinstance(self.ask, Peak):
            self.trace, self.turns = (*self.trace, sample.value), (*self.turns, self.felt)
            if len(self.trace) > LONGEST_TRACE:
                kept = outlined(self.trace[: LONGEST_TRACE // 2])
                kept += range(LONGEST_TRACE // 2, len(self.trace))
                self.trace, self.turns = tuple(self.trace[at] for at in kept), tuple(self.turns[at] for at in kept)

    def lose(self) -> None:
        """Nothing is read now; what was seen of a peak stays."""
        self.window = Window(armed=self.window.armed)

    def hold(self) -> Captured | NotYet:
        """How far the hands-free rule is; it begins once the reading no longer plays about the edge of its aim."""
        if self.edge() is not None:
            return NotYet("at the edge of the aim: a hair more")
        return capture(self.ask, self.window.since(self._edge_s))

    def stop_hold(self) -> None:
        """A key was pressed: nothing is taken by itself before the reading has left the aim again."""
        self.window = self.window.stopped()

    def gauge(self) -> Gauge | None:
        """The gauge of the newest value, where the ask has an aim that is read."""
        if self.live is None:
            return None
        shown = gauge(self.ask, self.live, self.start, was_inside=self.inside)
        return shown if isinstance(shown, Gauge) else None

    def edge(self) -> Gauge | None:
        """At the edge of the aim: a gauge outside of it, for what must still be done.

        There it stands where the middle of what would be taken lies out by a hair, or where it lately went in and out
        on one side.
        """
        shown = self.gauge()
        if shown is None or not shown.inside or not self.window.samples:
            return self._flicker()
        since_s = max(self.turned_s, self.window.samples[-1].at_s - HOLD_S)
        held = [row.value for row in self.window.since(since_s).samples] or [shown.value]
        inside = [value for value in held if abs(value - shown.aim) <= LEAVES * shown.within]
        middle = gauge(self.ask, statistics.median(inside), self.start)
        return middle if isinstance(middle, Gauge) and not middle.inside else self._flicker()

    def _flicker(self) -> Gauge | None:
        newest_s = self.window.samples[-1].at_s if self.window.samples else 0.0
        inside, crossed = False, -1  # the first way in is none back
        out: list[Gauge] = []
        for row in self.window.samples:
            if row.at_s < max(self.turned_s, newest_s - FLICKER_S):
                continue
            shown = gauge(self.ask, row.value, self.start, was_inside=inside)
            if not isinstance(shown, Gauge):
                return None
            crossed += shown.inside != inside
            inside = shown.inside
            out += [] if inside else [shown]
        one_side = len({shown.way for shown in out}) == 1
        return out[-1] if one_side and crossed >= FLICKERS else None

    def best(self) -> Best | None:
        """The peak seen so far, for a peak."""
        return best_of(self.ask, self.trace, self.resolution) if isinstance(self.ask, Peak) else None

    @property
    def untouched(self) -> bool:
        """Whether the reading lies outside of its aim, and still where it stood when the ask was shown."""
        shown = self.gauge()
        if shown is None or shown.inside or self.turned or self.start is None:
            return False
        return abs(shown.value - self.start) <= 3 * self.resolution

    @property
    def has_moved(self) -> bool:
        """Whether the reading is clearly another one than when the ask was shown."""
        if self.start is None or self.live is None:
            return False
        return abs(self.live - self.start) > CLEAR_STEPS * self.resolution

    @property
    def at_rest(self) -> bool:
        """Whether the reading has moved since the ask was shown, and now stands still outside of its aim."""
        shown = self.gauge()
        if shown is None or shown.inside or self.start is None or abs(shown.value - self.start) <= 3 * self.resolution:
            return False
        return isinstance(settled(self.window, 3 * self.resolution, AT_REST_S), Captured)

    @property
    def peak_is_moving(self) -> bool:
        """Whether the reading has changed since the peak was asked for, by more than it plays about."""
        return bool(self.trace) and max(self.trace) - min(self.trace) > 3 * self.resolution

    @property
    def raising(self) -> float:
        """The sense of turning that raises the reading, clockwise 1; 0 while nobody knows."""
        return self.feel.raising

    @property
    def to_go(self) -> float | None:
        """About how far it is to the aim [turn], clockwise positive; None where nobody knows."""
        shown = self.gauge()
        if shown is None or not isinstance(self.ask, Touch) or self.ask.aim.quantity == "level":
            return None
        return self.feel.to_go(shown.off, shown.within, self._relative(shown.value))

    @property
    def too_coarse(self) -> bool:
        """Whether the finest press without Shift would jump over the aim."""
        shown = self.gauge()
        if shown is None or shown.inside or not self.to_go:
            return False
        effect = abs(self.feel.per_turn * self._relative(shown.value))
        return effect * PLAIN_FINEST > abs(shown.off) + shown.within

    @property
    def felt(self) -> float:
        """How far the adjuster itself was turned [turn], clockwise positive: the tool's way without the thread's play.

        A level seen on the way there lies at the same place on the way back.
        """
        return self.turned - self.slack

    def _relative(self, value: float) -> float:
        aim = self.ask.aim.quantity if isinstance(self.ask, Touch) else ""
        return value if aim in {"frequency", "resonance"} else 1.0

    def turn(self, sense: float, factor: float, middle: float | None = None) -> float:
        """One press of an arrow key [turn]; middle: what is left to the middle of a peak, where known [turn]."""
        self.pressed_early, self.handled, self.left_here = False, True, False
        self.turned_s = self.window.samples[-1].at_s if self.window.samples else 0.0
        self.fingers.kept_below(self.boldest if middle is None else math.inf)
        size = self.fingers.press(sense, factor, self.to_go if middle is None else middle)
        self.feel.press(sense, self.turned, self.live)
        return size

    @property
    def boldest(self) -> float:
        """The boldest press [turn] that changes a peak's level by no more than can be followed, by the newest look."""
        if not isinstance(self.ask, Peak) or self.ask.quantity != "level" or len(self.trace) < 2:
            return math.inf
        stood = next((at for at in range(len(self.turns) - 1, -1, -1) if self.turns[at] != self.turns[-1]), None)
        if stood is None:
            return math.inf
        change = abs(self.trace[-1] - self.trace[stood])
        return math.inf if change <= FOLLOWED_DB else abs(self.turns[-1] - self.turns[stood]) * FOLLOWED_DB / change

    def stands(self, turned: float, by: float) -> None:
        """How far the virtual adjuster is turned now [turn], and by how much the newest press was to turn it.

        A hand that turns back feels the play of the thread, which is what the tool goes further than the press.
        """
        play = turned - self.turned - by
        if play * by > 0.0 and abs(play) > _ROUNDED:
            self.slack += play
        self.moved = abs(turned - self.turned) > 0.99 * abs(by)  # the rest is rounding; a stop takes more
        self.turned = turned

    def by_key(self) -> Captured | NotYet:
        """What a key takes: the settled value, or at the second press in a row the newest as it is."""
        taken = self._settled()
        if isinstance(taken, NotYet) and self.pressed_early:
            return newest(self.window)
        self.pressed_early = isinstance(taken, NotYet) and self.live is not None
        return taken

    def early_words(self) -> str:
        """Why a key took nothing, while that is so; empty once the reading has come to rest."""
        taken = self._settled() if self.pressed_early else None
        if not isinstance(taken, NotYet):
            return ""
        return f"{taken.reason[0].upper()}{taken.reason[1:]}. Enter again takes it as it is."

    def _settled(self) -> Captured | NotYet:
        return settled(self.window, max(self.rest, 3 * self.resolution))

    def reading(self, taken: Captured, *, counted: bool) -> Reading:
        """The answer made of what was taken, with the net turns where they can be counted."""
        turns = round(self.turned, 4) if counted and self.turned else None
        return Reading(taken.value, turns, seen=taken.seen)


def thinned(samples: tuple[Sample, ...]) -> tuple[Sample, ...]:
    """Of a flood the least, the greatest and the newest value of each part: what was outside an aim stays seen."""
    if len(samples) <= A_LOOK:
        return samples
    parts = A_LOOK // 3
    ends = [len(samples) * part // parts for part in range(parts + 1)]
    kept: set[int] = set()
    for begin, end in pairwise(ends):
        part = range(begin, end)
        by_value = sorted(part, key=lambda at: samples[at].value)
        kept |= {by_value[0], by_value[-1], end - 1}
    return tuple(samples[at] for at in sorted(kept))


def outlined(values: tuple[float, ...]) -> list[int]:
    """Half of the places of those values: of each four the least and the greatest, so that no peak is forgotten."""
    fours = (range(at, min(at + 4, len(values))) for at in range(0, len(values), 4))
    return [
        at for four in fours for at in sorted({min(four, key=values.__getitem__), max(four, key=values.__getitem__)})
    ]


def readable(ask: Ask | None, serves: frozenset[str]) -> bool:
    """Whether a source that reads these quantities can read what the ask wants to be read."""
    if isinstance(ask, Touch):
        return ask.aim.quantity in serves
    return isinstance(ask, Read | Peak) and ask.quantity in serves
