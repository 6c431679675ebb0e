"""An engine without physics, for tests of what stands around the engine: one ask a step, of one kind after another.

A reading over a milliard is questioned once; a second that agrees, or one that insists, is taken.
"""

from collections.abc import Callable

from aligner.engine.answers import (
    Answer,
    Cannot,
    Done,
    GoTo,
    Reading,
    Remark,
    SetAside,
    SweepSeen,
    SwitchWay,
    Undo,
    WandSeen,
)
from aligner.engine.asks import Aim, Ask, Confirm, Peak, Point, Read, Sweep, Touch, Turning, Wand
from aligner.engine.history import Entry, History
from aligner.engine.survey import StepReport, Survey
from aligner.errors import AnswerError
from aligner.procedure.model import Procedure

_ELSEWHERE = Remark | SwitchWay | GoTo | Undo | SetAside
_IMPROBABLE = 1e9


def _confirm(number: int, step: str) -> Ask:
    return Confirm(id=number, step=step, text="Do it.")


def _read(number: int, step: str) -> Ask:
    return Read(id=number, step=step, text="Read it.", quantity="frequency", point=Point(volts=2.0))


def _touch(number: int, step: str) -> Ask:
    aim = Aim("resonance", 98e6, 1e5)
    return Touch(id=number, step=step, text="Turn it.", adjuster="a", circuit="c", point=Point(received=9e7), aim=aim)


def _peak(number: int, step: str) -> Ask:
    return Peak(id=number, step=step, text="Peak it.", adjuster="a", circuit="c", point=Point(end="low"))


def _wand(number: int, step: str) -> Ask:
    return Wand(id=number, step=step, text="Wave it.", circuit="c", point=Point(dial=9e7))


def _sweep(number: int, step: str) -> Ask:
    return Sweep(id=number, step=step, text="Sweep it.", quantity="level", from_hz=1e6, to_hz=2e6, count=11)


_KINDS: tuple[Callable[[int, str], Ask], ...] = (_confirm, _read, _touch, _wand, _sweep, _peak)


def survey(procedure: Procedure, history: History, /) -> Survey:
    taken = [entry for entry in history.live() if not entry.doubt]
    by_step = {entry.ask.step: entry.answer for entry in taken if entry.ask is not None and _closes(entry.answer)}
    open_steps = [number for number, step in enumerate(procedure.steps) if step.id not in by_step]
    newest = history.entries[-1] if history.entries else None
    ask: Ask | None = None
    if open_steps:
        place = open_steps[0]
        ask = _KINDS[place % len(_KINDS)](_number(history), procedure.steps[place].id)
    return Survey(
        ask=ask,
        steps=tuple(_report(step.id, step.kind, by_step.get(step.id)) for step in procedure.steps),
        doubt=newest.doubt if newest is not None else "",
        running=ask.step if ask is not None else "",
        aligned=ask is None and not any(isinstance(answer, SetAside | Cannot) for answer in by_step.values()),
        touches=sum(isinstance(entry.ask, Turning) for entry in taken),
        readings=sum(isinstance(entry.ask, Read) for entry in taken),
    )


def entry_for(procedure: Procedure, history: History, answer: Answer, at_s: float, version: str, /) -> Entry:
    ask = survey(procedure, history).ask
    if not isinstance(answer, _ELSEWHERE):
        _demand_fit(ask, answer)
    if isinstance(answer, SetAside) and ask is None:
        raise AnswerError("nothing is open")
    return Entry(len(history.entries) + 1, at_s, version, ask, answer, _doubt(history, answer))


def _closes(answer: Answer) -> bool:
    return not isinstance(answer, Remark | SwitchWay | GoTo | Undo)


def _number(history: History) -> int:
    return 1 + sum(not isinstance(entry.answer, Remark) and not entry.doubt for entry in history.entries)


def _report(step: str, kind: str, answer: Answer | None) -> StepReport:
    if answer is None:
        return StepReport(step, kind, step, "to-do")
    if isinstance(answer, SetAside):
        return StepReport(step, kind, step, "set-aside", why=answer.reason)
    if isinstance(answer, Cannot):
        return StepReport(step, kind, step, "at-limit", why="It cannot be had.")
    error = answer.value if isinstance(answer, Reading) else None
    return StepReport(step, kind, step, "held", error=error, tolerance=5.0, plus_minus=float("nan"))


def _demand_fit(ask: Ask | None, answer: Answer) -> None:
    fits: dict[type, type | tuple[type, ...]] = {
        Done: Confirm,
        Reading: (Read, Touch, Peak),
        WandSeen: Wand,
        SweepSeen: Sweep,
        Cannot: (Read, Touch, Peak, Wand, Sweep),
    }
    if not isinstance(ask, fits[type(answer)]):
        raise AnswerError("that does not answer the open ask")


def _doubt(history: History, answer: Answer) -> str:
    if not isinstance(answer, Reading) or answer.value <= _IMPROBABLE or answer.insist:
        return ""
    newest = history.entries[-1] if history.entries else None
    if newest is not None and newest.doubt and newest.answer == answer:
        return ""
    return "That cannot be right."
