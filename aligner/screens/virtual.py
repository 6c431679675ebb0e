"""The virtual set on the bench: drawn once for a job, and left as the hands left it."""

import zlib
from pathlib import Path

from aligner.procedure.model import Procedure
from aligner.rehearsal.draw import draw
from aligner.rehearsal.population import read_population
from aligner.rehearsal.set import VirtualSet
from aligner.screens.sources import left_positions
from aligner.shipped import folder


def placed(procedure: Procedure, job: Path | None) -> VirtualSet:
    """The virtual set of that job; the same each time the job is opened, with its adjusters as they were left."""
    population = read_population(folder("demo_data") / "population.toml")
    seed = zlib.crc32(job.stem.encode()) if job is not None else 0
    on_bench = VirtualSet(procedure, draw(procedure, population, seed, 0), population, seed)
    for name, position in (left_positions(job) if job is not None else {}).items():
        if name in on_bench.hand.at:
            on_bench.hand.at[name] = on_bench.hand.tool[name] = position
    return on_bench
