"""What is asked, for the arrow keys of the virtual set: without what nobody can see or need do there."""

import re

from aligner.engine.peak_phrases import COUNT_TURNS, EQUAL_FALL, PEAKED_CORE
from aligner.screens.peaks import FALL_DB

STEPS = (
    f": find the {{}}, go on {FALL_DB:g} dB past it, back over it to {FALL_DB:g} dB on the other side, "
    "then to the middle"
)
"""A fine peak in its four steps."""


def for_keys(text: str) -> str:
    """That ask: the turns are counted by themselves, and no core is seen in its coil."""
    steps = STEPS.format("lowest" if "for the lowest reading" in text else "highest")
    plain = text.replace(PEAKED_CORE, "").replace(COUNT_TURNS, "")
    return re.sub(rf"{re.escape(EQUAL_FALL)}([^.]*)\.", rf"\1{steps}.", plain)
