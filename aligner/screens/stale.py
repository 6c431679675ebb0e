"""Which readings no longer hold, because an adjuster of their circuit was turned after them."""

from collections.abc import Iterator

from aligner.engine.answers import Cannot, Reading, Result, Undo
from aligner.engine.asks import Point, Single, Touch, Turning
from aligner.engine.history import Entry, History, undone
from aligner.engine.ledger import left_turned, turns_of
from aligner.engine.survey import Survey
from aligner.procedure.model import Procedure

Place = tuple[str, Point]


def moved_since(procedure: Procedure, history: History, survey: Survey) -> frozenset[int]:
    """The numbers of the newest readings of their places that are older than a movement of their circuit.

    Those of a step that is done are not among them: what was turned for it last was seen to be right by others.
    """
    open_steps = {report.id for report in survey.steps if report.state in {"to-do", "disturbed"}}
    moved = dict(_moved(procedure, history))
    newest: dict[Place, Entry] = {}
    for entry in history.live():
        place = _place(procedure, entry)
        if place is not None:
            newest[place] = entry
    return frozenset(
        entry.seq
        for (circuit, _), entry in newest.items()
        if moved.get(circuit, -1) > entry.seq and entry.ask is not None and entry.ask.step in open_steps
    )


def _moved(procedure: Procedure, history: History) -> Iterator[tuple[str, int]]:
    """Each circuit with the entry that moved it, oldest first; what was taken back moved it all the same."""
    gone = undone(history.entries)
    for entry in history.entries:
        undo = gone.get(entry.seq)
        if isinstance(entry.ask, Turning) and _turned(entry) and (undo is None or undo.moved):
            for circuit in procedure.adjuster(entry.ask.adjuster).circuits or _all(procedure):
                yield circuit, entry.seq


def _turned(entry: Entry) -> bool:
    """Whether a hand turned the adjuster for that entry."""
    ask, answer = entry.ask, entry.answer
    if entry.doubt or isinstance(answer, Undo) or not isinstance(ask, Turning):
        return left_turned(entry)
    if isinstance(answer, Cannot) and answer.why == "no-reading":
        return False
    return left_turned(entry) or (isinstance(answer, Result) and turns_of(ask, answer) != 0.0)


def _place(procedure: Procedure, entry: Entry) -> Place | None:
    """What was read, and where; None where nothing was, or turns alone."""
    ask = entry.ask
    if entry.doubt or not isinstance(entry.answer, Reading) or not isinstance(ask, Single):
        return None
    if isinstance(ask, Touch) and ask.aim.quantity == "turns":
        return None
    circuit = ask.circuit or next((row.id for row in procedure.circuits if row.role == "oscillator"), "")
    return circuit, ask.point


def _all(procedure: Procedure) -> tuple[str, ...]:
    return tuple(row.id for row in procedure.circuits)
