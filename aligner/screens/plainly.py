"""What is asked, for the arrow keys of the virtual set: without what nobody can see or need do there."""

import re

from aligner.engine.peak_phrases import COUNT_TURNS, EQUAL_FALL, PEAKED_CORE
from aligner.screens.peaks import FALL_DB

STEPS = (
    f": find the {{}}, go on {FALL_DB:g} dB past it, back over it to {FALL_DB:g} dB on the other side, "
    "then to the middle"
)
"""A fine peak in its four steps."""


_TUNED = re.compile(
    r"(?:Set the tuning voltage to [\d.]+ \w+|Set the pointer to (?:the mark “[^”]*”|[\d.]+ \w+)"
    r"|Set the tuning to its \w+ end|Tune the set to receive [\d.]+ \w+)(, generator to [\d.]+ \w+)?"
)
"""How a person is told to tune the set, and perhaps the generator."""


def for_keys(text: str) -> str:
    """That ask: the set tunes itself, the turns are counted by themselves, and no core is seen in its coil."""
    steps = STEPS.format("lowest" if "for the lowest reading" in text else "highest")
    plain = text.replace(PEAKED_CORE, "").replace(COUNT_TURNS, "")
    plain = _TUNED.sub(_by_itself, plain, count=1)
    return re.sub(rf"{re.escape(EQUAL_FALL)}([^.]*)\.", rf"\1{steps}.", plain)


def _by_itself(tuned: re.Match[str]) -> str:
    return f"{tuned[0]} (the virtual set does {'both' if tuned[1] else 'so'} by itself)"
