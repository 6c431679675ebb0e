"""Virtual sets of odd shapes: whatever the procedure asks for, the job comes to an end and says how it stands."""

import pytest

from aligner.engine.history import History
from aligner.engine.run import entry_for, survey
from aligner.rehearsal.door import answered, asked
from aligner.rehearsal.draw import draw
from aligner.rehearsal.population import Population, read_population
from aligner.rehearsal.set import VirtualSet
from aligner.shipped import folder
from tests.engine.ideal_set import Conversation
from tests.engine.odd_sets import ODD
from tests.small_sets import read

MOST_ASKS = 150
TWO_BANDS = "two bands"  # no virtual set of two bands can be drawn, so an ideal one stands in


@pytest.fixture(scope="module")
def population() -> Population:
    return read_population(folder("demo_data") / "population.toml")


@pytest.mark.parametrize("name", sorted(set(ODD) - {TWO_BANDS}))
def test_an_honest_set_of_an_odd_shape_ends(population: Population, name: str) -> None:
    procedure = read(ODD[name])
    virtual = VirtualSet(procedure, draw(procedure, population, 3, 0), population, 0)
    history = History()
    for _ in range(MOST_ASKS):
        ask = survey(procedure, history).ask
        if ask is None:
            break
        answer = answered(virtual.answer(asked(ask)))
        history = history.with_entry(entry_for(procedure, history, answer, virtual.bench.at_s, "test"))
    known = survey(procedure, history)
    assert known.ask is None
    assert {report.state for report in known.steps} <= {"held", "at-limit"}
    assert all(report.why for report in known.steps if report.state == "at-limit")
    held = [report for report in known.steps if report.state == "held" and report.error is not None]
    assert all(abs(report.error or 0.0) <= (report.tolerance or 0.0) for report in held)


def test_a_set_of_two_bands_ends_aligned_on_both() -> None:
    faults = dict.fromkeys(("oscillator", "antenna", "long-oscillator", "long-antenna"), (0.03, -0.02, 0.0, 0.0))
    known = Conversation(read(ODD[TWO_BANDS]), faults).work_to_the_end()
    assert [report.state for report in known.steps] == ["held"] * 4
