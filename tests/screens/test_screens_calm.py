"""When a reading that plays about is at rest, so that Enter takes it without asking."""

import itertools
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

from aligner.engine.asks import Point, Read
from aligner.engine.capture import Sample
from aligner.engine.history import History
from aligner.engine.survey import StepReport
from aligner.screens.calm import rest_width
from aligner.screens.desk import Desk, Send
from aligner.screens.keys import press
from aligner.screens.paint import note_row
from aligner.screens.sources import EVERYTHING, VirtualSource
from aligner.screens.virtual import placed
from tests.screens.scripted import COUNTER, READ, TOUCH, ScriptedEngine, desk_with, procedure

RESONANCE = Read(
    id=9, step="interstage", text="Read the resonance of interstage.", quantity="resonance", circuit="interstage",
    point=Point(received=90e6),
)  # fmt: skip

LOOKS_A_SECOND = 8
MOVING = "Still moving. Enter again takes it as it is."


def shown(desk: Desk, *values: float, first_s: float = 10.0) -> None:
    desk.sample(tuple(Sample(first_s + at / LOOKS_A_SECOND, value) for at, value in enumerate(values)))


def taken(desk: Desk) -> bool:
    return any(isinstance(effect, Send) for effect in press(desk, "enter", None))


@pytest.mark.parametrize("job", [f"set-{at}" for at in range(10)])
def test_a_resonance_of_the_virtual_set_is_at_rest_a_second_or_two_after_the_last_movement(job: str) -> None:
    ask = msgspec.structs.replace(RESONANCE, point=Point(volts=8.0))
    desk = desk_with(ask, serves=EVERYTHING, turnable=True)
    clock = itertools.count()
    source = VirtualSource(placed(desk.procedure, Path(f"{job}.job")), lambda: next(clock) / LOOKS_A_SECOND)
    source.show(ask)
    for _ in range(int(2.5 * LOOKS_A_SECOND)):
        source.latest()
        desk.sample(source.window())
    assert taken(desk)


def test_a_trembling_last_place_is_at_rest_beside_what_is_allowed() -> None:
    desk = desk_with(RESONANCE, serves=EVERYTHING)
    shown(desk, *[91.8043e6, 91.8062e6, 91.8075e6] * 3)
    assert taken(desk)


def test_a_resonance_that_truly_moves_is_asked_about() -> None:
    desk = desk_with(RESONANCE, serves=EVERYTHING)
    shown(desk, *[91.80e6 + 0.01e6 * at for at in range(20)])
    assert not taken(desk)
    assert note_row(desk, "") == MOVING
    assert taken(desk)  # and a second press takes it as it is


def test_that_it_moves_is_no_longer_said_once_it_has_come_to_rest() -> None:
    desk = desk_with(READ, serves=COUNTER)
    shown(desk, *[383_000.0 + 100.0 * at for at in range(12)])
    assert not taken(desk)
    assert note_row(desk, "") == MOVING
    shown(desk, *[384_200.0, 384_210.0] * 6, first_s=12.0)
    assert note_row(desk, "") == ""
    shown(desk, *[384_300.0 + 100.0 * at for at in range(12)], first_s=14.0)
    assert note_row(desk, "") == ""  # said anew only where it is asked for anew
    assert not taken(desk)
    assert note_row(desk, "") == MOVING


def test_another_key_in_between_is_no_second_press() -> None:
    desk = desk_with(READ, serves=COUNTER)
    shown(desk, *[383_000.0 + 100.0 * at for at in range(12)])
    assert not taken(desk)
    press(desk, "h", "h")
    assert note_row(desk, "") == "Hands-free off."
    assert not taken(desk)


def test_what_is_allowed_is_reckoned_in_the_terms_of_the_reading() -> None:
    engine, history = ScriptedEngine((READ,)), History()
    survey = engine.survey(procedure(), history)
    # 50 kHz of the oscillator, a twentieth of it, through the prescaler of 256.
    assert rest_width(procedure(), survey, READ) == pytest.approx(50e3 / 20 / 256)
    assert rest_width(procedure(), survey, RESONANCE) == pytest.approx(200e3 / 20)
    assert rest_width(procedure(), survey, TOUCH) == TOUCH.aim.within
    final = msgspec.structs.replace(READ, step="final")
    assert rest_width(procedure(), survey, final) == pytest.approx(75e3 / 20 / 256)
    assert rest_width(procedure(), survey, msgspec.structs.replace(RESONANCE, step="connect")) == 0.0


def test_a_tolerance_that_is_given_as_a_loss_is_taken_from_the_report_in_hertz() -> None:
    known = procedure()
    by_loss = replace(
        known,
        steps=tuple(
            replace(row, tolerance_hz=None, tolerance_db=0.3) if row.id == "interstage" and row.kind == "tracking"
            else row
            for row in known.steps
        ),
    )  # fmt: skip
    survey = ScriptedEngine((RESONANCE,)).survey(known, History())
    told = replace(survey, steps=(StepReport("interstage", "tracking", "", "to-do", tolerance=80e3, unit="Hz"),))
    assert rest_width(by_loss, told, RESONANCE) == pytest.approx(80e3 / 20)
    assert rest_width(by_loss, survey, RESONANCE) == 0.0
