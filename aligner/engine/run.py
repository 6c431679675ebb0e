"""The next ask as a pure function of the procedure and the history.

Theory of operation
-------------------
A job is a list of entries that is only ever added to. Everything else is computed from it here. `ledger` reads the
entries once: movements and sightings of the circuits, what was confirmed, set aside, switched. `estimate` makes a
belief of the movements and sightings. Each step kind has one module with one function, `work(bench, step)`, that gives
the step's report and the ask that would bring it on. `survey` puts them together:

- Steps are worked in file order. The frontier is the first step that has not been passed; a step has been passed when
  an ask of a later step was answered, and that is read from the asks as they were recorded, never worked out anew.
- The person may go to another step first: that changes the order of the steps from there on (`order`).
- When the frontier has nothing left to ask, passed steps that a later touch has disturbed are looked at again, upstream
  first; then the next step in the file becomes the frontier.
- Every open ask gets a number that is never used again. It keeps the number it had when the newest entry left it open
  (a note, a doubt, a new sitting); otherwise it gets the next.

`entry_for` checks an answer against the open ask, questions it where it cannot be right, and gives the entry to keep.
Nothing here knows a clock, a screen or a file.
"""

from dataclasses import replace
from functools import lru_cache

import msgspec

from aligner.engine import (
    coverage,
    detector,
    if_peak,
    if_sweep,
    image,
    prepare,
    read_back,
    seal,
    tracking,
    trap,
    warm_up,
)
from aligner.engine.answers import (
    Answer,
    Cannot,
    Done,
    Reading,
    Remark,
    SetAside,
    SweepSeen,
    SwitchWay,
    Undo,
    WandSeen,
)
from aligner.engine.asks import Ask, Confirm, Finished, GeneratorSetting
from aligner.engine.bench import SURE, Bench, Outcome, bench_of
from aligner.engine.doubt import agrees, doubt_of
from aligner.engine.fitness import check_answer
from aligner.engine.history import Entry, History
from aligner.engine.order import ordered, turned_at
from aligner.engine.survey import StepReport, Survey
from aligner.procedure.model import (
    CoverageStep,
    DetectorStep,
    IfPeakStep,
    IfSweepStep,
    ImageStep,
    PrepareStep,
    Procedure,
    ReadBackStep,
    SealStep,
    Step,
    TrackingStep,
    TrapStep,
    WarmUpStep,
)

_Answered = Done | Reading | WandSeen | SweepSeen | Cannot | SetAside


def next_ask(procedure: Procedure, history: History) -> Ask | Finished:
    """What to do next, or that the job is finished."""
    known = survey(procedure, history)
    return known.ask if known.ask is not None else Finished(known.aligned)


def survey(procedure: Procedure, history: History) -> Survey:
    """Everything computed from a history; the newest ones are kept, by the digests of procedure and history."""
    return _survey(_Key(procedure, history))


class _Key:
    """A procedure and a history, equal where their digests are."""

    def __init__(self, procedure: Procedure, history: History) -> None:
        self.procedure = procedure
        self.history = history
        self._digests = (procedure.digest or procedure.text, history.digest)

    def __hash__(self) -> int:
        return hash(self._digests)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and self._digests == other._digests


@lru_cache(maxsize=16)
def _survey(key: _Key) -> Survey:
    bench = bench_of(key.procedure, key.history)
    outcomes, ask = _walk(bench)
    reports = tuple(o.report for o in outcomes)
    doubt = key.history.entries[-1].doubt if key.history.entries else ""
    return Survey(
        ask=None if ask is None else msgspec.structs.replace(ask, id=_number(key.history, ask)),
        steps=reports,
        doubt=doubt,
        running=ask.step if ask is not None else "",
        aligned=all(r.state == "held" for r in reports),
        touches=bench.ledger.touches,
        readings=bench.ledger.readings,
    )


def _walk(bench: Bench) -> tuple[list[Outcome], Ask | None]:
    """The outcome of every step, and the ask of the one to work on."""
    steps = ordered(bench.procedure, bench.ledger.entries)
    reached = _reached(bench, steps)
    outcomes: list[Outcome] = []
    frontier_ask: Ask | None = None
    for n, step in enumerate(steps):
        if step.id in bench.ledger.set_aside:
            outcomes.append(Outcome(_blank(step, "set-aside", bench.ledger.set_aside[step.id])))
        elif frontier_ask is not None:
            outcomes.append(Outcome(_blank(step, "to-do", "")))
        else:
            outcome = _dressed(bench, step, _reckoned(bench, step, _work(bench, step, passed=n < reached)))
            outcomes.append(outcome)
            if n >= reached:
                frontier_ask = _frontier(outcomes, n, reached)
    hazard = prepare.hazard_ask(bench)
    place = {step.id: n for n, step in enumerate(bench.procedure.steps)}
    told = sorted(outcomes, key=lambda outcome: place[outcome.report.id])
    return told, hazard or frontier_ask or next((o.ask for o in outcomes if o.ask is not None), None)


def _frontier(outcomes: list[Outcome], n: int, reached: int) -> Ask | None:
    """The ask of the step just looked at; where it has none, that of a disturbed one before it; else None: go on."""
    if n == reached and outcomes[n].ask is not None and outcomes[n].report.state != "disturbed":
        return outcomes[n].ask
    disturbed = next((o.ask for o in outcomes[:n] if o.ask is not None), None)
    return disturbed or outcomes[n].ask


def _reached(bench: Bench, steps: tuple[Step, ...]) -> int:
    """Index of the last step of which an ask was answered: all before it have been passed.

    What stood open when the person went to another step, and what came after, counts from then on only.
    """
    order = {step.id: n for n, step in enumerate(steps)}
    since, ahead = turned_at(bench.procedure, bench.ledger.entries)
    least = order[ahead] if ahead else 0
    answered = [(e.seq, order[e.ask.step]) for e in bench.ledger.entries if _answers_ask(e) and e.ask]
    return max((n for seq, n in answered if seq > since or n < least), default=0)


def _answers_ask(entry: Entry) -> bool:
    return isinstance(entry.answer, _Answered)


def _work(bench: Bench, step: Step, *, passed: bool) -> Outcome:
    """One step's own module; a new step kind is one more line here."""
    match step:
        case PrepareStep():
            return prepare.work(bench, step)
        case WarmUpStep():
            return warm_up.work(bench, step, passed=passed)
        case IfPeakStep():
            return if_peak.work(bench, step, passed=passed)
        case IfSweepStep():
            return if_sweep.work(bench, step, passed=passed)
        case TrapStep():
            return trap.work(bench, step, passed=passed)
        case DetectorStep():
            return detector.work(bench, step, passed=passed)
        case CoverageStep():
            return coverage.work(bench, step, passed=passed)
        case TrackingStep():
            return tracking.work(bench, step, passed=passed)
        case ImageStep():
            return image.work(bench, step, passed=passed)
        case SealStep():
            return seal.work(bench, step, passed=passed)
        case ReadBackStep():
            return read_back.work(bench, step, passed=passed)


def _reckoned(bench: Bench, step: Step, outcome: Outcome) -> Outcome:
    """The outcome with the IF that it reckons with named, where a sweep has found it."""
    found = bench.intermediate
    if found is None or not isinstance(step, CoverageStep | TrackingStep | ImageStep | ReadBackStep):
        return outcome
    words = found.words(bench.procedure.intermediate_hz)
    ask, report = outcome.ask, outcome.report
    if report.plus_minus is not None and isinstance(step, CoverageStep):  # what is received is that much less sure
        report = replace(report, plus_minus=round(SURE * bench.received_sd_hz(report.plus_minus / SURE), 1))
    if ask is not None:
        ask = msgspec.structs.replace(ask, why=f"{ask.why} ({words}.)".strip())
    return Outcome(replace(report, why=f"{report.why}; {words}" if report.why else words), ask)


def _dressed(bench: Bench, step: Step, outcome: Outcome) -> Outcome:
    """The outcome with the ask's generator coupled as its step says, and the band named where there are several."""
    ask = outcome.ask
    if ask is None or isinstance(ask, Confirm):
        return outcome
    how, band = getattr(step, "generator", None), getattr(step, "band", "")
    if how is not None and ask.generator is not None:
        coupled = GeneratorSetting(ask.generator.hz, how.modulation, how.into, how.through)
        ask = msgspec.structs.replace(ask, generator=coupled)
    if band and len(bench.procedure.bands) > 1:
        ask = msgspec.structs.replace(ask, text=f"Band switch to \u201c{band}\u201d. {ask.text}")
    return replace(outcome, ask=ask)


def _blank(step: Step, state: str, why: str) -> StepReport:
    return StepReport(step.id, step.kind, step.title, state, why)  # type: ignore[arg-type]


def _number(history: History, ask: Ask) -> int:
    """The ask's number: the one it had when the newest entry left it open, else one that was never used."""
    numbers = [e.ask.id for e in history.entries if e.ask is not None]
    if history.entries:
        last = history.entries[-1]
        open_still = bool(last.doubt) or isinstance(last.answer, Remark | SwitchWay | Undo)
        if last.ask is not None and open_still and msgspec.structs.replace(ask, id=last.ask.id) == last.ask:
            return last.ask.id
    return max(numbers, default=0) + 1


def entry_for(procedure: Procedure, history: History, answer: Answer, at_s: float, version: str) -> Entry:
    """The entry to keep for an answer to the open ask; AnswerError where the answer does not fit, and nothing changes.

    A questioned answer has `doubt` set: it is kept for the record, and the ask stays open.
    """
    ask = survey(procedure, history).ask
    check_answer(procedure, history, ask, answer)
    entry = Entry(seq=len(history.entries) + 1, at_s=at_s, version=version, ask=ask, answer=answer)
    if ask is None or _repeated(history, ask, answer) or getattr(answer, "insist", False):
        return entry
    bench = bench_of(procedure, history)
    band = getattr(procedure.step(ask.step), "band", "")
    return msgspec.structs.replace(entry, doubt=doubt_of(bench, band, ask, answer))


def _repeated(history: History, ask: Ask, answer: Answer) -> bool:
    """Whether this answer says the same as the one that was just questioned at this ask."""
    for entry in reversed(history.entries):
        if entry.ask is None or entry.ask.id != ask.id or isinstance(entry.answer, Remark):
            if isinstance(entry.answer, Remark):
                continue
            return False
        return bool(entry.doubt) and agrees(ask, entry.answer, answer)
    return False
