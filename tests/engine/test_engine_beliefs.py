"""What is believed in words, what else could be done, and where the job stands against the paper way."""

from dataclasses import replace

import numpy as np
import pytest

from aligner.engine.alternatives import targets_of
from aligner.engine.answers import Reading
from aligner.engine.asks import Ask, Read, Touch
from aligner.engine.beliefs import Chapter, beliefs
from aligner.engine.bench import SURE, Target, bench_of
from aligner.engine.history import History
from aligner.engine.progress import BREAK_S, progress
from aligner.engine.run import entry_for, survey
from aligner.engine.stated import turn_hz
from aligner.estimate.belief import Belief
from aligner.procedure.library import find
from aligner.procedure.model import Procedure, TrackingStep
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.door import answered, asked
from aligner.rehearsal.set_file import demo_set


def played(until: type[Ask] | None, step: str = "", every_s: float = 60.0) -> tuple[Procedure, History]:
    """The demo set aligned up to that ask of that step, or to its end."""
    procedure = read_procedure(find("fm-varactor"))
    on_bench, history = demo_set(procedure), History()
    ask = survey(procedure, history).ask
    while ask is not None and not (until is not None and isinstance(ask, until) and ask.step == step):
        answer = answered(on_bench.answer(asked(ask)))
        history = history.with_entry(entry_for(procedure, history, answer, every_s * len(history.entries), "0"))
        ask = survey(procedure, history).ask
    return procedure, history


def chapter(chapters: tuple[Chapter, ...], word: str) -> Chapter:
    return next(row for row in chapters if word in row.title)


def test_the_alternatives_of_a_touch_say_that_both_adjusters_are_needed_and_one_is_not_enough() -> None:
    procedure, history = played(Touch, "coverage")
    rows = {
        row.about: row.what for row in chapter(beliefs(procedure, history, survey(procedure, history).ask), "WHY").rows
    }
    assert "not enough" in rows["leave all as it is"]
    assert "not enough" in rows["oscillator-coil"]
    assert rows["oscillator-coil and oscillator-trimmer"].startswith("2 touches")
    assert "would do" in rows["oscillator-coil and oscillator-trimmer"]


def test_what_nobody_has_read_is_called_not_known_and_what_was_read_has_its_error_and_uncertainty() -> None:
    procedure, history = played(Touch, "coverage")
    chapters = beliefs(procedure, history, None)
    oscillator = chapter(chapters, "OSCILLATOR").rows
    assert oscillator[0].about == "error at 2 V"
    assert "too low, outside" in oscillator[0].what
    assert "; 87.5 MHz received: oscillator 98.2 MHz" in oscillator[0].what
    assert oscillator[0].plus_minus.endswith("kHz")
    assert [row.what for row in chapter(chapters, "ANTENNA").rows[:3]] == ["not known yet"] * 3


def test_a_turn_that_was_counted_has_taught_its_effect_and_its_sense() -> None:
    procedure, history = played(None)
    rows = {row.about: row for row in chapter(beliefs(procedure, history, None), "ANTENNA").rows}
    assert "clockwise" in rows["a turn of antenna-coil"].what
    assert rows["a turn of antenna-coil"].plus_minus
    assert "cannot be counted" in rows["a turn of antenna-trimmer"].what


def antenna_of_a_played_set() -> tuple[Belief, tuple[Target, ...]]:
    procedure, history = played(None)
    bench, step = bench_of(procedure, history), procedure.step("antenna")
    assert isinstance(step, TrackingStep)
    return bench.belief(""), targets_of(bench, step)


def test_on_a_coarse_bench_what_a_turn_does_is_as_much_in_doubt_as_where_a_circuit_stands() -> None:
    belief, targets = antenna_of_a_played_set()
    calm, coarse = (replace(belief.circuits["antenna"], noise=noise) for noise in (1.0, 2.0))
    usual, wide = (turn_hz(belief, circuit, "antenna-coil", targets) for circuit in (calm, coarse))
    assert usual is not None
    assert wide is not None
    assert wide[0] == usual[0]
    # Of the logarithm twice as much: what reaches up to 1.1 times as much then reaches up to 1.1^2 times as much.
    up, farther = (SURE * sd / abs(hz) for hz, sd in (usual, wide))
    assert 1.0 + farther == pytest.approx((1.0 + up) ** 2)


def test_what_a_turn_does_may_be_as_many_times_more_as_it_may_be_less() -> None:
    belief, targets = antenna_of_a_played_set()
    circuit, effect = replace(belief.circuits["antenna"], noise=1.0), belief.effect("antenna-coil")
    turn = turn_hz(belief, circuit, "antenna-coil", targets)
    assert effect is not None
    assert turn is not None
    doubt = effect[1] / abs(effect[0])
    assert 0.1 < doubt < 1.0
    most, least = (abs(turn[0]) * np.exp(sign * SURE * doubt) for sign in (1.0, -1.0))
    assert abs(turn[0]) + SURE * turn[1] == pytest.approx(most)
    assert abs(turn[0]) - SURE * turn[1] < least


def test_a_turn_of_which_nothing_is_known_is_no_more_in_doubt_than_its_logarithm_grows() -> None:
    belief, targets = antenna_of_a_played_set()
    vague, vaguer = (replace(belief.circuits["antenna"], noise=noise) for noise in (1e3, 2e3))
    first, second = (turn_hz(belief, circuit, "antenna-coil", targets) for circuit in (vague, vaguer))
    assert first is not None
    assert second is not None
    assert second[1] == pytest.approx(2.0 * first[1])


def test_a_reading_that_was_insisted_on_and_is_contradicted_is_named_with_what_it_still_counts() -> None:
    procedure, history = played(Read, "interstage")
    for _ in range(3):
        ask = survey(procedure, history).ask
        assert isinstance(ask, Read)
        wrong = 1.08 if ask.point.received == min(procedure.step("interstage").points_hz) else 1.0  # type: ignore[union-attr]
        answer = Reading((ask.point.received or 0.0) * wrong, insist=True)
        history = history.with_entry(entry_for(procedure, history, answer, 1e4, "0"))
    down = [row for row in beliefs(procedure, history, None) if "WEIGHED DOWN" in row.title]
    assert len(down) == 1
    assert any("interstage" in row.what and row.about.startswith("entry ") for row in down[0].rows)


def test_the_paper_way_is_reckoned_to_need_several_times_the_touches() -> None:
    procedure, history = played(None)
    stands = progress(procedure, history, survey(procedure, history))
    # About fifty for three circuits by simulation of the alternating way; six to ten here.
    assert 30 <= stands.paper <= 90
    assert stands.touches < stands.paper / 3
    assert sum(cost.touches for cost in stands.steps) == stands.touches


def test_a_long_break_is_no_time_at_the_bench() -> None:
    procedure, history = played(Read, "coverage")
    steady = progress(procedure, history, survey(procedure, history)).bench_s
    entry = entry_for(procedure, history, Reading(381e3), 60.0 * len(history.entries) + 10 * BREAK_S, "0")
    later = history.with_entry(entry)
    assert progress(procedure, later, survey(procedure, later)).bench_s == steady
