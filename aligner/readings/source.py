"""Where live readings come from, and how they reach whoever looks: the newest only, with one wake for many.

A source may bring thousands of values a second; a screen draws a few. So a source writes its news on a board, and wakes
the reader once: not again until the reader has looked. What stands still is judged over the window, which covers the
last seconds however fast the values come.
"""

import threading
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Protocol

from aligner.engine.capture import KEEP_S, Sample

KEEP_AT_MOST = 2048
KEEP_AT_LEAST = 8
"""Values kept however old they are: a counter with a gate of ten seconds has few."""


@dataclass(frozen=True, slots=True)
class Live:
    """How a source stands. value [the unit wanted], None where there is nothing that may be shown as a reading.

    raw: the newest line, clean. at_s: when the value came, on the source's clock. rate_hz: values a second.
    stable: the last values stand still within what the instrument can show. message: what a person must know.
    resolution: the step of the last digit.
    """

    value: float | None
    raw: str
    at_s: float
    rate_hz: float
    stable: bool
    connected: bool
    message: str = ""
    resolution: float | None = None


class Source(Protocol):
    """A stream of readings. Nothing flows before `start` and after `stop`; both may be called twice."""

    def start(self) -> None:
        """Begin."""

    def stop(self) -> None:
        """End, and let go of the instrument."""

    def latest(self) -> Live | None:
        """Tell how it stands now; None before the first news. Reading it allows the next wake."""

    def window(self) -> tuple[Sample, ...]:
        """Return the values of the last seconds, oldest first, their times strictly rising."""


class Wire(Protocol):
    """An open port, or something that stands for one."""

    def read(self) -> bytes:
        """Return what came within a tenth of a second, empty where nothing did."""

    def write(self, data: bytes) -> None:
        """Send."""


class Dialogue(Protocol):
    """What is said on an open port to get lines from it."""

    def begin(self, wire: Wire) -> None:
        """Make ready on a port that was just opened."""

    def lines(self, wire: Wire) -> list[bytes]:
        """Take one turn of a tenth of a second or so, and return the lines that came."""


def nobody() -> None:
    """Wake nobody."""


class Board:
    """What a source's thread writes and any other thread reads. `on_news` is called by the writer's thread."""

    def __init__(self, on_news: Callable[[], None] = nobody) -> None:
        self._on_news = on_news
        self._lock = threading.Lock()
        self._live: Live | None = None
        self._seen = True
        self._samples: deque[Sample] = deque()

    def post(self, live: Live, samples: Iterable[Sample] = ()) -> None:
        """Replace what stands there, add to the window, and wake the reader if it has seen the last news."""
        with self._lock:
            self._live = live
            self._samples.extend(samples)
            self._forget()
            wake, self._seen = self._seen, False
        if wake:
            self._on_news()

    def latest(self) -> Live | None:
        """Return the newest, and allow the next wake."""
        with self._lock:
            self._seen = True
            return self._live

    def window(self) -> tuple[Sample, ...]:
        """Return the values of the last seconds."""
        with self._lock:
            return tuple(self._samples)

    def clear(self) -> None:
        """Forget the window: what comes next has nothing to do with it."""
        with self._lock:
            self._samples.clear()

    def _forget(self) -> None:
        """Drop the old; of a flood drop values between others, so that the window still covers its seconds."""
        if not self._samples:
            return
        since = self._samples[-1].at_s - KEEP_S
        while len(self._samples) > KEEP_AT_LEAST and self._samples[0].at_s < since:
            self._samples.popleft()
        if len(self._samples) > KEEP_AT_MOST:
            self._samples = _thinned(self._samples)


def _thinned(samples: deque[Sample]) -> deque[Sample]:
    """At most half of what may be kept, the newest for sure, and spread over the whole time."""
    spacing_s = 2 * KEEP_S / KEEP_AT_MOST
    kept: deque[Sample] = deque()
    for sample in reversed(samples):
        if not kept or kept[0].at_s - sample.at_s >= spacing_s:
            kept.appendleft(sample)
    return kept
