"""The virtual set on the bench: drawn once for a job, turned by keys, and left as the hands left it."""

import math
import statistics
import zlib
from collections.abc import Mapping
from pathlib import Path

from aligner.procedure.model import Procedure
from aligner.rehearsal.draw import draw
from aligner.rehearsal.population import Population, read_population
from aligner.rehearsal.set import VirtualSet
from aligner.rehearsal.set_file import demo_set, demo_sets, read_set
from aligner.screens.fingers import boldest
from aligner.screens.sources import left_positions
from aligner.screens.tour import TOUR
from aligner.shipped import folder

TRACES = 32
"""So many traces are averaged at most: four seconds of looks."""

_TOUR_SET = "fm-demo-set.toml"


class FeltSet:
    """A virtual set in hands that feel the play of a thread: turning back, they take it up before they turn.

    A resonance is read as an analyser shows it that averages its traces for as long as nothing is moved: each trace
    alone plays about by more than many an aim is wide.
    """

    def __init__(self, on_bench: VirtualSet) -> None:
        self._set = on_bench
        self._moved: object = None  # where all stood at the traces that are averaged now
        self._traces: list[float] = []

    @property
    def at_s(self) -> float:
        """The set's own time [s], which goes on while its owner works or waits."""
        return self._set.bench.at_s

    def display(self, ask: Mapping[str, object]) -> tuple[str, float]:
        """What the instrument of that ask shows now."""
        quantity, value = self._set.display(ask)
        if quantity != "resonance" or not math.isfinite(value):
            return quantity, value
        stands = ask.get("id"), self.positions(), self.at_s
        if stands != self._moved:
            self._moved, self._traces = stands, []
        self._traces = [*self._traces[1 - TRACES :], value]
        return quantity, float(f"{statistics.fmean(self._traces):.6g}")  # as many figures as it tells

    def answer(self, ask: Mapping[str, object]) -> dict[str, object]:
        """What a person would answer."""
        return self._set.answer(ask)

    def positions(self) -> dict[str, float]:
        """How the adjusters stand [turn]."""
        return self._set.positions()

    def clockwise(self, adjuster: str) -> float:
        """Where the tool stands [turn], clockwise positive; differences are net turns."""
        return self._set.hand.clockwise(adjuster)

    def boldest(self, adjuster: str) -> float:
        """How far a hand that feels how much way there is turns it at once at most [turn]."""
        screw = self._set.hand.screws[adjuster]
        return boldest(screw.travel if screw.stops else None)

    def turn(self, adjuster: str, turns: float) -> bool:
        """Turn by hand, clockwise positive; False at a stop."""
        return self._set.turn(adjuster, turns + self._slack(adjuster, turns))

    def _slack(self, adjuster: str, turns: float) -> float:
        hand = self._set.hand
        screw = hand.screws[adjuster]
        sense = 1 if turns * screw.clockwise > 0 else -1
        loose = hand.at[adjuster] + sense * screw.play / 2 - hand.tool[adjuster]
        return max(0.0, loose * sense) * sense * screw.clockwise


def _made(procedure: Procedure, seed: int) -> VirtualSet:
    """The set that comes with the program for that procedure; for others one is drawn from the population."""
    if procedure.name == TOUR:
        return VirtualSet(procedure, read_set(folder("demo_data") / _TOUR_SET).parts, _population(), seed)
    if procedure.name in {read_set(path).procedure for path in demo_sets()}:
        return demo_set(procedure, seed)
    population = _population()
    return VirtualSet(procedure, draw(procedure, population, seed, 0), population, seed)


def _population() -> Population:
    return read_population(folder("demo_data") / "population.toml")


def placed(procedure: Procedure, job: Path | None) -> FeltSet:
    """The virtual set of that job; the same each time the job is opened, with its adjusters as they were left."""
    seed = zlib.crc32(job.stem.encode()) if job is not None else 0
    on_bench = _made(procedure, seed)
    for name, position in (left_positions(job) if job is not None else {}).items():
        if name in on_bench.hand.at:
            on_bench.hand.at[name] = on_bench.hand.tool[name] = position
    return FeltSet(on_bench)
