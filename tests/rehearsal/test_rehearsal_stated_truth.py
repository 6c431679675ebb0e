"""What the guide states at the end of a job, and the truth it is held against."""

import numpy as np
import pytest

from aligner.engine.stated import stated
from aligner.procedure.model import CoverageStep, Procedure, TrackingStep
from aligner.rehearsal.paper_way import PaperWay
from aligner.rehearsal.runner import Interval, SetEnd, lead
from aligner.rehearsal.set import VirtualSet
from aligner.rehearsal.stated_truth import StatedTruth
from aligner.rehearsal.truth import Truth
from tests.rehearsal.conftest import Drawn

WILD = 6.0  # standard errors: by chance nothing gets so far


def test_the_true_turn_is_what_turning_the_screw_does(fm: Procedure, drawn: Drawn) -> None:
    virtual = drawn(fm, 0)
    hand = virtual.hand
    told = StatedTruth(virtual).value("antenna", "turn", 98e6, "antenna-coil")
    place = np.array([98e6])
    hand.turn("antenna-coil", 0.2)  # past the play of the thread, so that the next turn moves the core
    before = float(Truth(virtual).tracking_errors_hz("antenna", place)[0])
    hand.turn("antenna-coil", 0.05)
    after = float(Truth(virtual).tracking_errors_hz("antenna", place)[0])
    assert told == pytest.approx((after - before) / 0.05, rel=0.2)  # a core's pull changes by so much in a quarter turn


def test_true_errors_are_those_that_the_steps_are_judged_by(mw: Procedure, drawn: Drawn) -> None:
    virtual = drawn(mw, 0)
    truth = StatedTruth(virtual)
    errors = [truth.value("coverage", "error", hz, "") for hz in (600e3, 1000e3, 1400e3)]
    judged = Truth(virtual).judge(next(step for step in mw.steps if step.id == "coverage"))  # type: ignore[arg-type]
    assert max(abs(error or 0.0) for error in errors) == pytest.approx(judged.error)


def test_what_has_no_truth_is_not_compared(fm: Procedure, drawn: Drawn) -> None:
    assert StatedTruth(drawn(fm, 0)).value("connect", "error", 98e6, "") is None


def test_everything_stated_after_a_job_lies_near_the_truth(mw: Procedure, drawn: Drawn) -> None:
    virtual = drawn(mw, 1)
    values = stated(mw, lead(mw, virtual, None, SetEnd(1)))
    assert {value.about for value in values} >= {"error", "turn"}
    truth = StatedTruth(virtual)
    for value in values:
        true = truth.value(value.step, value.about, value.at_hz, value.adjuster)
        assert true is not None
        assert abs(value.value - true) <= WILD * value.sd


@pytest.mark.parametrize(("off", "held"), [(1.9, True), (-1.9, True), (2.0, False), (-2.0, False)])
def test_a_95_percent_interval_is_1_96_standard_errors_either_way(off: float, *, held: bool) -> None:
    assert Interval("s", "error", off).holds is held


def test_whether_a_step_is_aligned_is_as_it_is_judged(fm: Procedure, mw: Procedure, drawn: Drawn) -> None:
    told = []
    for procedure, index in ((fm, 0), (fm, 1), (mw, 0), (mw, 1)):
        virtual = drawn(procedure, index)
        for hand in (virtual, _by_paper(procedure, drawn(procedure, index))):
            for step in procedure.steps:
                if isinstance(step, CoverageStep | TrackingStep):
                    truth = Truth(hand)
                    told.append(truth.aligned(step))
                    assert told[-1] == truth.judge(step).aligned
    assert {True, False} == set(told)


def _by_paper(procedure: Procedure, virtual: VirtualSet) -> VirtualSet:
    PaperWay(procedure, virtual).run()
    return virtual
