"""What the guided tour says beside each of its asks; nothing in any other job."""

from aligner.engine.asks import Ask, Confirm, Read, Touch, Turning
from aligner.engine.history import History
from aligner.procedure.model import Procedure

TOUR = "tour"
"""The name of the tour's procedure, by which its jobs are known."""

_CONFIRM = (
    "At the top stands the one thing to do now. With a real set cautions come first, then what to connect. "
    "Do it, then press Enter."
)
_FIRST_READING = (
    "The large figures are what the counter shows now. Enter takes them; or type the reading yourself, 381.26, and "
    "Enter. What you type is shown as it is understood before it counts."
)
_NEXT_READING = "The same at the other end of the band. Two readings tell how far off the whole circuit is."
_FIRST_TOUCH = (
    "Left and Right turn the adjuster (hold the key down for more). The bar fills towards the AIM, arrow and words "
    "say which way the reading must go. Why, below the bar, tells why the aim is not the final value. Stop inside: it "
    "is taken."
)
_NEXT_TOUCH = (
    "Near the aim a press becomes finer by itself; with Shift it is finer still. Overshot? Turn back. c shows the "
    "error over the band, before, now and after this touch; c again comes back. k tells what is known and why this is "
    "next; u takes back."
)
_CHECK = (
    "Nothing is called held that was not seen: the first end is read once more. It should have come right by itself."
)
_END = (
    "One circuit, a few touches; p tells about how many it takes to and fro. Enter closes the tour. In the list the "
    "demo leads through a whole set, and n begins your own."
)


def coach(procedure: Procedure, history: History, ask: Ask | None) -> str:
    """A word beside the open ask of the tour; empty in any other job."""
    if procedure.name != TOUR:
        return ""
    words = _words(history, ask)
    return f"TOUR  {words}" if words else ""


def _words(history: History, ask: Ask | None) -> str:
    answered = [entry.ask for entry in history.live() if not entry.doubt]
    touched = sum(isinstance(row, Turning) for row in answered)
    match ask:
        case None:
            return _END
        case Confirm():
            return _CONFIRM
        case Read():
            if touched:
                return _CHECK
            return _NEXT_READING if any(isinstance(row, Read) for row in answered) else _FIRST_READING
        case Touch():
            return _NEXT_TOUCH if touched else _FIRST_TOUCH
    return ""
