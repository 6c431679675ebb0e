"""The one reading that was questioned and taken all the same, on which what is asked now rests."""

from aligner.engine.answers import Reading
from aligner.engine.asks import Ask, Point, Single
from aligner.engine.history import Entry, History, undoable
from aligner.screens.log import entry_words


def rests_on(history: History, ask: Ask | None) -> str:
    """Which reading that is and how to take it back; empty where there is none, or it was read again since."""
    live = tuple(entry for entry in history.live() if undoable(entry))
    own = [entry for entry in live if ask is not None and entry.ask is not None and entry.ask.step == ask.step]
    questioned = [entry for entry in own if _insisted(history, entry)]
    if not questioned:
        return ""
    newest = questioned[-1]
    later = [entry for entry in live if entry.seq > newest.seq]
    if _place(newest) in [_place(entry) for entry in later]:
        return ""
    how = f"r, then {newest.seq}, says it anew" if later else "u takes it back"
    return f"This rests on {entry_words(newest)}, which was questioned: {how}."


def _insisted(history: History, entry: Entry) -> bool:
    """Whether a reading was taken although it was questioned: by insisting, or by saying it again."""
    if not isinstance(entry.answer, Reading) or entry.ask is None:
        return False
    if entry.answer.insist:
        return True
    before = [e for e in history.entries if e.doubt and e.ask is not None and e.ask.id == entry.ask.id]
    if not before:
        return False
    from aligner.engine.doubt import agrees  # noqa: PLC0415 - numbers are slow to load, and nothing is doubted before

    return agrees(entry.ask, before[-1].answer, entry.answer)


def _place(entry: Entry) -> tuple[str, Point] | None:
    return (entry.ask.circuit, entry.ask.point) if isinstance(entry.ask, Single) else None
