"""Whole jobs on virtual sets, their desk held before each ask: what the guide would show, without a terminal."""

from collections.abc import Iterator

from aligner.engine.answers import SwitchWay
from aligner.engine.history import History
from aligner.engine.run import entry_for, survey
from aligner.procedure.library import find
from aligner.procedure.model import Way
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.door import answered, asked
from aligner.rehearsal.draw import draw
from aligner.rehearsal.population import read_population
from aligner.rehearsal.set import VirtualSet
from aligner.screens.desk import Desk
from aligner.screens.sources import EVERYTHING
from aligner.shipped import folder

SEED = 1
MOST_ASKS = 200


def walked(name: str, by: Way | None = None, *, on_bench: bool = False) -> Iterator[tuple[Desk, VirtualSet]]:
    """The desk before each ask of a shipped procedure and after the last; by keyboard, or before a virtual set."""
    procedure = read_procedure(find(name))
    population = read_population(folder("demo_data") / "population.toml")
    virtual = VirtualSet(procedure, draw(procedure, population, SEED, 0), population, 0)
    desk = Desk(procedure, EVERYTHING if on_bench else frozenset(), on_bench)
    history = History()
    if by is not None:
        history = history.with_entry(entry_for(procedure, history, SwitchWay(by), 0.0, "0"))
    for _ in range(MOST_ASKS):
        known = survey(procedure, history)
        desk.tell(history, known)
        yield desk, virtual
        if known.ask is None:
            return
        answer = answered(virtual.answer(asked(known.ask)))
        history = history.with_entry(entry_for(procedure, history, answer, virtual.bench.at_s, "0"))
