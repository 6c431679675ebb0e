"""Whether an answer fits the open ask; where it does not, an AnswerError says what would."""

import math
from collections.abc import Sequence

from aligner.engine.answers import (
    Answer,
    Cannot,
    Done,
    GoTo,
    Note,
    Reading,
    SetAside,
    Sitting,
    SweepSeen,
    SwitchWay,
    Undo,
    WandSeen,
)
from aligner.engine.asks import Ask, Confirm, Peak, Read, Sweep, Touch, Turning, Wand
from aligner.engine.history import History, live_entries, undoable, undone
from aligner.engine.instruments import instruments_of
from aligner.engine.order import check_going
from aligner.errors import AnswerError
from aligner.procedure.model import Procedure, TrackingStep

_FITTING: dict[type, tuple[type, ...]] = {
    Confirm: (Done,),
    Read: (Reading, Cannot),
    Touch: (Reading, Cannot),
    Peak: (Reading, Cannot),
    Wand: (WandSeen, Cannot),
    Sweep: (SweepSeen, Cannot),
}
_WORDS: dict[type, str] = {
    Confirm: "a confirmation",
    Read: "a reading",
    Touch: "a reading (and the turns, where counted)",
    Peak: "the reading at the peak (and the turns, where counted)",
    Wand: "three levels, or which way the level went with each end of the wand",
    Sweep: "pairs of frequency and value",
}
_MOST_TURNS = 60.0
_LEAST_HZ, _MOST_HZ = 1.0, 1e12
_MOST_LEVEL = 1e4
_LEAST_SWEEP, _MOST_SWEEP = 3, 10_000


def check_answer(procedure: Procedure, history: History, ask: Ask | None, answer: Answer) -> None:
    """Raises AnswerError where the answer cannot be recorded."""
    if getattr(answer, "turned", False) and not isinstance(ask, Turning):
        raise AnswerError("no adjuster is being turned for this ask: leave \u201cturned\u201d out")
    match answer:
        case Undo():
            if not any(
                undoable(e) and e.seq not in undone(history.entries) for e in history.entries if not _is_undo(e.answer)
            ):
                raise AnswerError("there is nothing to take back")
        case Note():
            if not answer.text.strip():
                raise AnswerError("an empty note: write a word or two")
        case Sitting():
            return
        case SwitchWay():
            _check_way(procedure, answer)
        case GoTo():
            check_going(procedure, live_entries(history.entries), "" if ask is None else ask.step, answer.step)
        case SetAside():
            _check_set_aside(ask, answer)
        case _:
            _check_fits(procedure, ask, answer)


def _is_undo(answer: Answer) -> bool:
    return isinstance(answer, Undo)


def _check_way(procedure: Procedure, answer: SwitchWay) -> None:
    steps = [s for s in procedure.steps if isinstance(s, TrackingStep)]
    named = [s for s in steps if answer.step in ("", s.id)]
    if not named:
        raise AnswerError(
            f"there is no tracking step \u201c{answer.step}\u201d; "
            f"tracking steps here: {_listed([s.id for s in steps])}"
        )
    if not any(answer.way in s.by for s in named):
        ways = sorted({way for s in named for way in s.by})
        raise AnswerError(f"the procedure does not list the way \u201c{answer.way}\u201d; ways here: {_listed(ways)}")


def _check_set_aside(ask: Ask | None, answer: SetAside) -> None:
    if ask is None:
        raise AnswerError("the job is finished; there is no step to set aside")
    if isinstance(ask, Confirm) and ask.hazard:
        raise AnswerError("cautions cannot be set aside: confirm that you have read them, or end the sitting")
    if not answer.reason.strip():
        raise AnswerError("a step is set aside with a reason: say in a few words why")


def _check_fits(procedure: Procedure, ask: Ask | None, answer: Answer) -> None:
    if ask is None:
        raise AnswerError("the job is finished; nothing is asked")
    if not isinstance(answer, _FITTING[type(ask)]):
        raise AnswerError(f"asked for {_WORDS[type(ask)]}, and this is something else")
    match answer:
        case Reading():
            _check_value(procedure, ask, answer.value)
            _check_turns(procedure, ask, answer.turns)
        case Cannot():
            _check_cannot(procedure, ask, answer)
        case WandSeen():
            for level in (answer.none, answer.ferrite, answer.brass):
                if isinstance(level, float | int):
                    _finite(level, "the level")
            _check_wand(answer)
        case SweepSeen():
            _check_sweep(answer)
        case _:
            return


def _check_cannot(procedure: Procedure, ask: Ask, answer: Cannot) -> None:
    if answer.why == "end-of-travel" and not isinstance(ask, Turning):
        raise AnswerError("nothing is turned for this ask, so nothing can be at its end of travel")
    if answer.why == "end-of-travel" and answer.turned:
        raise AnswerError("an end of travel says by itself that the adjuster was turned: leave \u201cturned\u201d out")
    if answer.reading is not None:
        _check_value(procedure, ask, answer.reading)
    _check_turns(procedure, ask, answer.turns)


def _check_turns(procedure: Procedure, ask: Ask, turns: float | None) -> None:
    if turns is None:
        return
    if not isinstance(ask, Turning):
        raise AnswerError("nothing is turned for this ask: leave the turns out")
    _finite(turns, "the turns")
    if not procedure.adjuster(ask.adjuster).counted:
        raise AnswerError(f"the turns of {ask.adjuster} cannot be counted, says the procedure: leave them out")
    if abs(turns) > _MOST_TURNS:
        raise AnswerError(f"{turns:g} turns are more than any adjuster has: give the net turns since the ask was shown")


def _check_wand(answer: WandSeen) -> None:
    numbers = [isinstance(x, float | int) for x in (answer.ferrite, answer.brass)]
    if all(numbers) != any(numbers) or (all(numbers) and answer.none is None):
        raise AnswerError(
            "give all three levels (none, ferrite, brass) in dB, or up, down or same for both ferrite and brass"
        )


def _check_sweep(answer: SweepSeen) -> None:
    if not _LEAST_SWEEP <= len(answer.points) <= _MOST_SWEEP:
        raise AnswerError(f"a sweep has {_LEAST_SWEEP} to {_MOST_SWEEP} points; this one has {len(answer.points)}")
    for hz, value in answer.points:
        _finite(hz, "a frequency of the sweep")
        _finite(value, "a value of the sweep")
        if hz <= 0.0:
            raise AnswerError(
                f"a frequency of {hz:g} Hz cannot be; a sweep is made of pairs of frequency in Hz and value"
            )


def _check_value(procedure: Procedure, ask: Ask, value: float) -> None:
    """What no instrument can show is refused; what is only unlikely is questioned elsewhere."""
    _finite(value, "the reading")
    quantity = ask.aim.quantity if isinstance(ask, Touch) else getattr(ask, "quantity", "")
    if quantity == "turns":
        _check_turns(procedure, ask, value)
    elif quantity in ("frequency", "resonance"):
        own = instruments_of(procedure).oscillator_hz(value) if quantity == "frequency" else value
        if not (value > 0.0 and _LEAST_HZ < own < _MOST_HZ):
            raise AnswerError(f"a frequency of {value:g} Hz cannot be: read the instrument again")
    elif abs(value) > _MOST_LEVEL:
        raise AnswerError(f"{value:g} is beyond what any meter shows: levels are in dB, voltages in V")


def _finite(value: float, what: str) -> None:
    if not math.isfinite(value):
        raise AnswerError(f"{what} is no finite number")


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names) or "none"
