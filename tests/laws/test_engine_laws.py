"""Laws of the engine over random histories, as a person, an instrument or a script could make them."""

import math
import sys
from collections.abc import Iterator

import msgspec
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from aligner.engine.answers import (
    Answer,
    Cannot,
    Done,
    GoTo,
    Note,
    Reading,
    SetAside,
    Sitting,
    SwitchWay,
    Undo,
    WandSeen,
)
from aligner.engine.asks import Ask, Confirm, Single, Touch
from aligner.engine.bench import Bench
from aligner.engine.history import Entry, History
from aligner.engine.ledger import ledger_of
from aligner.engine.run import entry_for, next_ask, survey
from aligner.engine.survey import Survey
from aligner.errors import AnswerError
from aligner.procedure.model import Procedure
from tests.engine.odd_sets import ODD
from tests.small_sets import FM, MW, read

LONGEST = 40
# 12 in the checks; as many more as another profile says.
QUICK = settings(max_examples=settings().max_examples // 8, suppress_health_check=[HealthCheck.too_slow])
# What nobody reads on a bench, but a script or a slip of the finger may send, and insist on. Frequencies that are not
# above nought, and numbers beyond all measure, have tests of their own among the open faults.
ABSURD = (1e-3, 0.3, 7.0, 455e3, 1e9, 1e12, 3e14)
ABSURD_LEVELS = (-300.0, -90.0, 0.0, 60.0, 300.0)
_LEVEL = -12.0
NUMBER_OF_TURNS = st.one_of(
    st.none(), st.sampled_from([0.0, 1.0, -1.0, 0.125, 60.0, -60.0, 1e-9]), st.floats(-4.0, 4.0)
)
OTHER: st.SearchStrategy[Answer] = st.one_of(
    st.builds(Undo, st.booleans(), st.booleans()),
    st.just(Note("a word")),
    st.just(Sitting()),
    st.builds(SetAside, st.just("a reason"), st.booleans()),
    st.builds(
        SwitchWay,
        st.sampled_from(["resonance", "level", "wand", "stage-voltage"]),
        st.sampled_from(["", "antenna"]),
        st.booleans(),
    ),
    st.builds(GoTo, st.sampled_from(["antenna", "final", "coverage", "nowhere"]), st.booleans()),
    st.just(Done()),
    st.just(WandSeen("up", "down")),
    st.just(Reading(float("nan"))),
)


def near(procedure: Procedure, ask: Single) -> float:
    """What an honest instrument might show there, roughly."""
    quantity = ask.aim.quantity if isinstance(ask, Touch) else ask.quantity
    if isinstance(ask, Touch):
        return ask.aim.value
    if quantity in ("level", "volts"):
        return _LEVEL if quantity == "level" else 5.0
    band = procedure.bands[0]
    return math.sqrt(band.low_hz * band.high_hz)


@st.composite
def readings(draw: st.DrawFn, procedure: Procedure, ask: Single) -> Reading:
    about = near(procedure, ask)
    value = draw(
        st.one_of(
            st.floats(0.97, 1.03).map(lambda factor: about * factor),
            st.sampled_from([0.1, 0.5, 2.0, 10.0, 1e3, 1e-3]).map(lambda factor: about * factor),
            st.sampled_from(ABSURD_LEVELS if about == _LEVEL else ABSURD),
        )
    )
    return Reading(value, draw(NUMBER_OF_TURNS), draw(st.booleans()))


@st.composite
def answers(draw: st.DrawFn, procedure: Procedure, ask: Ask | None) -> Answer:
    """One answer to the open ask: mostly one that fits it, often one that should not be given."""
    if ask is None or draw(st.integers(0, 9)) < 2:
        return draw(OTHER)
    if isinstance(ask, Single):
        if draw(st.integers(0, 9)) == 0:
            about = near(procedure, ask)
            reading = draw(st.one_of(st.none(), st.floats(0.95, 1.05).map(lambda factor: about * factor)))
            return Cannot(draw(st.sampled_from(["end-of-travel", "no-reading"])), reading, draw(NUMBER_OF_TURNS))
        return draw(readings(procedure, ask))
    return Done()


def walk(data: st.DataObject, procedure: Procedure, length: int = LONGEST) -> Iterator[tuple[History, Entry | None]]:
    """Every history of a random job, with the entry that comes next (None where the answer was refused)."""
    history = History()
    for n in range(length):
        answer = data.draw(answers(procedure, survey(procedure, history).ask))
        try:
            entry = entry_for(procedure, history, answer, float(n), "test")
        except AnswerError:
            yield history, None
            continue
        yield history, entry
        history = history.with_entry(entry)
    yield history, None


def check_sound(known: Survey) -> None:
    """Nothing that is told is not finite, and what is asked can be said as JSON and read back."""
    for report in known.steps:
        for number in (report.error, report.tolerance, report.plus_minus):
            assert number is None or math.isfinite(number), report
    if known.ask is None:
        return
    assert msgspec.json.decode(msgspec.json.encode(known.ask), type=Ask) == known.ask
    assert known.ask.text
    if isinstance(known.ask, Touch):
        aim = known.ask.aim
        assert math.isfinite(aim.value)
        assert aim.within > 0.0
        assert aim.quantity in ("level", "turns") or aim.value > 0.0


@QUICK
@given(st.data(), st.sampled_from(sorted(ODD)))
def test_no_history_breaks_the_survey_and_what_it_tells_is_finite(data: st.DataObject, name: str) -> None:
    procedure = read(ODD[name])
    for history, _ in walk(data, procedure):
        check_sound(survey(procedure, history))


@QUICK
@given(st.data(), st.sampled_from([FM, MW]))
def test_no_history_makes_the_fit_return_numbers_that_are_not_finite(data: st.DataObject, text: str) -> None:
    procedure = read(text)
    for history, _ in walk(data, procedure, 24):
        bench = Bench(procedure, ledger_of(procedure, history))
        for circuit in bench.belief("").circuits.values():
            assert np.isfinite(circuit.fit.mean).all()
            assert np.isfinite(circuit.fit.covariance).all()
            assert (np.diag(circuit.fit.covariance) > -1e-12).all()


@QUICK
@given(st.data(), st.sampled_from([FM, MW]))
def test_replay_equals_live(data: st.DataObject, text: str) -> None:
    procedure = read(text)
    live = [(history, survey(procedure, history)) for history, _ in walk(data, procedure)]
    whole = live[-1][0]
    anew = History()
    shown = {history.digest: known for history, known in live}
    for entry in whole.entries:
        assert survey(procedure, anew) == shown[anew.digest]
        anew = anew.with_entry(msgspec.json.decode(msgspec.json.encode(entry), type=Entry))
    assert survey(procedure, anew) == shown[whole.digest]


@QUICK
@given(st.data())
def test_the_next_ask_does_not_depend_on_what_was_computed_before(data: st.DataObject) -> None:
    procedure = read(FM)
    histories = [history for history, _ in walk(data, procedure, 16)]
    forth = [next_ask(procedure, history) for history in histories]
    _forget()
    back = [next_ask(procedure, history) for history in reversed(histories)]
    assert forth == back[::-1]


def _forget() -> None:
    """Empty every cache between the history and the ask."""
    for name, module in tuple(sys.modules.items()):
        if name.startswith(("aligner.engine", "aligner.estimate")):
            for thing in vars(module).values():
                if hasattr(thing, "cache_clear"):
                    thing.cache_clear()


@QUICK
@given(st.data(), st.sampled_from([FM, MW]))
def test_an_answer_that_is_refused_changes_nothing(data: st.DataObject, text: str) -> None:
    procedure = read(text)
    before: tuple[str, Survey] | None = None
    for history, entry in walk(data, procedure, 24):
        now = history.digest, survey(procedure, history)
        assert before is None or before == now
        before = now if entry is None else None


@QUICK
@given(st.data(), st.sampled_from(sorted(ODD)))
def test_numbers_of_asks_only_rise_and_stay_while_the_ask_stays_open(data: st.DataObject, name: str) -> None:
    procedure = read(ODD[name])
    highest, shown = 0, ""
    for history, _ in walk(data, procedure, 24):
        ask = survey(procedure, history).ask
        if ask is None:
            continue
        text = msgspec.json.encode(ask).decode()
        assert ask.id > highest or (ask.id == highest and text == shown)
        highest, shown = ask.id, text


@QUICK
@given(st.data())
def test_a_doubtful_answer_leaves_the_ask_and_the_model_as_they_were(data: st.DataObject) -> None:
    procedure = read(MW)
    for history, entry in walk(data, procedure):
        if entry is None or not entry.doubt:
            continue
        after = survey(procedure, history.with_entry(entry))
        before = survey(procedure, history)
        assert after.ask == before.ask
        assert after.steps == before.steps
        assert (after.touches, after.readings) == (before.touches, before.readings)


@QUICK
@given(st.data())
def test_undoing_everything_where_nothing_moved_is_the_beginning_again(data: st.DataObject) -> None:
    procedure = read(FM)
    history = [at for at, _ in walk(data, procedure, 16)][-1]
    for _ in range(40):
        try:
            history = history.with_entry(entry_for(procedure, history, Undo(moved=False), 99.0, "test"))
        except AnswerError:
            break
    first, again = survey(procedure, History()), survey(procedure, history)
    assert first.ask is not None
    assert again.ask is not None
    # Touches that an undo has left as movements of unknown size stay: what the hands did is not taken back.
    if not any(isinstance(e.answer, Undo) and (e.answer.moved or e.answer.turned) for e in history.entries):
        assert msgspec.structs.replace(again.ask, id=first.ask.id) == first.ask
        assert [report.state for report in again.steps] == [report.state for report in first.steps]


@QUICK
@given(st.data())
def test_touches_and_readings_never_fall(data: st.DataObject) -> None:
    procedure = read(FM)
    before = (0, 0)
    for history, _ in walk(data, procedure):
        known = survey(procedure, history)
        now = (known.touches, known.readings)
        assert now[0] >= before[0]
        assert now[1] >= before[1]
        before = now


@pytest.mark.parametrize("name", sorted(ODD))
def test_a_cautious_answer_is_always_open(name: str) -> None:
    """Whatever is asked first, it can be left with a note, and the step (a caution apart) set aside."""
    procedure = read(ODD[name])
    ask = survey(procedure, History()).ask
    assert ask is not None
    assert entry_for(procedure, History(), Note("later"), 0.0, "test").ask == ask
    if not (isinstance(ask, Confirm) and ask.hazard):
        assert entry_for(procedure, History(), SetAside("later"), 0.0, "test").ask == ask
