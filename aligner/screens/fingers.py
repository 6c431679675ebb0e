"""How far one press of an arrow key turns the virtual set's adjuster.

Some trimmers run through the whole band in half a turn, some cores need ten turns; both must be set to a thousandth.
So the press does what a hand does: it starts boldly, grows bolder while it goes one way, and becomes four times finer
whenever it turns back.
"""

from dataclasses import dataclass

BOLDEST, FINEST = 1.0, 1.0 / 65536
"""Bounds of one press [turn]."""

PATIENCE = 3
"""Presses one way before they grow."""


@dataclass(slots=True)
class Fingers:
    """The turn of the next press [turn], and how often it went the same way."""

    notch: float = 1 / 16
    sense: float = 0.0
    count: int = 0

    def press(self, sense: float, factor: float = 1.0) -> float:
        """Turn once, clockwise positive; `factor` as Shift and Control make it."""
        if self.sense and sense != self.sense:
            self.notch, self.count = max(FINEST, self.notch / 4), 0
        self.sense = sense
        self.count += 1
        if self.count > PATIENCE:
            self.notch, self.count = min(BOLDEST, self.notch * 2), 1
        return sense * max(FINEST, self.notch * factor)
