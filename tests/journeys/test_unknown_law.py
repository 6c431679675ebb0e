"""Whole jobs on virtual sets whose meter follows no known law: peaks, counted turns and a wand's ways must do."""

from dataclasses import replace

import pytest

from aligner.procedure.model import Meter, Procedure, TrackingStep, Way
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.draw import draw
from aligner.rehearsal.population import Population, read_population
from aligner.rehearsal.runner import SetEnd, lead
from aligner.rehearsal.set import VirtualSet
from aligner.rehearsal.truth import Truth
from aligner.shipped import folder

SEED = 31
SETS = 2


@pytest.fixture(scope="module")
def population() -> Population:
    return read_population(folder("demo_data") / "population.toml")


def of_unknown_law(name: str, more: str = "up") -> Procedure:
    procedure = read_procedure(folder("procedures") / f"{name}.toml")
    meter = Meter("unknown", "up" if more == "up" else "down", 0.1)
    return replace(procedure, meter=meter, digest=f"{procedure.digest} {more}")


@pytest.mark.parametrize(
    ("name", "by", "more"),
    [
        ("fm-varactor", "level", "up"),
        ("fm-varactor", "wand", "up"),
        ("fm-varactor", "level", "down"),
        ("mw-gang-padder", "level", "up"),
    ],
)
def test_sets_on_a_meter_of_unknown_law_are_held_and_truly_aligned(
    population: Population, name: str, by: Way, more: str
) -> None:
    procedure = of_unknown_law(name, more)
    for index in range(SETS):
        virtual = VirtualSet(procedure, draw(procedure, population, SEED, index), population, index)
        end = SetEnd(index)
        lead(procedure, virtual, by, end)
        assert end.finished
        assert end.claimed
        for step in procedure.steps:
            if isinstance(step, TrackingStep):
                assert Truth(virtual).judge(step).aligned
                assert sum(end.touches.values()) <= 36
