"""The order in which the steps of a job are worked: that of the procedure, until the person wants another one first.

A step that is gone to is put before the step that is open, and takes the coverage of its band with it, for nothing
follows an oscillator that was not set. The step that was open goes on afterwards where it stood. Going to a step that
was set aside takes it up again, also once nothing else is left to ask: then it comes after all others but the locks.
"""

from aligner.engine.answers import GoTo, SetAside
from aligner.engine.history import Entry
from aligner.errors import AnswerError
from aligner.procedure.model import CoverageStep, PrepareStep, Procedure, SealStep, Step

_FIXED = (PrepareStep, SealStep)
"""Hazards and connections come first, locks last, whatever the person would like."""


def ordered(procedure: Procedure, live: tuple[Entry, ...]) -> tuple[Step, ...]:
    """The steps in the order in which they are worked."""
    order = list(procedure.steps)
    for entry in live:
        if isinstance(entry.answer, GoTo) and _moves(procedure, entry.answer.step):
            order = _moved(procedure, order, entry.answer.step, _open_step(entry))
    return tuple(order)


def _moves(procedure: Procedure, wanted: str) -> bool:
    """Whether a step that is gone to may leave its place: one of the fixed ones is only taken up where it stands."""
    return not isinstance(procedure.step(wanted), _FIXED)


def _open_step(entry: Entry) -> str:
    """The step that was open then; empty where the job had ended."""
    return "" if entry.ask is None else entry.ask.step


def _moved(procedure: Procedure, order: list[Step], wanted: str, before: str) -> list[Step]:
    """The order with the wanted step, and the coverage that it needs, put before another, or last before the locks."""
    ahead = _party(procedure, order, wanted, before)
    rest = [step for step in order if step not in ahead]
    at = next((n for n, step in enumerate(rest) if step.id == before or (not before and _locks(rest[n:]))), len(rest))
    return [*rest[:at], *ahead, *rest[at:]]


def _locks(steps: list[Step]) -> bool:
    return all(isinstance(step, SealStep) for step in steps)


def _party(procedure: Procedure, order: list[Step], wanted: str, before: str) -> list[Step]:
    """The wanted step, after the coverage of its band where that is still to come."""
    target = procedure.step(wanted)
    if not before:
        return [target]
    ids = [step.id for step in order]
    open_at, target_at = ids.index(before), ids.index(wanted)
    coming = order[open_at + 1 : target_at]
    needed = [step for step in coming if isinstance(step, CoverageStep) and step.band == getattr(target, "band", None)]
    return [*needed, target]


def turned_at(procedure: Procedure, live: tuple[Entry, ...]) -> tuple[int, str]:
    """Number of the entry that went to another step last, and the first step that it put ahead; (0, "") for none."""
    order = list(procedure.steps)
    last = (0, "")
    for entry in live:
        if isinstance(entry.answer, GoTo) and _moves(procedure, entry.answer.step):
            last = (entry.seq, _party(procedure, order, entry.answer.step, _open_step(entry))[0].id)
            order = _moved(procedure, order, entry.answer.step, _open_step(entry))
    return last


def steps_aside(live: tuple[Entry, ...]) -> dict[str, str]:
    """Steps that were set aside and not taken up again, with the reasons."""
    aside: dict[str, str] = {}
    for entry in live:
        if isinstance(entry.answer, SetAside) and entry.ask:
            aside[entry.ask.step] = entry.answer.reason
        elif isinstance(entry.answer, GoTo):
            aside.pop(entry.answer.step, None)
    return aside


def ways_on(procedure: Procedure, live: tuple[Entry, ...], running: str) -> tuple[str, ...]:
    """The steps that may be gone to: while one is open those to come, and those set aside; after the end the latter."""
    aside = steps_aside(live)
    if not running:
        return tuple(step.id for step in procedure.steps if step.id in aside)
    if isinstance(procedure.step(running), _FIXED):
        return ()
    order = ordered(procedure, live)
    at = next(n for n, step in enumerate(order) if step.id == running)
    return tuple(
        step.id
        for n, step in enumerate(order)
        if not isinstance(step, _FIXED) and ((n > at and step.id not in aside) or (n != at and step.id in aside))
    )


def check_going(procedure: Procedure, live: tuple[Entry, ...], running: str, wanted: str) -> None:
    """AnswerError where that step cannot be gone to now."""
    there = ways_on(procedure, live, running)
    if not running and not there:
        raise AnswerError("the job is finished; there is no step to go to")
    if running and isinstance(procedure.step(running), _FIXED):
        raise AnswerError(f"first finish \u201c{running}\u201d: connections and locks are not left half done")
    if wanted not in there:
        raise AnswerError(f"\u201c{wanted}\u201d cannot be gone to now; steps to go to: {', '.join(there) or 'none'}")
