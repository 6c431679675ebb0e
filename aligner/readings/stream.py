"""Lines with their times to what is shown live: pure, no thread and no clock of its own.

A line that is not understood does not wipe out the last value, for many counters print other lines between; but a line
by which the instrument says that it has no reading does, and so does silence: a value that no longer comes must not
look as if it did.
"""

from collections import deque
from dataclasses import dataclass, replace

from aligner.engine.capture import Sample
from aligner.readings.lines import LineFault, LineValue, Want, understand, visible
from aligner.readings.rate import per_second, silence_limit_s, steady
from aligner.readings.source import Live

_LEAST_STEP_S = 1e-6
_TIMES = 512
_NEWEST = 4096
_STEADY_EVERY_S = 0.05
"""Stillness is looked at no more often [s]: in a flood it would cost more than the reading itself."""


@dataclass(frozen=True, slots=True)
class News:
    """What a chunk of lines brought."""

    live: Live
    samples: tuple[Sample, ...] = ()


class Stream:
    """Follows one instrument from line to line."""

    def __init__(self, want: Want) -> None:
        self._want = want
        self._live = Live(None, "", 0.0, 0.0, stable=False, connected=False)
        self._times: deque[float] = deque(maxlen=_TIMES)
        self._newest: deque[Sample] = deque(maxlen=_NEWEST)
        self._value_or_opening_s = 0.0
        self._line_fault = ""
        self._looked_s = 0.0

    def opened(self, now_s: float) -> News:
        """The port is open; nothing has come yet."""
        self._forget(now_s)
        self._live = Live(None, "", now_s, 0.0, stable=False, connected=True)
        return News(self._live)

    def lost(self, now_s: float, why: str) -> News:
        """The port is gone, or cannot be opened."""
        self._forget(now_s)
        self._live = Live(None, "", now_s, 0.0, stable=False, connected=False, message=why)
        return News(self._live)

    def lines(self, raw_lines: list[bytes], now_s: float) -> News:
        """Take the lines that came together."""
        samples: list[Sample] = []
        for raw in raw_lines:
            understood = understand(raw, self._want)
            if isinstance(understood, LineFault):
                self._fault(understood, raw)
            else:
                samples.append(self._value(understood, raw, now_s))
        if samples:
            self._measure_pace(now_s)
        return News(self._live, tuple(samples))

    def quiet(self, now_s: float) -> News | None:
        """Nothing came; None unless the last value has just become too old to be shown."""
        waited = now_s - self._value_or_opening_s
        if not self._live.connected or waited <= silence_limit_s(self._live.rate_hz):
            return None
        self._value_or_opening_s = now_s
        why = f"no reading for {waited:.0f} s"
        message = f"{why}: {self._line_fault}" if self._line_fault else f"{why}: nothing is received"
        self._forget(now_s)
        self._live = replace(self._live, value=None, stable=False, rate_hz=0.0, message=message)
        return News(self._live)

    def _forget(self, now_s: float) -> None:
        self._times.clear()
        self._newest.clear()
        self._value_or_opening_s = now_s
        self._line_fault = ""

    def _measure_pace(self, now_s: float) -> None:
        stable = self._live.stable
        if now_s - self._looked_s >= _STEADY_EVERY_S:
            self._looked_s = now_s
            stable = self._live.value is not None and steady(self._newest, self._live.resolution or 0.0)
        self._live = replace(self._live, rate_hz=per_second(self._times), stable=stable)

    def _fault(self, fault: LineFault, raw: bytes) -> None:
        self._line_fault = fault.why
        value = None if fault.no_reading else self._live.value
        stable = self._live.stable and value is not None
        if fault.no_reading:
            self._newest.clear()
        self._live = replace(self._live, value=value, stable=stable, raw=visible(raw), message=fault.why)

    def _value(self, understood: LineValue, raw: bytes, now_s: float) -> Sample:
        # Lines that came in one chunk have one time; the settle detector wants times that rise.
        at_s = max(now_s, self._newest[-1].at_s + _LEAST_STEP_S) if self._newest else now_s
        sample = Sample(at_s, understood.value, visible(raw))
        self._newest.append(sample)
        self._times.append(now_s)
        self._value_or_opening_s = now_s
        self._line_fault = ""
        self._live = Live(
            value=understood.value,
            raw=sample.raw,
            at_s=at_s,
            rate_hz=self._live.rate_hz,
            stable=self._live.stable,
            connected=True,
            resolution=understood.step,
        )
        return sample
