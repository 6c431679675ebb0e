"""A touch that is left undone: within the tolerance that is an answer, beyond it the touch is asked for again."""

import pytest

from aligner.engine.answers import Reading
from aligner.engine.asks import Read, Touch
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM, read


def leave(talk: Conversation) -> str:
    """Answer the open touch with what the counter showed there before, and name its adjuster."""
    touch = talk.ask
    assert isinstance(touch, Touch)
    seen = [e for e in talk.history.entries if isinstance(e.ask, Read | Touch) and e.ask.point == touch.point]
    newest = seen[-1].answer
    assert isinstance(newest, Reading)
    talk.say(newest)
    return touch.adjuster


@pytest.mark.parametrize("fault", [0.0007, -0.0007])
def test_within_its_tolerance_a_circuit_is_left_as_somebody_left_it(fault: float) -> None:
    talk = Conversation(read(FM), {"oscillator": (fault, 0.0, 0.0, 0.0)})
    talk.work_until(lambda ask: isinstance(ask, Touch))
    left = []
    while talk.ask.step == "coverage":
        if isinstance(talk.ask, Touch):
            left.append(leave(talk))
        else:
            talk.honest()
    assert left
    assert len(left) == len(set(left))
    report = talk.report("coverage")
    assert report.state == "held"
    assert report.error is not None
    assert report.tolerance is not None
    assert 0.6 * report.tolerance < abs(report.error) <= report.tolerance


def test_beyond_its_tolerance_the_touch_is_asked_for_again() -> None:
    talk = Conversation(read(FM), {"oscillator": (0.01, 0.0, 0.0, 0.0)})
    talk.work_until(lambda ask: isinstance(ask, Touch))
    leave(talk)
    assert talk.report("coverage").state == "to-do"
    talk.work_to_the_end()
    assert talk.report("coverage").state == "held"
    assert abs(talk.set.hz("oscillator", 87.5e6) - 98.2e6) < 50e3
