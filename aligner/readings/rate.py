"""How fast values come, and whether they stand still: pure functions over times and values."""

from collections.abc import Sequence

from aligner.engine.capture import Sample

SILENT_AFTER_S = 3.0
"""A source is called silent after this time [s], or after three of its own intervals where it is slow."""

STEADY_OVER_S = 0.5
STEADY_LEAST = 4
STEADY_STEPS = 2.0
"""One step up and one down is the counter's own plus or minus one count."""


def per_second(times_s: Sequence[float]) -> float:
    """Values a second from the times at which they came; 0 where there is nothing to tell it from."""
    if len(times_s) < 2 or times_s[-1] <= times_s[0]:
        return 0.0
    return (len(times_s) - 1) / (times_s[-1] - times_s[0])


def silence_limit_s(rate_hz: float) -> float:
    """How long a source may be silent before its last value is no longer shown as one."""
    return max(SILENT_AFTER_S, 3.0 / rate_hz) if rate_hz > 0 else SILENT_AFTER_S


def steady(samples: Sequence[Sample], resolution: float) -> bool:
    """Whether the newest values, four or more over half a second or more, differ by no more than two steps."""
    if len(samples) < STEADY_LEAST:
        return False
    since = samples[-1].at_s - STEADY_OVER_S
    least = greatest = samples[-1].value
    for count, sample in enumerate(reversed(samples), start=1):
        least, greatest = min(least, sample.value), max(greatest, sample.value)
        if greatest - least > STEADY_STEPS * resolution * (1 + 1e-9):
            return False
        if count >= STEADY_LEAST and sample.at_s <= since:
            return True
    return False
