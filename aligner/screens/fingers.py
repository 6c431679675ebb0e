"""How far one press of an arrow key turns the virtual set's adjuster.

Some trimmers run through the whole band in half a turn, some cores need ten turns; both must be set to a thousandth.
So the press does what a hand does: it starts small, grows while it goes one way, never beyond a small part of the way
that the adjuster has, and becomes four times finer whenever it turns back. A fine press never grows.
"""

import math
from dataclasses import dataclass

BOLDEST, FINEST = 1.0, 1.0 / 65536
"""Bounds of one press [turn]."""

START = 1 / 16
"""The first press [turn], where the adjuster has way enough."""

PATIENCE = 6
"""Presses one way before they grow."""

WAY_PARTS = 8
"""Into so many presses at least the way between two stops is parted."""

ROUND = 1 / 16
"""The boldest press on what turns round and round [turn]: it runs through all it has in half a turn."""


@dataclass(slots=True)
class Fingers:
    """The turn of the next press [turn], and how often it went the same way; `most`: the boldest of them [turn]."""

    notch: float = START
    sense: float = 0.0
    count: int = 0
    most: float = BOLDEST

    def allow(self, most: float) -> None:
        """No press may be bolder than that [turn]."""
        self.most = max(FINEST, min(BOLDEST, most))
        self.notch = min(self.notch, START if self.most > START else self.most / 2)

    @property
    def step(self) -> float:
        """What one more press the same way turns [turn]."""
        return self._grown() if self.count >= PATIENCE else self.notch

    def press(self, sense: float, factor: float = 1.0) -> float:
        """Turn once, clockwise positive; `factor` as Shift and Control make it."""
        if self.sense and sense != self.sense:
            self.notch, self.count = max(FINEST, self.notch / 4), 0
        self.sense = sense
        if factor < 1.0:
            return sense * max(FINEST, min(self.notch, START) * factor)
        self.count += 1
        if self.count > PATIENCE:
            self.notch, self.count = self._grown(), 1
        return sense * max(FINEST, min(self.most, self.notch * factor))

    def _grown(self) -> float:
        return max(self.notch, min(self.most, self.notch * 2))


def boldest(travel: float | None) -> float:
    """The boldest press [turn] on an adjuster with that way between its stops [turn], None where it has none."""
    if travel is None:
        return ROUND
    return float(2.0 ** math.floor(math.log2(max(FINEST, travel / WAY_PARTS))))


def step_words(turns: float) -> str:
    """A press as it is told: these are parts of a turn by halves."""
    return f"a press: 1/{round(1 / turns)} turn" if turns < 1.0 else f"a press: {turns:g} turn"
