import contextlib
import json
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from aligner.engine import run as real_engine
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
from aligner.engine.asks import Ask, Confirm, Peak, Read, Sweep, Touch, Wand
from aligner.errors import AnswerError
from aligner.job import Engine, Job
from aligner.procedure.library import find
from aligner.procedure.reader import read_procedure
from tests import plain_engine
from tests.pipe.conversation import talk

PROCEDURE = read_procedure(find("fm-varactor"))
ENGINES: dict[str, Engine] = {"plain": plain_engine, "real": real_engine}
# Every entry waits for the disk, so that few examples must do; what is drawn is short, and shrinks well.
FEW = settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])

_numbers = st.floats(-1e3, 1e3) | st.floats(1e5, 2e8) | st.floats()
_trends = st.sampled_from(("up", "down", "same"))
_anything: st.SearchStrategy[Answer] = st.one_of(
    st.just(Done()),
    st.builds(Reading, _numbers, st.none() | _numbers, st.booleans()),
    st.builds(WandSeen, _numbers | _trends, _numbers | _trends, st.none() | _numbers),
    st.builds(SweepSeen, st.lists(st.tuples(_numbers, _numbers), max_size=5).map(tuple)),
    st.builds(Cannot, st.sampled_from(("end-of-travel", "no-reading")), st.none() | _numbers, st.none() | _numbers),
    st.builds(SetAside, st.text(max_size=10), st.booleans()),
    st.builds(SwitchWay, st.sampled_from(("resonance", "level", "wand", "stage-voltage")), st.sampled_from(("", "x"))),
    st.builds(GoTo, st.text(max_size=10), st.booleans()),
    st.builds(Undo, st.booleans(), st.booleans()),
    st.builds(Note, st.text(max_size=10)),
    st.just(Sitting()),
)
_fitting = "fitting"  # stands for an answer that the open ask takes
_moves: st.SearchStrategy[list[Answer | str]] = st.lists(st.just(_fitting) | _anything, min_size=1, max_size=8)


def fitting(ask: Ask | None) -> Answer:
    if isinstance(ask, Touch):
        return Reading(ask.aim.value)
    known: dict[type, Answer] = {
        Confirm: Done(),
        Read: Reading(400_000.0),
        Peak: Reading(-20.0),
        Wand: WandSeen("up", "down"),
        Sweep: SweepSeen(((1e6, -3.0), (1.5e6, 0.0), (2e6, -3.0))),
    }
    return known.get(type(ask), Undo())


@contextlib.contextmanager
def a_job(engine: Engine) -> Iterator[Job]:
    with tempfile.TemporaryDirectory() as folder:
        job = Job.create(PROCEDURE, "law", Path(folder), engine=engine, clock=lambda: 1000.0)
        with contextlib.closing(job):
            yield job


def tried(job: Job, move: Answer | str) -> bool:
    """Whether the job took the answer."""
    answer = fitting(job.survey.ask) if isinstance(move, str) else move
    try:
        job.answer(answer)
    except AnswerError:
        return False
    return True


def known(job: Job) -> str:
    """All that is known after the history, as text: a number that is none is not equal to itself."""
    return repr(job.survey)


engines = pytest.mark.parametrize("engine", ENGINES.values(), ids=ENGINES.keys())


@engines
@FEW
@given(moves=_moves)
def test_an_answer_that_is_refused_changes_nothing_and_one_that_is_taken_adds_one_entry(
    engine: Engine, moves: list[Answer | str]
) -> None:
    with a_job(engine) as job:
        for move in moves:
            survey, history, file = job.survey, job.history, job.path.read_bytes()
            if tried(job, move):
                assert job.history.entries[:-1] == history.entries
                assert job.path.read_bytes() != file
            else:
                assert job.history is history
                assert job.survey is survey
                assert job.path.read_bytes() == file


@engines
@FEW
@given(moves=_moves, cuts=st.sets(st.integers(0, 7)))
def test_reading_back_equals_going_on_wherever_the_job_is_cut(
    engine: Engine, moves: list[Answer | str], cuts: set[int]
) -> None:
    with a_job(engine) as live, a_job(engine) as first:
        cut = first
        for place, move in enumerate(moves):
            if place in cuts:
                cut.close()
                cut = Job.open(cut.path, engine=engine, clock=lambda: 1000.0)
            assert tried(live, move) == tried(cut, move)
            assert cut.history.entries == live.history.entries
            assert cut.history.digest == live.history.digest
            assert known(cut) == known(live)
        cut.close()


@engines
@FEW
@given(moves=_moves)
def test_a_number_of_an_ask_is_never_used_for_another(engine: Engine, moves: list[Answer | str]) -> None:
    with a_job(engine) as job:
        shown: dict[int, Ask] = {}
        for move in moves:
            ask = job.survey.ask
            if ask is not None:
                assert shown.setdefault(ask.id, ask) == ask
            tried(job, move)


_PLAIN: tuple[dict[str, object], ...] = (
    {"done": True},
    {"reading": 400_000.0},
    {"reading": 1e12},
    {"reading": True},
    {"none": 0.0, "ferrite": 1.0, "brass": -1.0},
    {"points": [[1, 2], [2, 3], [3, 4]]},
    {"set_aside": "why not"},
    {"cannot": "no-reading"},
    {"undo": True},
    {"note": "x"},
    {"by": "level"},
)
_objects = st.builds(
    lambda plain, number: json.dumps({"id": number, **plain}).encode() + b"\n",
    st.sampled_from(_PLAIN),
    st.integers(0, 9),
)
_garbage = st.binary(max_size=30).map(lambda raw: raw.replace(b"\n", b"") + b"\n")


@engines
@FEW
@given(lines=st.lists(_objects | _garbage, max_size=10))
def test_whatever_comes_in_each_line_brings_exactly_one_turn(engine: Engine, lines: list[bytes]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        spoken = talk("fm-varactor", Path(folder), *lines, engine=engine)
        for before, after in zip(spoken.turns, spoken.turns[1:], strict=False):
            if after[0].get("tell") == "problem":
                assert after[-1] == before[-1]
        again = talk(spoken.job["file"], Path(folder), engine=engine)
        assert again.last == spoken.last
