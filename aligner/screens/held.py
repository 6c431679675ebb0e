"""A key that is kept pressed: it brings the reading to its aim, and does not carry it on beyond.

What a screen is told of a key that is down is only that it comes again and again; so a key counts as held for as long
as it comes again before a finger could have meant that.
"""

import math
from dataclasses import dataclass

from aligner.engine.gauge import Gauge, Way

LET_GO_S = 0.3
"""A key that was not heard for so long was let go of [s]."""


@dataclass(slots=True)
class Held:
    """The key that was pressed last, when [s], and which way the reading had to go when it was pressed down."""

    key: str = ""
    newest_s: float = -math.inf
    way: Way = "there"
    there: bool = False  # the reading has come to its aim, or over it, since then

    def arrived(self, key: str, at_s: float, shown: Gauge | None) -> bool:
        """Whether that key, pressed again then, would turn on what it has brought to the aim already.

        shown: where the reading stands before that press; None where nothing tells.
        """
        again = key == self.key and at_s - self.newest_s <= LET_GO_S
        self.key, self.newest_s = key, at_s
        if shown is None:
            self.there = False
        elif not again or self.way == "there":
            self.way, self.there = shown.way, False
        elif shown.way != self.way:
            self.there = True
        return self.there
