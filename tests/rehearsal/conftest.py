from collections.abc import Callable
from pathlib import Path

import pytest

from aligner.procedure.model import Procedure
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.draw import draw
from aligner.rehearsal.population import Population, read_population
from aligner.rehearsal.set import VirtualSet
from aligner.shipped import folder

Drawn = Callable[..., VirtualSet]


@pytest.fixture(scope="session")
def population_file() -> Path:
    return folder("demo_data") / "population.toml"


@pytest.fixture(scope="session")
def population(population_file: Path) -> Population:
    return read_population(population_file)


@pytest.fixture(scope="session")
def fm() -> Procedure:
    return read_procedure(folder("procedures") / "fm-varactor.toml")


@pytest.fixture(scope="session")
def mw() -> Procedure:
    return read_procedure(folder("procedures") / "mw-gang-padder.toml")


@pytest.fixture
def drawn(population: Population) -> Drawn:
    def one(procedure: Procedure, index: int = 0, seed: int = 5, blunders: float = 0.0) -> VirtualSet:
        parts = draw(procedure, population, seed, index)
        return VirtualSet(procedure, parts, population, index, blunders=blunders)

    return one
