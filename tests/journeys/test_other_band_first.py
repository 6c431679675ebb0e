"""Another band first, in mid-job: the three-band set, led by a person who changes his mind."""

from pathlib import Path

import pytest

from aligner.engine.answers import Answer, GoTo, SetAside, Undo
from aligner.engine.history import History
from aligner.engine.run import entry_for, survey
from aligner.errors import AnswerError
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.door import answered, asked
from aligner.rehearsal.draw import draw
from aligner.rehearsal.population import read_population
from aligner.rehearsal.set import VirtualSet
from aligner.shipped import folder

PROCEDURE = read_procedure(folder("procedures") / "lw-mw-sw.toml")
POPULATION = read_population(Path(folder("demo_data")) / "population.toml")


class Person:
    """Answers by the virtual set, and says other things when told to."""

    def __init__(self, index: int = 0) -> None:
        self.set = VirtualSet(PROCEDURE, draw(PROCEDURE, POPULATION, 5, index), POPULATION, index)
        self.history = History()
        self.steps: list[str] = []

    @property
    def running(self) -> str:
        return survey(PROCEDURE, self.history).running

    def state(self, step: str) -> str:
        return next(report.state for report in survey(PROCEDURE, self.history).steps if report.id == step)

    def say(self, answer: Answer) -> None:
        entry = entry_for(PROCEDURE, self.history, answer, self.set.bench.at_s, "0")
        self.history = self.history.with_entry(entry)

    def until(self, step: str, readings: int = 0) -> None:
        """On to where a step is asked for, and so many of its asks further; "" leads to the end."""
        for _ in range(200):
            ask = survey(PROCEDURE, self.history).ask
            if ask is None or (ask.step == step and readings == 0):
                return
            readings -= ask.step == step
            if not self.steps or self.steps[-1] != ask.step:
                self.steps.append(ask.step)
            self.say(answered(self.set.answer(asked(ask))))
        pytest.fail(f"{step or 'the end'} was never reached")


def test_another_band_is_done_first_and_the_open_step_goes_on_where_it_stood() -> None:
    person = Person()
    person.until("coverage-mw", readings=2)
    person.say(GoTo("antenna-sw"))
    assert person.running == "coverage-sw"  # nothing follows an oscillator that was not set
    person.steps.clear()
    person.until("")
    assert person.steps[:3] == ["coverage-sw", "antenna-sw", "coverage-mw"]
    assert [person.state(step) for step in ("coverage-mw", "coverage-lw", "coverage-sw")] == ["held"] * 3
    seen = [e for e in person.history.entries if e.ask is not None and e.ask.step == "coverage-mw"]
    places = [getattr(e.ask, "point", None) for e in seen if not isinstance(e.answer, GoTo)]
    assert len(set(map(str, places[:3]))) == 3  # the two that were read before are not asked for again at once
    assert person.history.entries[-1].ask is not None
    assert person.history.entries[-1].ask.step == "put-back"


def test_reports_stay_in_the_order_of_the_procedure() -> None:
    person = Person()
    person.until("coverage-mw")
    person.say(GoTo("coverage-sw"))
    told = survey(PROCEDURE, person.history).steps
    assert [report.id for report in told] == [step.id for step in PROCEDURE.steps]


def test_a_step_that_was_set_aside_is_taken_up_again() -> None:
    person = Person()
    person.until("coverage-mw")
    person.say(SetAside("no dummy aerial at hand"))
    person.until("coverage-lw", readings=1)
    assert person.state("coverage-mw") == "set-aside"
    person.say(GoTo("coverage-mw"))
    assert (person.running, person.state("coverage-mw")) == ("coverage-mw", "to-do")
    person.steps.clear()
    person.until("")
    assert person.steps[:2] == ["coverage-mw", "coverage-lw"]
    assert person.state("coverage-mw") == "held"


def test_going_to_another_step_can_be_taken_back() -> None:
    person = Person()
    person.until("coverage-mw")
    person.say(GoTo("antenna-lw"))
    assert person.running == "coverage-lw"
    person.say(Undo())
    assert person.running == "coverage-mw"


@pytest.mark.parametrize(
    ("at", "wanted", "why"),
    [
        ("connect", "coverage-sw", "first finish"),
        ("coverage-mw", "warm", "cannot be gone to now"),
        ("coverage-mw", "seal", "cannot be gone to now"),
        ("coverage-mw", "coverage-mw", "cannot be gone to now"),
        ("coverage-mw", "nowhere", "steps to go to: antenna-mw, coverage-lw"),
    ],
)
def test_where_one_cannot_go_is_said(at: str, wanted: str, why: str) -> None:
    person = Person()
    person.until(at)
    before = person.history
    with pytest.raises(AnswerError, match=why):
        person.say(GoTo(wanted))
    assert person.history == before
