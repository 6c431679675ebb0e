from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

from aligner.errors import UsageError
from aligner.procedure.model import Procedure
from aligner.rehearsal.draw import draw
from aligner.rehearsal.population import Population, read_population


def test_the_population_says_that_it_is_invented(population_file: Path) -> None:
    assert "INVENTED" in population_file.read_text(encoding="utf-8").splitlines()[0]


def test_every_number_of_the_population_has_its_reason(population_file: Path) -> None:
    lines = population_file.read_text(encoding="utf-8").splitlines()
    bare = [line for line in lines if " = " in line and "#" not in line and not line.startswith("format")]
    assert bare == []


def test_one_set_of_one_seed_is_always_the_same(fm: Procedure, population: Population) -> None:
    assert draw(fm, population, 3, 7) == draw(fm, population, 3, 7)
    assert draw(fm, population, 3, 7) != draw(fm, population, 3, 8)
    assert draw(fm, population, 3, 7) != draw(fm, population, 4, 7)


def test_a_factor_doubles_spreads_and_leaves_the_rest(population_file: Path, population: Population) -> None:
    doubled = read_population(population_file, 2.0)
    assert doubled.spread.coil.inductance == 2 * population.spread.coil.inductance
    assert doubled.spread.hand.peak_plain_hz == 160e3
    assert doubled.fixed == population.fixed


def test_without_spreads_the_design_is_drawn(fm: Procedure, population_file: Path) -> None:
    exact = read_population(population_file, 0.0)
    first, second = draw(fm, exact, 1, 0), draw(fm, exact, 1, 1)
    assert msgspec.structs.replace(first, screws=(), gain_db=0.0).circuits[1].diode == second.circuits[1].diode
    assert first.circuit("antenna").coil.inductance == second.circuit("antenna").coil.inductance


def test_an_unknown_key_is_a_fault(tmp_path: Path, population_file: Path) -> None:
    changed = tmp_path / "population.toml"
    changed.write_text(population_file.read_text(encoding="utf-8").replace("mismatch", "missmatch"), encoding="utf-8")
    with pytest.raises(UsageError, match="missmatch"):
        read_population(changed)


def test_the_screw_goes_the_way_that_the_procedure_says(fm: Procedure, population: Population) -> None:
    told = tuple(replace(row, rotation="less") if row.id == "antenna-coil" else row for row in fm.adjusters)
    procedure = replace(fm, adjusters=told)
    senses = {draw(procedure, population, 1, index).screw("antenna-coil").clockwise for index in range(60)}
    untold = {draw(fm, population, 1, index).screw("antenna-coil").clockwise for index in range(60)}
    assert senses == {-1}
    assert untold == {1, -1}
