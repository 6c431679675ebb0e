"""Coming back after a break: the one reading that tells whether the set still is as it was left."""

from dataclasses import dataclass

from aligner.engine.answers import Note, Reading
from aligner.engine.asks import Ask, Point, Read, Touch, Turning
from aligner.engine.history import Entry, History
from aligner.errors import QuantityError
from aligner.quantity import UnitName, parse, show
from aligner.screens.words import point_words, unit_of

SAME = 5e-4
"""Within this share a frequency is the same after a break: the place on the scale is not found again any better."""

_QUANTITIES = {"frequency": "the counter", "resonance": "the resonance"}


@dataclass(frozen=True, slots=True)
class LeftAt:
    """What was read last of a circuit that nothing was turned in since."""

    circuit: str
    point: Point
    value: float
    unit: UnitName
    instrument: str

    @property
    def question(self) -> str:
        """What the person is asked."""
        where = point_words(self.point)
        showed = show(self.value, self.unit)
        whose = "" if self.instrument == _QUANTITIES["frequency"] else f" of {self.circuit}"
        read = f"Set it to {where} and read {self.instrument}{whose}: it showed {showed}."
        return f"Is the set as it was left? {read} (Esc leaves it out.)"

    def told(self, typed: str) -> tuple[Note, str]:
        """What goes into the record, and what to tell; QuantityError where it is no reading."""
        now = parse(typed, self.unit, self.value).value
        off = now - self.value
        same = abs(off) <= SAME * abs(self.value)
        moved = show(abs(off), self.unit, max(abs(self.value) * SAME / 20, 1e-9))
        verdict = "as it was left" if same else f"moved by {moved} since"
        note = f"After the break, at {point_words(self.point)}: {show(now, self.unit)}, {verdict}."
        advice = "" if same else " What was held may be off: look at what was turned, or begin a copy of this job."
        return Note(note), f"{note}{advice}"


def left_at(history: History, ask: Ask | None = None) -> LeftAt | None:
    """The newest frequency that still should stand; None where there is none.

    ask: what stands open; where something is to be turned for it, its circuit may have been turned already.
    """
    moved = {ask.circuit} if isinstance(ask, Turning) else set[str]()
    for entry in reversed(history.live()):
        found = None if entry.doubt else _seen(entry)
        if found is not None and found.circuit not in moved:
            return found
        if isinstance(entry.ask, Turning):
            moved.add(entry.ask.circuit)
    return None


def _seen(entry: Entry) -> LeftAt | None:
    ask, answer = entry.ask, entry.answer
    if not isinstance(ask, Read | Touch) or not isinstance(answer, Reading):
        return None
    quantity = ask.aim.quantity if isinstance(ask, Touch) else ask.quantity
    unit = unit_of(ask)
    if quantity not in _QUANTITIES or unit is None:
        return None
    return LeftAt(ask.circuit, ask.point, answer.value, unit, _QUANTITIES[quantity])


def judged(left: LeftAt, typed: str) -> tuple[Note, str] | str:
    """The same, with the reason in words where what was typed is no reading."""
    try:
        return left.told(typed)
    except QuantityError as error:
        return str(error)
