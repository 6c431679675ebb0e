"""Whole procedures on virtual sets, through the job and its journal, which is shut and opened again on the way."""

from pathlib import Path
from statistics import median

import pytest

from aligner.engine.answers import SwitchWay
from aligner.engine.asks import Read, Turning, Wand
from aligner.engine.survey import Survey
from aligner.job import Job
from aligner.procedure.model import Procedure, Way
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.door import answered, asked
from aligner.rehearsal.draw import draw
from aligner.rehearsal.population import Population, read_population
from aligner.rehearsal.set import VirtualSet
from aligner.shipped import folder

SEED = 20
SETS = 5
MOST_ASKS = 150
SHUT_AFTER = (3, 11, 14)  # entries after which the job is shut: among the confirmations, the readings, the touches


@pytest.fixture(scope="module")
def population() -> Population:
    return read_population(folder("demo_data") / "population.toml")


def shut_and_opened(job: Job) -> Job:
    """The same job from its file: the same history, the same survey, the same ask with the same number."""
    known, digest, path = job.survey, job.history.digest, job.path
    job.close()
    again = Job.open(path)
    assert again.history.digest == digest
    assert again.survey == known
    return again


def worked(procedure: Procedure, population: Population, index: int, by: Way, where: Path) -> tuple[Survey, Job]:
    """One drawn set led from the first ask to the last."""
    virtual = VirtualSet(procedure, draw(procedure, population, SEED, index), population, index)
    job = Job.create(procedure, f"set {index}", where)
    job.answer(SwitchWay(by))
    for count in range(MOST_ASKS):
        if count in SHUT_AFTER:
            job = shut_and_opened(job)
        ask = job.survey.ask
        if ask is None:
            break
        job.answer(answered(virtual.answer(asked(ask))), virtual.bench.at_s, ask_id=ask.id)
    return job.survey, job


def visits(job: Job) -> int:
    """Touches counted anew from the asks: a visit to one adjuster at one point, with nothing else between."""
    count, at = 0, None
    for entry in job.history.entries:
        if entry.doubt:
            continue
        if isinstance(entry.ask, Turning):
            count += (entry.ask.adjuster, entry.ask.point) != at
            at = (entry.ask.adjuster, entry.ask.point)
        elif isinstance(entry.ask, Read | Wand) and at is not None and entry.ask.point != at[1]:
            at = None
    return count


# The medium-wave procedure knows only the ends of its band and the IF, so that seven touches are allowed in the median.
@pytest.mark.parametrize(
    ("name", "by", "touches"),
    [
        ("fm-varactor", "resonance", 6),
        ("fm-varactor", "level", 12),
        ("fm-varactor", "wand", 9),
        ("fm-varactor", "stage-voltage", 12),
        ("mw-gang-padder", "resonance", 7),
        ("mw-gang-padder", "level", 10),
    ],
)
def test_virtual_sets_end_with_few_touches_though_the_job_is_shut_on_the_way(
    population: Population, tmp_path: Path, name: str, by: Way, touches: int
) -> None:
    procedure = read_procedure(folder("procedures") / f"{name}.toml")
    needed = []
    for index in range(SETS):
        known, job = worked(procedure, population, index, by, tmp_path)
        assert known.ask is None
        assert {report.state for report in known.steps} <= {"held", "at-limit"}
        assert known.aligned == all(report.state == "held" for report in known.steps)
        assert known.touches == visits(job)
        needed.append(known.touches)
        job.close()
    assert median(needed) <= touches, needed
