"""How far one press of an arrow key turns the virtual set's adjuster.

Some trimmers run through the whole band in half a turn, some cores need ten turns; both must be set to a thousandth.
So the press does what a hand does: it starts small, grows while it goes one way, never beyond a small part of the way
that the adjuster has, and becomes four times finer whenever it turns back. A fine press never grows. Where it is known
what turning does, a press towards the aim is not greater than what is still to go, and grows sooner far from it; what
is finer than a hand turns without thinking of it wants Shift.
"""

import math
from dataclasses import dataclass, replace

BOLDEST, FINEST = 1.0, 1.0 / 65536
"""Bounds of one press [turn]."""

PLAIN_FINEST = 1 / 1024
"""No press without Shift is finer than this [turn]: a hand that means to turn less must take care. Or whoever turns
back far off would never get there; a peak that is led to the middle of two sides needs it as fine."""

START = 1 / 16
"""The first press [turn], where the adjuster has way enough."""

PATIENCE, HASTE = 6, 2
"""Presses one way before they grow; the lesser far from a known aim."""

FAR = 4.0
"""So many presses away an aim is far."""

WAY_PARTS = 8
"""Into so many presses at least the way between two stops is parted."""

LARGE, SMALL = 1 / 4, 1 / 64
"""From so much on, and up to so little, a press of what does not rotate is told as large, and as tiny [turn]."""

HARDLY = 0.9
"""A press of half the way or more that leaves more than this of it did less than was thought."""

ROUND = 1 / 16
"""The boldest press on what turns round and round [turn]: it runs through all it has in half a turn."""


@dataclass(slots=True)
class Fingers:
    """The turn of the next press [turn], and how often it went the same way; `most`: the boldest of them [turn].

    to_go: how far it is to the aim [turn], clockwise positive; None where nobody knows.
    """

    notch: float = START
    sense: float = 0.0
    count: int = 0  # presses since they grew
    kept: int = 0  # presses in a row that were kept as small as what was still to go, and brought it hardly nearer
    left: float | None = None  # what was still to go before the newest press [turn]
    most: float = BOLDEST

    def allow(self, most: float) -> None:
        """No press may be bolder than that [turn]."""
        self.most = max(FINEST, min(BOLDEST, most))
        self.notch = min(self.notch, START if self.most > START else self.most / 2)

    def kept_below(self, most: float) -> None:
        """The next press is not bolder than that [turn], for the reading runs; it grows from there anew."""
        if self.notch > most:
            self.notch, self.count = max(PLAIN_FINEST, halved(max(FINEST, most))), 0
            self.sense = 0.0  # turning back makes it no finer still

    def step(self, to_go: float | None = None, most: float = math.inf) -> float:
        """What one more press turns [turn], towards the aim or else the same way."""
        sense, tried = math.copysign(1.0, to_go) if to_go else self.sense or 1.0, replace(self)
        tried.kept_below(most)
        return abs(tried.press(sense, to_go=to_go))

    def presses_to(self, turns: float, most: int, near: float = 0.0) -> int:
        """The presses to within `near` of so many turns, clockwise positive; one more than `most` where they are more.

        They are tried, for they become finer the less is still to go, and grow as they go on.
        """
        tried, left, count = replace(self), turns, 0
        while count <= most and abs(left) > max(near, FINEST):
            left, count = left - tried.press(math.copysign(1.0, left), to_go=left), count + 1
        return count

    def press(self, sense: float, factor: float = 1.0, to_go: float | None = None) -> float:
        """Turn once, clockwise positive; `factor` as Shift and Control make it."""
        left = abs(to_go) if to_go is not None and to_go * sense > 0.0 else None
        if self.sense and sense != self.sense:
            self.notch = self.notch if left is not None else min(self.notch, max(PLAIN_FINEST, self.notch / 4))
            self.count = self.kept = 0
        self.sense = sense
        if factor >= 1.0:
            self._grow(left)
        if left is not None and factor <= 1.0:
            most = max(PLAIN_FINEST, halved(left))
            hardly = self.left is not None and left > HARDLY * self.left
            self.kept = self.kept + 1 if self.notch >= most and hardly else 0
            self.notch = min(self.notch, most * 2 ** (self.kept // PATIENCE))  # else an effect overrated would hold it
        self.left = left
        if factor < 1.0:
            fine = min(self.notch, START) * factor
            return sense * max(FINEST, min(fine, halved(left)) if left else fine)
        return sense * max(FINEST, min(self.most, self.notch * factor))

    def _grow(self, left: float | None) -> None:
        self.count += 1
        far = left is not None and left > FAR * self.notch
        if self.count > (HASTE if far else PATIENCE):
            self.notch, self.count = self._grown(), 1

    def _grown(self) -> float:
        return max(self.notch, min(self.most, self.notch * 2))


def boldest(travel: float | None) -> float:
    """The boldest press [turn] on an adjuster with that way between its stops [turn], None where it has none."""
    if travel is None:
        return ROUND
    return halved(max(FINEST, travel / WAY_PARTS))


def halved(turns: float) -> float:
    """The greatest part of a turn by halves (or so many whole ones by doubling) that is not more than that [turn]."""
    return float(2.0 ** math.floor(math.log2(turns)))


def step_words(turns: float, *, rotates: bool = True) -> str:
    """A press as it is told: these are parts of a turn by halves, of what does not rotate only about how much."""
    if not rotates:
        return f"press: a {'large' if turns >= LARGE else 'small' if turns > SMALL else 'tiny'} part"
    return f"a press: 1/{round(1 / turns)} turn" if turns < 1.0 else f"a press: {turns:g} turn"
