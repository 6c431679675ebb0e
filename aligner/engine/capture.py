"""When a stream of live values stands still, and when a touch may be taken without a hand on the keyboard.

The hands-free rule is strict: a value taken too early is a wrong entry that nobody typed. It serves touches with
an aim that can be read, never plain readings. It arms only after a value since the ask was shown lay outside the aim: a
circuit that already stands inside is the person's to confirm. It takes only when no value of the last HOLD_S has left
the aim (see `LEAVES`), the middle of them lies truly inside, and they stand still. A window that was stopped by a key
must leave the aim again before it arms.
"""

import math
import statistics
from bisect import bisect_left, bisect_right
from dataclasses import dataclass, replace
from itertools import pairwise

from aligner.engine.answers import Seen
from aligner.engine.asks import Aim, Ask, Touch
from aligner.engine.gauge import LEAVES

HOLD_S = 1.5
"""How long the values must lie inside the aim and stand still [s]."""

KEEP_S = 10.0
"""How much of the stream a window keeps [s]."""

TREMBLE_S = 3.0
"""How long a reading that plays about by more than matters is looked at, to see whether it goes anywhere [s]."""

LEAST_TREMBLE = 12
"""The fewest values that tell noise from a movement."""

MIDDLE_SIGMAS = 2.0
"""To so many standard errors the middle of noise must be known."""

LEAST_TURNING = 1.3
"""Of noise the mean square from one value to the next is twice the variance, give or take 0.4 over 24 values (J. von
Neumann, Annals of Mathematical Statistics 12, 1941, p. 367); of what goes one way, or slowly to and fro, far less."""

GREATEST_GAP_S = 2.5
"""A longer silence between two values breaks the hold [s]: the instrument may have hung."""


@dataclass(frozen=True, slots=True)
class Sample:
    """One live value as it came: time [s], value in the ask's quantity, raw text."""

    at_s: float
    value: float
    raw: str = ""


@dataclass(frozen=True, slots=True)
class Window:
    """What came since the ask was shown. `armed`: a value lay outside the aim since then (or since a stop)."""

    samples: tuple[Sample, ...] = ()
    armed: bool = False

    def with_sample(self, ask: Ask, sample: Sample) -> "Window":
        """Add one value; values that are no numbers or go back in time are left out."""
        newest = self.samples[-1].at_s if self.samples else -math.inf
        if not math.isfinite(sample.value) or sample.at_s <= newest:
            return self
        kept = self.samples[bisect_left(self.samples, sample.at_s - KEEP_S, key=_at_s) :]
        outside = isinstance(ask, Touch) and _has_left(ask.aim, sample.value)
        return Window((*kept, sample), self.armed or outside)

    def since(self, at_s: float) -> "Window":
        """Only what came after that [s]."""
        return replace(self, samples=self.samples[bisect_right(self.samples, at_s, key=_at_s) :])

    def stopped(self) -> "Window":
        """The same after a key stopped the hold: disarmed until a value lies outside again."""
        return replace(self, armed=False)


@dataclass(frozen=True, slots=True)
class Captured:
    """A value to be answered: the median of what stood still, and what it was made of."""

    value: float
    seen: Seen


@dataclass(frozen=True, slots=True)
class NotYet:
    """Nothing is taken yet, and why; `held` is how much of the hold has passed, 0 to 1."""

    reason: str
    held: float = 0.0


def capture(ask: Ask, window: Window) -> Captured | NotYet:
    """The hands-free rule: a settled value inside the aim, or why there is none yet."""
    if not isinstance(ask, Touch) or ask.aim.quantity == "turns":
        return NotYet("only a touch whose aim can be read is taken by itself")
    if not window.armed:
        return NotYet("waits until the reading has been outside the aim")
    inside = _newest_inside(ask.aim, window.samples)
    if not inside:
        return NotYet("outside the aim")
    held = min(1.0, (inside[-1].at_s - inside[0].at_s) / HOLD_S)
    if held < 1.0:
        return NotYet("inside the aim: hold still", held)
    last = _last(inside, HOLD_S)
    if not _still(last, ask.aim.within):
        return NotYet("still moving", 0.0)
    taken = _captured(last)
    return taken if _inside(ask.aim, taken.value) else NotYet("at the edge of the aim: a hair more")


def settled(window: Window, width: float, span_s: float = 1.0) -> Captured | NotYet:
    """The value that the stream stands at, for a key press; what plays about by `width` in all is at rest.

    So is noise that is wider, where it goes nowhere and its middle is known as well as that.
    """
    if not window.samples:
        return NotYet("no reading yet")
    unbroken = _unbroken(window.samples)
    last = _last(unbroken, span_s)
    covered = last[-1].at_s - last[0].at_s
    if covered < span_s:
        return NotYet("wait for the reading to settle", covered / span_s)
    if _still(last, width):
        return _captured(last)
    longer = _last(unbroken, max(span_s, TREMBLE_S))
    return _captured(longer) if _trembles(longer, width) else NotYet("still moving", 0.0)


def newest(window: Window) -> Captured | NotYet:
    """The newest value alone, for a person who insists on taking it as it is."""
    return _captured(window.samples[-1:]) if window.samples else NotYet("no reading yet")


def _inside(aim: Aim, value: float) -> bool:
    return abs(value - aim.value) <= aim.within


def _has_left(aim: Aim, value: float) -> bool:
    return abs(value - aim.value) > LEAVES * aim.within


def _unbroken(samples: tuple[Sample, ...]) -> tuple[Sample, ...]:
    """The newest samples without a long silence between two of them."""
    start = len(samples) - 1
    while start > 0 and samples[start].at_s - samples[start - 1].at_s <= GREATEST_GAP_S:
        start -= 1
    return samples[start:]


def _newest_inside(aim: Aim, samples: tuple[Sample, ...]) -> tuple[Sample, ...]:
    """The unbroken run of newest samples that have not left the aim since the first of them came inside."""
    unbroken = _unbroken(samples) if samples else ()
    start = len(unbroken)
    while start > 0 and not _has_left(aim, unbroken[start - 1].value):
        start -= 1
    while start < len(unbroken) and not _inside(aim, unbroken[start].value):
        start += 1
    return unbroken[start:]


def _last(samples: tuple[Sample, ...], span_s: float) -> tuple[Sample, ...]:
    """The fewest newest samples that cover `span_s`, or all of them where they do not."""
    since = samples[-1].at_s - span_s
    return samples[max(0, bisect_right(samples, since, key=_at_s) - 1) :]


def _at_s(sample: Sample) -> float:
    """By what a window is ordered: its times rise strictly, so it is searched by halves."""
    return sample.at_s


def _still(samples: tuple[Sample, ...], width: float) -> bool:
    """No more than `width` from least to greatest, and no drift of more than half of it from one half to the other."""
    values = [sample.value for sample in samples]
    if len(values) < 2:
        return False
    half = len(values) // 2
    drift = abs(statistics.fmean(values[-half:]) - statistics.fmean(values[:half]))
    return max(values) - min(values) <= width and drift <= width / 2


def _trembles(samples: tuple[Sample, ...], width: float) -> bool:
    """Whether the values are noise about a middle that is known to half of `width`."""
    values = [sample.value for sample in samples]
    if len(values) < LEAST_TREMBLE or samples[-1].at_s - samples[0].at_s < TREMBLE_S:
        return False
    variance = statistics.variance(values)
    onward = statistics.fmean((after - before) ** 2 for before, after in pairwise(values))
    known = MIDDLE_SIGMAS * math.sqrt(variance / len(values)) <= width / 2
    return known and onward >= LEAST_TURNING * variance


def _captured(samples: tuple[Sample, ...]) -> Captured:
    values = [sample.value for sample in samples]
    spread = statistics.pstdev(values)
    return Captured(statistics.median(values), Seen(n=len(values), spread=spread, raw=samples[-1].raw))
