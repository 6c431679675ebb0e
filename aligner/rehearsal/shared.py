"""What other bands of a virtual set leave of a trimmer that they share, by the truth."""

from collections.abc import Callable, Mapping

import msgspec
import numpy as np
import numpy.typing as npt

from aligner.rehearsal.laws import Numbers, trimmer_capacitance
from aligner.rehearsal.parts import Parts, Trimmer, TunedCircuit

Vector = npt.NDArray[np.float64]
Excess = Callable[[Mapping[str, Numbers]], float]
"""The greatest error of a step in its tolerances, with the screws at given places."""
_PLACES = 33
_SEEN = 0.05  # of the travel each way: further away no other band can be within its tolerance


def leaning(parts: Parts, circuit: TunedCircuit, screw: str) -> list[TunedCircuit]:
    """The other circuits that have a trimmer and no trimmer of their own besides."""
    shared = [row for row in parts.circuits if row.id != circuit.id and screw in _screws(row)]
    return [row for row in shared if all(_common(parts, name) for name in _screws(row))]


def _screws(circuit: TunedCircuit) -> list[str]:
    return [row.screw for row in circuit.trimmers]


def _common(parts: Parts, screw: str) -> bool:
    return sum(screw in _screws(row) for row in parts.circuits) > 1


def bounded(circuit: TunedCircuit, bounds: Mapping[str, tuple[float, float]]) -> TunedCircuit:
    """A circuit whose shared trimmers reach no further than other bands allow [F]."""
    rows = tuple(_between(row, bounds[row.screw]) if row.screw in bounds else row for row in circuit.trimmers)
    return msgspec.structs.replace(circuit, trimmers=rows)


def _between(row: Trimmer, bounds: tuple[float, float]) -> Trimmer:
    return msgspec.structs.replace(row, low=bounds[0], high=bounds[1])


def left_of(row: Trimmer, travel: float, positions: Mapping[str, Numbers], steps: list[Excess]) -> tuple[float, float]:
    """Least and greatest capacitance [F] of a shared trimmer with which every other step stays within its tolerance."""
    now = float(positions.get(row.screw, 0.0))
    grid = np.unique(np.clip(now + np.linspace(-_SEEN, _SEEN, _PLACES) * travel, 0.0, travel))
    good = [now, *(float(at) for at in grid if all(step({**positions, row.screw: at}) <= 1.0 for step in steps))]
    farads = np.asarray(trimmer_capacitance(row, np.array(good)))
    return float(farads.min()), float(farads.max())
