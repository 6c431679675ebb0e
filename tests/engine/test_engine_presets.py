"""Presets of the tuning voltage: they bring the scale to the oscillator, and make what was read at its places old."""

import pytest

from aligner.engine.answers import Answer, Cannot, Reading
from aligner.engine.asks import Ask, Point, Read, Touch
from aligner.engine.ledger import ledger_of
from aligner.engine.presets import displaced, set_by_presets
from aligner.estimate.events import Sighted
from aligner.procedure.model import CoverageStep
from aligner.rehearsal.draw import draw
from aligner.rehearsal.population import read_population
from aligner.rehearsal.runner import Plan, rehearse_one
from aligner.rehearsal.set import VirtualSet
from aligner.shipped import folder
from tests.engine.ideal_set import Conversation
from tests.small_sets import circuit, coverage, fm_head, oscillator, read, tracking

_PRESETS = """[[tuning.adjuster]]
id = "low-preset"
sets = "low-end"
[[tuning.adjuster]]
id = "high-preset"
sets = "high-end"
[counter]"""
_HEAD = fm_head().replace("[counter]", _PRESETS)
_ENDS = coverage(('{ end = "low" }', '{ end = "high" }')).replace('id = "coverage"', 'id = "scale"')
_PAIR = oscillator() + circuit("antenna")
BY_SCALE = _HEAD + _PAIR + _ENDS + tracking()
BY_BOTH = _HEAD + _PAIR + coverage() + _ENDS + tracking()
LOW, HIGH = Point(end="low"), Point(end="high")
LOW_HZ, HIGH_HZ = 98.2e6, 118.7e6


def _talk(text: str = BY_SCALE) -> Conversation:
    return Conversation(read(text))


def _scale(talk: Conversation, low_hz: float = LOW_HZ, high_hz: float = HIGH_HZ) -> None:
    """Read both ends of the scale."""
    for point, hz in ((LOW, low_hz), (HIGH, high_hz)):
        ask = talk.ask
        assert isinstance(ask, Read)
        assert (ask.step, ask.point) == ("scale", point)
        talk.say(Reading(hz))


def _touch(talk: Conversation) -> Touch:
    ask = talk.ask
    assert isinstance(ask, Touch)
    return ask


def test_the_end_that_is_farther_off_is_set_by_its_preset_to_what_it_shall_read() -> None:
    talk = _talk()
    _scale(talk, LOW_HZ - 0.4e6, HIGH_HZ + 2e6)
    ask = _touch(talk)
    assert (ask.adjuster, ask.point, ask.direction) == ("high-preset", HIGH, "less")
    assert ask.aim.value == pytest.approx(HIGH_HZ, abs=1.0)
    assert "down for less tuning voltage" in ask.text
    assert "receives 2.00" in ask.why


def test_the_other_end_is_read_again_after_a_preset_and_the_step_is_held_when_both_are_right() -> None:
    talk = _talk()
    _scale(talk, LOW_HZ - 0.4e6, HIGH_HZ + 2e6)
    talk.say(Reading(HIGH_HZ, turns=-3.0))
    ask = talk.ask
    assert isinstance(ask, Read)
    assert ask.point == LOW
    talk.say(Reading(LOW_HZ - 0.35e6))
    ask = _touch(talk)
    assert (ask.adjuster, ask.direction) == ("low-preset", "more")
    talk.say(Reading(LOW_HZ, turns=1.0))
    talk.say(Reading(HIGH_HZ + 1e3))
    assert talk.report("scale").state == "held"
    assert talk.report("scale").error == pytest.approx(1e3, abs=100)


def test_what_a_turn_of_a_preset_did_is_said_the_next_time() -> None:
    talk = _talk()
    _scale(talk, LOW_HZ, HIGH_HZ - 2e6)
    assert _touch(talk).amount is None
    talk.say(Reading(HIGH_HZ - 0.5e6, turns=4.0))
    talk.say(Reading(LOW_HZ))
    ask = _touch(talk)
    assert ask.amount is not None
    assert ask.amount.value == pytest.approx(0.5e6 / (1.5e6 / 4.0), rel=0.01)
    assert "about 1 3/8 turns clockwise" in ask.text


def test_readings_at_places_of_the_scale_are_old_once_a_preset_moved() -> None:
    talk = _talk()
    _scale(talk, LOW_HZ, HIGH_HZ - 2e6)
    before = [e for e in ledger_of(talk.procedure, talk.history).events if isinstance(e, Sighted)]
    assert len(before) == 2
    talk.say(Reading(HIGH_HZ, turns=4.0))
    after = [e for e in ledger_of(talk.procedure, talk.history).events if isinstance(e, Sighted)]
    assert [(e.spot.hz, e.hz) for e in after] == [(108e6, HIGH_HZ)]


def test_where_voltages_name_the_band_places_of_the_scale_tell_nothing_of_the_circuits() -> None:
    procedure = read(BY_BOTH)
    assert displaced(procedure, "fm", LOW, 9, 0)
    assert not displaced(procedure, "fm", Point(volts=2.0), 1, 9)
    assert not displaced(procedure, "fm", Point(received=98e6), 1, 9)
    assert not displaced(read(BY_SCALE), "fm", LOW, 9, 9)
    steps = [step for step in procedure.steps if isinstance(step, CoverageStep)]
    assert [set_by_presets(procedure, step) for step in steps] == [False, True]


def test_presets_do_not_disturb_what_was_set_by_voltages() -> None:
    talk = _talk(BY_BOTH)
    talk.work_until(lambda ask: ask.step == "scale")
    held = talk.report("coverage")
    assert held.state == "held"
    _scale(talk, LOW_HZ - 1e6, HIGH_HZ)
    assert _touch(talk).adjuster == "low-preset"
    talk.say(Reading(LOW_HZ, turns=2.0))
    talk.say(Reading(HIGH_HZ))
    assert talk.report("coverage") == held
    assert talk.report("scale").state == "held"


def _at_the_end(ask: Ask) -> Answer:
    assert isinstance(ask, Touch)
    return Cannot("end-of-travel", reading=ask.aim.value - 1e6, turns=5.0)


def test_where_a_preset_is_at_its_end_the_oscillator_takes_the_rest() -> None:
    talk = _talk()
    _scale(talk, LOW_HZ, HIGH_HZ - 3e6)
    talk.say(_at_the_end(talk.ask))
    talk.say(Reading(LOW_HZ))
    assert _touch(talk).adjuster in {"oscillator-coil", "oscillator-trimmer"}


def test_where_voltages_have_set_the_oscillator_a_preset_at_its_end_is_at_limit_and_named() -> None:
    talk = _talk(BY_BOTH)
    talk.work_until(lambda ask: ask.step == "scale")
    _scale(talk, LOW_HZ, HIGH_HZ - 3e6)
    talk.say(_at_the_end(talk.ask))
    talk.say(Reading(LOW_HZ))
    report = talk.report("scale")
    assert report.state == "at-limit"
    assert "at the end of travel high-preset" in report.why
    assert "1000 kHz too low" in report.why


def test_no_reading_at_an_end_ends_the_step_at_limit() -> None:
    talk = _talk()
    talk.say(Cannot("no-reading"))
    talk.say(Reading(HIGH_HZ))
    assert talk.report("scale").state == "at-limit"


def test_a_virtual_set_is_led_through_by_voltages_then_presets() -> None:
    path = folder("procedures") / "fm-presets.toml"
    plan = Plan(path, folder("demo_data") / "population.toml", 1, 5)
    end = rehearse_one(plan, 0)
    assert not end.failure
    assert {name: step.state for name, step in end.steps.items()} == dict.fromkeys(end.steps, "held")
    assert end.right
    assert end.steps["scale"].judged.best == 0.0


def test_turning_a_preset_moves_every_circuit_of_a_virtual_set_and_a_voltage_stays_what_it_is() -> None:
    procedure = read(BY_SCALE)
    population = read_population(folder("demo_data") / "population.toml")
    virtual = VirtualSet(procedure, draw(procedure, population, 1, 0), population, 0)
    bench = virtual.bench

    def seen(point: dict[str, object]) -> tuple[float, float]:
        bench.tune(point)
        antenna = bench.circuit("antenna")
        return float(bench.oscillator_hz()), float(bench.resonance(antenna))

    ends, volts = seen({"end": "low"}), seen({"volts": 3.0})
    virtual.hand.move_to("low-preset", virtual.hand.at["low-preset"] * 0.5)
    moved, still = seen({"end": "low"}), seen({"volts": 3.0})
    assert moved[0] < ends[0] * 0.999
    assert moved[1] < ends[1] * 0.999
    assert still == pytest.approx(volts, rel=1e-3)


def test_a_preset_that_is_asked_for_leaves_the_reading_where_it_was_led() -> None:
    procedure = read(BY_SCALE)
    population = read_population(folder("demo_data") / "population.toml")
    virtual = VirtualSet(procedure, draw(procedure, population, 1, 0), population, 0)
    common = {"step": "scale", "circuit": "oscillator", "point": {"end": "low"}, "generator": None, "text": ""}
    first = virtual.answer({"id": 1, "ask": "read", "quantity": "frequency", **common})["reading"]
    assert isinstance(first, float)
    aim = {"quantity": "frequency", "value": first * 1.003, "within": 5e3}
    touch = {"ask": "touch", "adjuster": "low-preset", "aim": aim, "direction": "more", "amount": None}
    answer = virtual.answer({"id": 2, **touch, **common})
    assert answer["reading"] == pytest.approx(first * 1.003, rel=3e-4)
    again = virtual.answer({"id": 3, "ask": "read", "quantity": "frequency", **common})["reading"]
    assert again == pytest.approx(answer["reading"], rel=3e-4)
