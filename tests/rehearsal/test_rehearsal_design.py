from dataclasses import replace

import numpy as np
import pytest

from aligner.errors import UsageError
from aligner.procedure.model import Procedure, Tuning
from aligner.procedure.reader import parse_procedure
from aligner.rehearsal.design import design
from aligner.rehearsal.draw import draw
from aligner.rehearsal.population import Population
from aligner.rehearsal.set import VirtualSet
from aligner.rehearsal.truth import Truth, least_greatest
from tests.rehearsal.conftest import Drawn

CURVE = ((1.0, 20.1e-12), (2.0, 16.3e-12), (4.0, 12.6e-12), (8.0, 8.9e-12))
PRESETS = """
format = 1
title = "A set with presets, invented"
[set]
intermediate = "10.7 MHz"
oscillator = "below"
[[band]]
id = "fm"
range = ["87.5 MHz", "108 MHz"]
[tuning]
by = "voltage"
range = ["1.5 V", "9 V"]
[[tuning.adjuster]]
id = "low"
sets = "low-end"
[[tuning.adjuster]]
id = "high"
sets = "high-end"
[counter]
shows = "received"
[[circuit]]
id = "oscillator"
role = "oscillator"
[[circuit.adjuster]]
id = "oscillator-coil"
does = "inductance"
kind = "brass-core"
travel = ["70 nH", "95 nH"]
[[circuit]]
id = "antenna"
role = "signal"
[[circuit.adjuster]]
id = "antenna-coil"
does = "inductance"
kind = "air-coil"
[[circuit.adjuster]]
id = "antenna-trimmer"
does = "parallel"
kind = "piston-trimmer"
[[step]]
id = "coverage"
kind = "coverage"
circuit = "oscillator"
points = [{ end = "low", received = "87.5 MHz" }, { end = "high", received = "108 MHz" }]
tolerance = "100 kHz"
"""


@pytest.mark.parametrize(
    "tuning",
    [
        Tuning("gang"),
        Tuning("gang", span=(12e-12, 365e-12), law="straight-capacitance"),
        Tuning("gang", span=(12e-12, 450e-12), law="straight-frequency"),
        Tuning(
            "gang", curve=((550e3, 340e-12), (800e3, 145e-12), (1000e3, 84e-12), (1300e3, 42e-12), (1580e3, 20e-12))
        ),
    ],
)
def test_a_gang_set_of_any_law_can_be_aligned_as_designed(
    mw: Procedure, population: Population, tuning: Tuning
) -> None:
    procedure = replace(mw, tuning=tuning)
    parts = design(procedure, population.fixed)
    circuits = Truth(VirtualSet(procedure, parts, population, 1)).electrical("")
    at = np.array([x for hz, x in parts.dial if hz in (parts.dial[0][0], parts.dial[16][0], parts.dial[-1][0])])
    wanted = np.array([parts.dial[n][0] for n in (0, 16, -1)]) + 455e3
    left = least_greatest(circuits, parts.circuit("oscillator"), at, wanted, np.ones(3))
    assert left < 100.0  # the scale is drawn for this design, so it fits


def test_a_voltage_set_uses_the_curve_that_is_given(fm: Procedure, population: Population) -> None:
    procedure = replace(fm, tuning=replace(fm.tuning, curve=CURVE))
    virtual = VirtualSet(procedure, design(procedure, population.fixed), population, 1)
    circuits = Truth(virtual).electrical("")
    volts, farad = np.array(CURVE).T
    made = np.asarray(circuits.element(virtual.parts.circuit("antenna"), volts))
    assert np.max(np.abs(made / farad - 1)) < 0.05  # a power law through a printed table


def test_a_curve_that_cannot_cover_the_band_is_refused_with_the_cure(fm: Procedure, population: Population) -> None:
    flat = ((1.0, 10e-12), (8.0, 9e-12))
    with pytest.raises(UsageError, match="widen it"):
        design(replace(fm, tuning=replace(fm.tuning, curve=flat)), population.fixed)


def test_presets_other_kinds_and_an_oscillator_below_work_too(population: Population) -> None:
    procedure = parse_procedure(PRESETS, "presets.toml")
    virtual = VirtualSet(procedure, draw(procedure, population, 1, 0), population, 1)
    ask = {"id": 1, "ask": "read", "quantity": "frequency", "circuit": "oscillator", "point": {"end": "low"}}
    first = float(str(virtual.answer(ask)["reading"]))
    virtual.hand.move_to("low", virtual.positions()["low"] + 3.0)
    second = float(str(virtual.answer({**ask, "id": 2})["reading"]))
    assert 75e6 < first < 120e6
    assert second > first + 1e5  # more voltage at the low end, less capacitance


def test_trimmer_travels_that_are_given_are_the_trimmer_limits(fm: Procedure, population: Population) -> None:
    told = tuple(replace(row, travel=(1e-12, 6e-12)) if row.id == "antenna-trimmer" else row for row in fm.adjusters)
    parts = design(replace(fm, adjusters=told), population.fixed)
    trimmer = parts.circuit("antenna").trimmers[0]
    assert (trimmer.low, trimmer.high) == (1e-12, 6e-12)


def test_nearly_all_drawn_sets_can_be_aligned_once_the_oscillator_is_right(fm: Procedure, drawn: Drawn) -> None:
    coverage = fm.step("coverage")
    assert coverage.kind == "coverage"
    can = [Truth(drawn(fm, index)).judge(coverage).can for index in range(60)]
    assert 0.9 <= np.mean(can) <= 1.0
