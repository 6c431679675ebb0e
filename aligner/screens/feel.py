"""What turning an adjuster does to the reading, learned from presses as a hand learns it by feel.

A press tells something only where it has changed the reading by clearly more than the reading plays about by itself;
several small ones the same way count as one. What was learned is kept for the next touch of the same adjuster. One
press to the contrary does not overturn it, for noise is sometimes large; a second one does, for the reading of a rotary
trimmer turns back.
"""

import math
from dataclasses import dataclass

from aligner.engine.asks import Touch
from aligner.procedure.model import Adjuster

CLEAR_STEPS = 6.0
"""A reading has changed for certain by so many of what the instrument can show."""

CLEAR_PLAY = 4.0
"""The same in what it was seen to play about by while nothing was turned."""

FICKLE = 2.0
"""Of either on the way over a peak, where the newest press alone tells."""

LEAST_VALUES = 4
"""So many values while nothing was turned tell how far the reading plays about."""

MOST_VALUES = 16
"""More of them would tell of drift."""

FADES = 0.7
"""How much of an earlier play is still reckoned with when a new one was seen."""

DOUBTED = 0.5
"""How much of the way still to go an effect is trusted with that was learned elsewhere."""


@dataclass(frozen=True, slots=True)
class Felt:
    """What was learned of an adjuster by reading that quantity, as it is kept with the job; names as of `Feel`."""

    adjuster: str
    quantity: str
    raising: float
    per_turn: float


@dataclass(slots=True)
class Feel:
    """What is known of one adjuster. per_turn: the change of the reading a turn, of itself where it is a frequency."""

    fickle: bool = False  # one press to the contrary overturns it: on the way over a peak
    raising: float = 0.0  # the sense of turning that raises the reading, clockwise 1; 0 where nobody knows
    per_turn: float = 0.0  # 0 where nobody knows
    here: bool = False  # whether the effect was seen since the ask was shown
    play: float = 0.0
    _contrary: int = 0
    _sense: float = 0.0
    _from: tuple[float, float] | None = (
        None  # where it stood [turn] before presses that tell nothing yet, and the reading
    )
    _still: tuple[int, float, float] = (0, math.inf, -math.inf)  # values since the newest press, least and greatest

    def begin(self) -> None:
        """Another ask: what was learned stays."""
        self.here, self._contrary, self._sense, self._from = False, 0, 0.0, None
        self._still = (0, math.inf, -math.inf)

    def hint(self, known: "Feel") -> None:
        """What is known without turning; what was felt counts for more."""
        if not self.raising:
            self.raising, self.per_turn = known.raising, known.per_turn

    def recall(self, felt: Felt) -> None:
        """What an earlier sitting learned."""
        sound = math.isfinite(felt.per_turn) and felt.per_turn >= 0.0 and abs(felt.raising) == 1.0
        self.raising, self.per_turn = (felt.raising, felt.per_turn) if sound else (0.0, 0.0)

    def press(self, sense: float, stands: float, reading: float | None) -> None:
        """It is about to be turned that way, from there [turn] and from that reading."""
        if self._still[0] >= LEAST_VALUES:
            self.play = max(self._range(), FADES * self.play)
        self._still = (0, math.inf, -math.inf)
        if reading is None:
            self._from = None
        elif self._from is None or sense != self._sense or self.fickle:
            self._from = stands, reading
        self._sense = sense

    def see(self, value: float, stands: float, step: float, relative: float) -> None:
        """A value came, with the adjuster standing there [turn]; `step` is what the instrument can show.

        relative: what an effect is counted in, the reading itself or 1.
        """
        count, least, greatest = self._still
        if count < MOST_VALUES:
            self._still = count + 1, min(least, value), max(greatest, value)
        if self._from is None or stands == self._from[0]:
            return
        turns, change = stands - self._from[0], value - self._from[1]
        steps, plays = (FICKLE, FICKLE) if self.fickle else (CLEAR_STEPS, CLEAR_PLAY)
        clear = max(steps * step, plays * max(self.play, self._range()))
        if abs(change) > clear:
            self._learn(turns, change / relative, clear / relative)

    def to_go(self, off: float, within: float, relative: float) -> float | None:
        """About how far to turn for the reading to fall by `off` [turn], clockwise positive; None where nobody knows.

        Never less than half of the aim's half width, for a finer press is none.
        """
        if not self.raising or not self.per_turn or not relative:
            return None
        trust = 1.0 if self.here else DOUBTED
        turns = max(trust * abs(off), within / 2) / (self.per_turn * abs(relative))
        return turns * self.raising * (-1.0 if off > 0 else 1.0)

    def _learn(self, turns: float, change: float, clear: float) -> None:
        raising, effect = math.copysign(1.0, turns * change), abs(change / turns)
        if self.raising and raising != self.raising and not self.fickle:
            if self.per_turn * abs(turns) <= clear:
                return  # it should not have been seen at all: it was noise
            self._contrary += 1
            if self._contrary < 2:
                self._from = None
                return
        self.raising, self.per_turn, self.here = raising, effect, True
        self._contrary, self._from = 0, None

    def _range(self) -> float:
        count, least, greatest = self._still
        return greatest - least if count > 1 else 0.0


def known_feel(ask: Touch, adjuster: Adjuster, reading: float) -> Feel:
    """What the procedure says of that adjuster's sense, and its model of its effect, where the reading stands there."""
    if ask.aim.quantity == "turns":
        return Feel(raising=1.0, per_turn=1.0)
    if ask.aim.quantity not in {"frequency", "resonance"}:
        return Feel()
    amount = ask.amount
    if amount is not None and amount.unit == "turn" and amount.value and ask.direction is not None:
        # More inductance or capacitance lowers every resonance.
        raising = math.copysign(1.0, amount.value) * (1.0 if ask.direction == "less" else -1.0)
        return Feel(raising=raising, per_turn=abs((ask.aim.value - reading) / (amount.value * reading)))
    if adjuster.rotation is not None and adjuster.counted:
        return Feel(raising=-1.0 if adjuster.rotation == "more" else 1.0)
    return Feel()
