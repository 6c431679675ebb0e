"""Where a touch goes wrong by its direction: the end of travel away from the aim, and which way leads back."""

from aligner.engine.asks import Touch
from aligner.screens.desk import Desk
from aligner.screens.feel import CLEAR_STEPS
from aligner.screens.stream import Stream


def away(desk: Desk) -> bool:
    """Whether the reading was turned away from the aim, as far as it was turned at all.

    A level rises and falls on the way over its peak, so from it nothing follows.
    """
    ask, stream = desk.ask, desk.stream
    if not isinstance(ask, Touch) or ask.aim.quantity == "level" or stream is None or not desk.reads_live:
        return False
    shown = stream.gauge()
    if shown is None or shown.inside or stream.start is None:
        return False
    if desk.turnable:
        return _back(desk, stream) * stream.fingers.sense < 0
    begun = stream.start - ask.aim.value
    return begun * shown.off > 0 and abs(shown.off) > abs(begun) + CLEAR_STEPS * stream.resolution


def back_key(desk: Desk) -> str:
    """The key that leads back to the aim on the virtual set; empty where nobody knows."""
    sense = _back(desk, desk.stream) if desk.turnable and desk.stream is not None else 0.0
    return "" if not sense else "Right" if sense > 0 else "Left"


def away_words(desk: Desk) -> str:
    """What to say at an end of travel that lies away from the aim; empty at any other."""
    if not away(desk):
        return ""
    key = back_key(desk)
    return f"This is the end away from the aim: turn back{f' with {key}' if key else ''}."


def other_way_words(desk: Desk) -> str:
    """What to say where an adjuster does not turn one way and nobody saw yet which way leads to the aim."""
    stream, ask = desk.stream, desk.ask
    if stream is None or not isinstance(ask, Touch) or ask.aim.quantity == "level" or not desk.turnable:
        return ""
    sense = stream.fingers.sense
    if stream.raising or not sense:
        return ""
    return f"It no longer turns that way: try {'Left' if sense > 0 else 'Right'}."


def end_doubt(desk: Desk) -> str:
    """What speaks against an end of travel, for the question about it."""
    stream = desk.stream
    if away(desk):
        return "the aim lies the other way"
    moved = desk.turnable and stream is not None and stream.moved
    return "it moved with your last press" if moved else ""


def _back(desk: Desk, stream: Stream) -> float:
    """The sense of turning that brings the reading to its aim, clockwise positive; 0 where that was not seen."""
    shown = stream.gauge()
    if shown is None or shown.inside or not isinstance(desk.ask, Touch) or desk.ask.aim.quantity == "level":
        return 0.0
    return stream.raising if shown.way == "up" else -stream.raising
