"""A hand that left a peak half a decibel low: what is asked after it names no way that later turns out another."""

from aligner.engine.answers import Answer, Reading, SwitchWay
from aligner.engine.asks import Ask, Peak, Read, Touch
from aligner.engine.history import History
from aligner.engine.run import entry_for, survey
from aligner.procedure.library import find
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.door import answered, asked
from aligner.rehearsal.set import VirtualSet
from aligner.rehearsal.set_file import demo_set

COIL = "interstage-coil"
OFF = -0.2
"""Turns by which the first peak is missed; then the mirror image of the circuit fits the levels best."""


def left_off(virtual: VirtualSet, ask: Ask, answer: Answer) -> Answer:
    """The same peak, missed by those turns."""
    assert isinstance(answer, Reading)
    virtual.turn(COIL, OFF)
    return Reading(virtual.display(asked(ask))[1], (answer.turns or 0.0) + OFF)


def test_on_past_a_peak_that_was_missed_the_hand_is_sent_the_way_it_came_and_no_other() -> None:
    procedure = read_procedure(find("fm-varactor"))
    virtual, history = demo_set(procedure, 1), History()
    history = history.with_entry(entry_for(procedure, history, SwitchWay("level"), 0.0, "0"))
    coils: list[tuple[Ask, Answer]] = []
    while (ask := survey(procedure, history).ask) is not None and not (len(coils) == 3 and isinstance(ask, Read)):
        answer = answered(virtual.answer(asked(ask)))
        if getattr(ask, "adjuster", "") == COIL:
            answer = answer if coils else left_off(virtual, ask, answer)
            coils.append((ask, answer))
        history = history.with_entry(entry_for(procedure, history, answer, virtual.bench.at_s, "0"))
    (_, again), (onward, reached) = coils[1:]
    assert isinstance(coils[1][0], Peak)
    assert isinstance(onward, Touch)
    assert onward.direction is None
    assert "the way you came, clockwise" in onward.text
    assert ask is not None
    assert ask.why.endswith("Turned on past its peak the circuit reads low at every place: so it should.")
    assert isinstance(again, Reading)
    assert isinstance(reached, Reading)
    assert (again.turns or 0.0) > 0.0
    assert (reached.turns or 0.0) > 0.0
