import subprocess
import sys

import pytest

from aligner.engine.answers import Answer, Cannot, Done, Reading, SweepSeen, WandSeen
from aligner.engine.asks import Aim, Point, Read, Touch
from aligner.engine.history import History
from aligner.engine.run import survey
from aligner.procedure.model import Procedure
from aligner.rehearsal.door import answered, asked
from aligner.rehearsal.runner import SetEnd, Tally, lead
from aligner.rehearsal.set_file import demo_set
from tests.rehearsal.conftest import Drawn


def test_the_set_knows_nothing_of_estimate_and_engine() -> None:
    code = (
        "import sys, aligner.rehearsal.set, aligner.rehearsal.truth, aligner.rehearsal.paper_way\n"
        "print([name for name in sys.modules if name.startswith(('aligner.estimate', 'aligner.engine'))])"
    )
    seen = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert seen.stdout.strip() == "[]"


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ({"id": 1, "done": True}, Done()),
        ({"id": 1, "reading": 98.5e6}, Reading(98.5e6)),
        ({"id": 1, "reading": 98.5e6, "turns": -0.25, "insist": True}, Reading(98.5e6, -0.25, insist=True)),
        ({"id": 1, "cannot": "end-of-travel", "reading": 1.0, "turns": 2.0}, Cannot("end-of-travel", 1.0, 2.0)),
        ({"id": 1, "cannot": "no-reading"}, Cannot("no-reading")),
        ({"id": 1, "none": 1.0, "ferrite": 2.0, "brass": 0.5}, WandSeen(2.0, 0.5, 1.0)),
        ({"id": 1, "ferrite": "up", "brass": "down"}, WandSeen("up", "down")),
        ({"id": 1, "points": [[1.0, 2.0], [3.0, 4.0]]}, SweepSeen(((1.0, 2.0), (3.0, 4.0)))),
    ],
)
def test_plain_answers_become_what_they_mean(said: dict[str, object], meant: Answer) -> None:
    assert answered(said) == meant


def test_an_ask_goes_out_as_the_pipe_prints_it() -> None:
    plain = asked(Read(id=3, step="coverage", text="Read.", quantity="frequency", point=Point(volts=2.0)))
    assert plain["ask"] == "read"
    assert plain["point"] == {"volts": 2.0}
    assert plain["generator"] is None


def test_a_touch_is_one_visit_with_no_other_adjuster_or_point_between() -> None:
    def touch(adjuster: str, volts: float) -> Touch:
        aim = Aim("frequency", 1.0, 0.1)
        return Touch(id=1, step="a", text="", adjuster=adjuster, circuit="c", point=Point(volts=volts), aim=aim)

    def read(volts: float) -> Read:
        return Read(id=1, step="a", text="", quantity="frequency", circuit="c", point=Point(volts=volts))

    tally = Tally()
    for ask in (touch("x", 2.0), read(2.0), touch("x", 2.0), read(3.0), touch("x", 2.0), touch("y", 2.0)):
        tally.count(ask)
    assert tally.touches == {"c": 3}
    assert tally.readings == {"c": 2}
    tally.count(read(3.0), seen=False)
    assert tally.readings == {"c": 2}


@pytest.mark.parametrize("name", ["fm", "mw"])
def test_the_demo_sets_are_well_off_and_can_be_aligned(name: str, request: pytest.FixtureRequest) -> None:
    procedure: Procedure = request.getfixturevalue(name)
    end = SetEnd(0)
    virtual = demo_set(procedure)
    known = survey(procedure, lead(procedure, virtual, None, end))
    assert end.finished
    assert known.aligned


def test_leading_a_set_ends_with_a_finished_job(fm: Procedure, drawn: Drawn) -> None:
    assert survey(fm, History()).ask is not None
    end = SetEnd(0)
    lead(fm, drawn(fm, 0), None, end)
    assert end.finished
    assert sum(end.touches.values()) > 0
