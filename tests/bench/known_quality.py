"""What the Q of its circuits is worth to the advice by level: the same sets without it, and with it in the procedure.

    python -m tests.bench.known_quality [SETS] [SEED] [PROCEDURE]

Levels tell in widths f/Q how far off a circuit is: had it half the Q and were it off twice as far everywhere, they
would be the same. So where a procedure does not say the Q, only what is usual does, of Qs and of how unevenly circuits
run over a band; and a circuit of low Q that runs very unevenly is farther off than is believed. Here the procedure says
the true Q of each circuit of each virtual set, as a person may who measured it (`q`, believed to a tenth). What is
still wrong then is not for want of it.
"""

import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from aligner.procedure.model import Procedure, TrackingStep
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.draw import draw
from aligner.rehearsal.parts import Parts
from aligner.rehearsal.population import read_population
from aligner.rehearsal.runner import SetEnd, hand_of, lead
from aligner.rehearsal.set import VirtualSet
from aligner.rehearsal.truth import Truth

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Led:
    """A set after its job: whether all is truly in tolerance, touches, errors above the best in tolerances."""

    aligned: bool
    touches: int
    above: tuple[float, ...]


def told(procedure: Procedure, parts: Parts) -> Procedure:
    """The procedure with the true Q of the set's signal circuits."""
    circuits = (
        replace(c, q=float(parts.circuit(c.id).coil.quality)) if c.role == "signal" else c for c in procedure.circuits
    )
    return replace(procedure, circuits=tuple(circuits))


def one(job: tuple[str, int, int]) -> tuple[Led, Led]:
    """One virtual set twice, from the same start: without its Qs and with them."""
    name, seed, index = job
    procedure = read_procedure(ROOT / "procedures" / f"{name}.toml")
    population = read_population(ROOT / "demo_data" / "population.toml", 1.0)
    parts = draw(procedure, population, seed, index)

    def led(said: Procedure) -> Led:
        virtual, end = VirtualSet(procedure, parts, population, hand_of(seed, index)), SetEnd(index)
        lead(said, virtual, "level", end)
        judged = [Truth(virtual).judge(s) for s in procedure.steps if isinstance(s, TrackingStep)]
        above = tuple(((j.band_error or 0.0) - (j.band_best or 0.0)) / j.tolerance for j in judged)
        return Led(all(j.aligned for j in judged), end.engine_touches, above)

    return led(procedure), led(told(procedure, parts))


def words(about: str, rows: Sequence[Led]) -> str:
    """One line of what came of the sets."""
    touches = np.percentile([row.touches for row in rows], [50, 90])
    above = np.percentile([error for row in rows for error in row.above], [50, 95])
    share = 100.0 * np.mean([row.aligned for row in rows])
    counts = f"touches {touches[0]:.0f}, 90 %: {touches[1]:.0f}"
    return f"{about}  aligned {share:.1f} %  {counts}  above the best {above[0]:.2f}, 95 %: {above[1]:.2f}\n"


def main() -> None:
    """Print both lines."""
    sets, seed, name = (*sys.argv[1:], *("100", "1", "fm-varactor")[len(sys.argv) - 1 :])
    with ProcessPoolExecutor() as pool:
        rows = list(pool.map(one, [(name, int(seed), n) for n in range(int(sets))], chunksize=2))
    sys.stdout.write(words("Q unknown", [row[0] for row in rows]) + words("Q told   ", [row[1] for row in rows]))


if __name__ == "__main__":
    main()
