"""Curves of a job: the error over the band before, now and after the touch, and what was read as it came."""

import re

import numpy as np
import pytest

from aligner.engine.asks import Ask, Read, Touch
from aligner.engine.curve import Curve
from aligner.engine.curves import curves
from aligner.engine.history import History
from aligner.engine.run import entry_for, survey
from aligner.procedure.library import find
from aligner.procedure.model import Procedure
from aligner.procedure.reader import read_procedure
from aligner.quantity import show
from aligner.rehearsal.door import answered, asked
from aligner.rehearsal.set_file import demo_set


def played(until: type[Ask], step: str) -> tuple[Procedure, History, Ask]:
    """The demo set aligned up to that ask of that step."""
    procedure = read_procedure(find("fm-varactor"))
    on_bench, history = demo_set(procedure), History()
    ask = survey(procedure, history).ask
    while ask is not None and not (isinstance(ask, until) and ask.step == step):
        answer = answered(on_bench.answer(asked(ask)))
        history = history.with_entry(entry_for(procedure, history, answer, 60.0 * len(history.entries), "0"))
        ask = survey(procedure, history).ask
    assert ask is not None
    return procedure, history, ask


def line(curve: Curve, role: str) -> np.ndarray:
    return np.array(next(row.points for row in curve.lines if row.role == role))


def test_before_anything_was_read_there_is_no_curve() -> None:
    procedure = read_procedure(find("fm-varactor"))
    assert curves(procedure, History(), survey(procedure, History()).ask) == ()


def test_the_error_now_goes_through_what_was_read_and_after_the_touch_through_the_aim() -> None:
    procedure, history, ask = played(Touch, "coverage")
    assert isinstance(ask, Touch)
    curve = curves(procedure, history, ask)[0]
    assert curve.name == "coverage"
    now, after = line(curve, "now"), line(curve, "after")
    for hz, error in curve.read:
        # The place of a voltage is a little uncertain (6e-5 of 118 MHz), and the curve may pass a reading by that.
        assert np.interp(hz, now[:, 0], now[:, 1]) == pytest.approx(error, abs=20e3)
    aim_hz = ask.aim.value * procedure.counter.prescaler
    wanted = 87.5e6 + procedure.intermediate_hz
    assert np.interp(87.5e6, after[:, 0], after[:, 1]) == pytest.approx(aim_hz - wanted, abs=2e3)


def test_the_second_touch_will_bring_a_circuit_inside_its_tolerance_and_the_curve_shows_it() -> None:
    procedure, history, first = played(Touch, "interstage")
    entry = entry_for(procedure, history, answered({"reading": first.aim.value}), 9e3, "0")  # type: ignore[union-attr]
    history = history.with_entry(entry)
    ask = survey(procedure, history).ask
    assert isinstance(ask, Touch)
    curve = curves(procedure, history, ask)[0]
    assert curve.name == "interstage"
    limit = line(curve, "limit")[:, 1].max()
    assert np.abs(line(curve, "now")[:, 1]).max() > limit
    assert np.abs(line(curve, "after")[:, 1]).max() < limit
    assert np.abs(line(curve, "before")[:, 1]).max() > limit


def test_sweeps_and_s_curves_are_drawn_with_their_fits_and_the_fit_runs_through_what_was_read() -> None:
    procedure = read_procedure(find("fm-varactor-full"))
    on_bench, history = demo_set(procedure), History()
    ask = survey(procedure, history).ask
    while ask is not None and ask.step != "coverage":
        answer = answered(on_bench.answer(asked(ask)))
        history = history.with_entry(entry_for(procedure, history, answer, 120.0 * len(history.entries), "0"))
        ask = survey(procedure, history).ask
    drawn = {curve.name: curve for curve in curves(procedure, history, ask)}
    assert {"warm", "sweep", "detector"} <= set(drawn)
    for name, within in (("sweep", 1.0), ("detector", 0.1)):
        curve = drawn[name]
        fit = line(curve, "now")
        read = np.array(curve.read)
        misses = np.abs(np.interp(read[:, 0], fit[:, 0], fit[:, 1]) - read[:, 1])
        # A decibel on the flanks, a tenth of a volt on the curve: what a meter and a hand leave (common practice).
        assert float(np.median(misses)) < within
        assert curve.words[0].startswith("Centre" if name == "sweep" else "Zero at")


@pytest.mark.parametrize("name", ["coverage", "interstage", "antenna"])
def test_the_greatest_error_is_that_of_the_step_at_its_points_with_its_own_spread(name: str) -> None:
    procedure, history, ask = played(Read, "final")
    report = next(row for row in survey(procedure, history).steps if row.id == name)
    [words] = next(curve for curve in curves(procedure, history, ask) if curve.name == name).words
    assert report.error is not None
    assert report.plus_minus is not None
    assert report.tolerance is not None
    grain = report.tolerance / 20
    size, spread = show(abs(report.error), "Hz", grain), show(report.plus_minus, "Hz", grain)
    assert words.startswith(f"Greatest error now at the points of the step: {size} too ")
    assert f"(95 %: ± {spread}); " in words


def test_between_the_points_of_a_coverage_it_says_how_far_off_it_may_be_and_that_nothing_is_asked_there() -> None:
    procedure, history, ask = played(Read, "final")
    curve = next(row for row in curves(procedure, history, ask) if row.name == "coverage")
    [words] = curve.words
    told = re.search(
        r"Away from its points nothing was read or is asked: there the line is sure to (\d+) kHz only\.$", words
    )
    assert told is not None
    assert float(told[1]) * 1e3 > np.abs(line(curve, "now")[:, 1]).max()


def test_where_a_signal_circuit_is_worse_in_the_band_than_at_its_points_both_are_told_with_their_places() -> None:
    procedure, history, ask = played(Read, "final")
    curve = next(row for row in curves(procedure, history, ask) if row.name == "antenna")
    now, [words] = line(curve, "now"), curve.words
    worst = int(np.abs(now[:, 1]).argmax())
    at, way = show(now[worst, 0], "Hz", 1e-3 * now[worst, 0]), "high" if now[worst, 1] > 0 else "low"
    assert " In the band: " in words
    assert words.split(" In the band: ")[1].split(" (95 %")[0].endswith(f"too {way} at {at}")
    assert f" at {at} " not in words.split(" In the band: ")[0]
