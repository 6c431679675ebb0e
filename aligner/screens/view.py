"""The guide as frozen text and numbers: what the widgets show, computed without them."""

from dataclasses import dataclass
from typing import Literal

from aligner.engine.answers import Undo
from aligner.engine.asks import Amount, Ask, Confirm, Point, Touch, Turning
from aligner.engine.history import History
from aligner.engine.order import ways_on
from aligner.engine.survey import StepReport, Survey
from aligner.procedure.model import Adjuster, Procedure, TrackingStep
from aligner.quantity import UnitName, show
from aligner.screens.insisted import rests_on
from aligner.screens.log import LogLine, log_lines
from aligner.screens.stale import moved_since
from aligner.screens.words import (
    MARKS,
    STATES,
    Scale,
    amount_words,
    generator_words,
    point_words,
    resolution_of,
    scale_for,
    turning,
    unit_of,
)
from aligner.text import clean

AT_WORST = "at worst"
"""Before the error at the worst of a step's points."""

_ALIKE = 0.1
"""A spread of more than this share of its error is told in the same unit."""

_OF_POINTS = {"coverage", "tracking", "read-back"}
"""Kinds of steps that are judged by the worst of several points."""


@dataclass(frozen=True, slots=True)
class StepLine:
    """One step: its mark and word of state, its title, what is known of its error; `running` where the work is."""

    id: str
    mark: str
    state: str
    title: str
    detail: str
    running: bool


@dataclass(frozen=True, slots=True)
class Asked:
    """The open ask for the eye.

    text: what to do. place: where the set and the generator stand. spot: where the adjuster sits. ways: the hand's
    movement for more and for less. amount: about how much, at the start. aim: in the unit shown, empty where there is
    none. unit: in which it is read, None where nothing is.
    """

    kind: str
    text: str
    why: str
    place: str
    spot: str
    ways: tuple[str, str]
    direction: Literal["more", "less"] | None
    amount: str
    turns: Amount | None
    unit: UnitName | None
    resolution: float | None
    aim: float | None
    within: float | None
    hazard: bool
    can_turn: bool


@dataclass(frozen=True, slots=True)
class View:
    """Everything that the guide shows but the live reading and what is being typed."""

    title: str
    where: str
    done: str  # how many steps are held, or as good as they can be; how many were set aside
    counts: str
    undone: bool  # whether some of what is counted was taken back: it was work all the same
    asked: Asked | None
    steps: tuple[StepLine, ...]
    log: tuple[LogLine, ...]
    doubt: str
    ended: str
    ways: tuple[str, ...]
    rests: str  # the questioned reading on which what is asked now rests, and how to take it back
    aside: tuple[str, ...] = ()  # titles of the steps that were set aside and may be taken up now


def view(procedure: Procedure, history: History, survey: Survey, ask: Ask | None) -> View:
    """What to show of a job after that history."""
    return View(
        title=clean(procedure.title, 80),
        where=_where(survey),
        done=_done(survey),
        counts=f"{count_words(survey.touches, 'touch', 'es')}, {count_words(survey.readings, 'reading', 's')}",
        undone=any(isinstance(entry.answer, Undo) for entry in history.entries),
        asked=_asked(procedure, ask) if ask is not None else None,
        steps=tuple(step_line(report, running=report.id == survey.running) for report in survey.steps),
        log=log_lines(history, moved_since(procedure, history, survey), procedure),
        doubt=survey.doubt,
        ended=_ended(survey) if ask is None else "",
        ways=_ways(procedure, ask),
        rests=rests_on(history, ask),
        aside=_aside(procedure, history, survey, "" if ask is None else ask.step),
    )


def _aside(procedure: Procedure, history: History, survey: Survey, running: str) -> tuple[str, ...]:
    ways = ways_on(procedure, history.live(), running)
    return tuple(row.title or row.id for row in survey.steps if row.state == "set-aside" and row.id in ways)


def step_line(report: StepReport, *, running: bool) -> StepLine:
    """One step with its mark and its word, so that its state never hangs on a colour."""
    title = report.title or report.id
    return StepLine(
        report.id, MARKS[report.state], STATES[report.state], title, known_error(report) or report.why, running
    )


def known_error(report: StepReport, *, spread: bool = False) -> str:
    """What is known of a step's error, against what is allowed; empty where nothing is. spread: with how sure that is.

    Of a step with several points it is the error at the worst of them.
    """
    if report.error is None or not report.unit:
        return ""
    grain = abs(report.tolerance) / 20 if report.tolerance else None
    size, way = show(abs(report.error), report.unit, grain), "too high" if report.error > 0 else "too low"
    limit = show(report.tolerance, report.unit) if report.tolerance is not None else ""
    match report.kind:
        case "image" | "trap":
            error, limit = show(report.error, report.unit, grain), limit and f"; at least {limit} wanted"
        case "seal" | "warm-up":
            error, limit = f"moves by {size}", limit and f"; {limit} allowed"
        case _:
            error, limit = f"{size} {way}" if report.error else "right", limit and f"; {limit} allowed"
    if report.kind in _OF_POINTS and report.error:
        error = f"{AT_WORST} {error}"
    if spread and report.plus_minus is not None:
        beside = abs(report.error) if report.plus_minus > _ALIKE * abs(report.error) else 0.0
        error += f" (95 %: ± {show(report.plus_minus, report.unit, grain, beside)})"
    return error + limit


def count_words(count: int, noun: str, plural: str) -> str:
    """A number of things."""
    return f"{count} {noun}{'' if count == 1 else plural}"


def scale_of(asked: Asked, about: float | None) -> Scale:
    """The scale on which the reading of that ask and its aim are shown; `about` is a reading, where there is no aim."""
    size = asked.aim if asked.aim is not None else about
    grain = asked.resolution or (asked.within / 10 if asked.within else None)
    return scale_for(asked.unit or "dB", size or 0.0, grain)


def _where(survey: Survey) -> str:
    ids = [report.id for report in survey.steps]
    if survey.running not in ids:
        return ""
    at = ids.index(survey.running)
    return f"step {at + 1} of {len(ids)}: {survey.steps[at].title or survey.running}"


def _done(survey: Survey) -> str:
    states = [report.state for report in survey.steps]
    aside = states.count("set-aside")
    done = f"{states.count('held') + states.count('at-limit')} of {len(states)} done"
    return f"{done}, {aside} set aside" if aside else done


def _ended(survey: Survey) -> str:
    if survey.aligned:
        return f"Aligned: every step is held, after {count_words(survey.touches, 'touch', 'es')}."
    short = [
        f"{report.title or report.id} ({STATES[report.state]})" for report in survey.steps if report.state != "held"
    ]
    return f"Ended, with steps that are not held: {', '.join(short)}."


def _asked(procedure: Procedure, ask: Ask) -> Asked:
    aim = ask.aim if isinstance(ask, Touch) else None
    adjuster = _adjuster(procedure, ask)
    turned = ask if isinstance(ask, Turning) else None
    return Asked(
        kind=type(ask).__name__.lower(),
        text=ask.text,
        why=ask.why,
        place=_place(ask),
        spot=adjuster.where if adjuster else "",
        ways=(turning(adjuster, "more"), turning(adjuster, "less")) if adjuster else ("", ""),
        direction=turned.direction if turned else None,
        amount=amount_words(turned.amount) if turned else "",
        turns=turned.amount if turned and turned.amount and turned.amount.unit == "turn" else None,
        unit=unit_of(ask),
        resolution=resolution_of(procedure, ask),
        aim=aim.value if aim else None,
        within=aim.within if aim else None,
        hazard=isinstance(ask, Confirm) and ask.hazard,
        can_turn=adjuster is not None,
    )


def _adjuster(procedure: Procedure, ask: Ask) -> Adjuster | None:
    if not isinstance(ask, Turning):
        return None
    return next((row for row in procedure.adjusters if row.id == ask.adjuster), None)


def _place(ask: Ask) -> str:
    if isinstance(ask, Confirm):
        return ""
    point: Point | None = ask.point
    set_at = f"set at {point_words(point)}" if point is not None else ""
    return ", ".join(part for part in (set_at, generator_words(ask.generator)) if part)


def _ways(procedure: Procedure, ask: Ask | None) -> tuple[str, ...]:
    """The ways of seeing that the running step lists; only tracking has more than one."""
    step = next((row for row in procedure.steps if ask is not None and row.id == ask.step), None)
    return step.by if isinstance(step, TrackingStep) else ()
