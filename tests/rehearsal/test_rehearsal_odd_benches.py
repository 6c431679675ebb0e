"""Benches and asks that the shipped procedures do not need, but others may."""

from collections.abc import Mapping
from dataclasses import replace

import pytest

from aligner.procedure.model import CoveragePoint, CoverageStep, Meter, Place, Procedure
from aligner.rehearsal.set import VirtualSet
from aligner.rehearsal.truth import Truth
from tests.rehearsal.conftest import Drawn


def centred(procedure: Procedure, drawn: Drawn, index: int = 2) -> VirtualSet:
    """A set whose screws stand where the design puts them."""
    virtual = drawn(procedure, index)
    for screw in virtual.parts.screws:
        share = 0.25 if not screw.stops else 0.58 if "coil" in screw.id else 0.75
        virtual.hand.at[screw.id] = virtual.hand.tool[screw.id] = share * screw.travel
    if "oscillator-coil" in virtual.hand.at and procedure.tuning.by == "voltage":
        virtual.hand.at["oscillator-coil"] = 2.0
    return virtual


def level_ask(number: int, hz: float) -> dict[str, object]:
    generator = {"hz": hz, "modulation": "none", "into": "aerial", "through": ""}
    common = {"step": "antenna", "circuit": "antenna", "point": {"received": hz}, "generator": generator}
    return {"id": number, "ask": "read", "quantity": "level", **common}


def reading(answer: Mapping[str, object]) -> float:
    value = answer["reading"]
    assert isinstance(value, float)
    return value


def detuned_fall(procedure: Procedure, drawn: Drawn) -> float:
    """By how much the shown level changes when the antenna core goes from its peak to half a turn off."""
    virtual = centred(procedure, drawn)
    hz = virtual.bench.received_hz()
    peak = {**level_ask(1, hz), "ask": "peak", "adjuster": "antenna-coil", "find": "max", "fine": True, "rock": False}
    top = reading(virtual.answer(peak))
    virtual.hand.move_to("antenna-coil", virtual.positions()["antenna-coil"] - 0.5)
    return reading(virtual.answer(level_ask(2, hz))) - top


def test_a_meter_of_unknown_law_shows_half_of_each_decibel(fm: Procedure, drawn: Drawn) -> None:
    plain = detuned_fall(fm, drawn)
    compressed = detuned_fall(replace(fm, meter=Meter("unknown", "up", 0.1)), drawn)
    assert plain < -1.0
    assert compressed == pytest.approx(plain / 2, abs=0.3)


def test_a_meter_that_falls_with_more_signal_rises_off_the_peak(fm: Procedure, drawn: Drawn) -> None:
    assert detuned_fall(replace(fm, meter=Meter("log", "down", 0.1)), drawn) > 1.0


def test_a_wand_by_a_meter_of_unknown_law_gives_only_trends(fm: Procedure, drawn: Drawn) -> None:
    virtual = centred(replace(fm, meter=Meter("unknown", "up", 0.1)), drawn)
    answer = virtual.answer({**level_ask(1, virtual.bench.received_hz()), "ask": "wand"})
    assert {answer["ferrite"], answer["brass"]} <= {"up", "down", "same"}
    assert "none" not in answer


def test_rocking_sets_the_oscillator_where_the_aerial_circuit_resonates(mw: Procedure, drawn: Drawn) -> None:
    virtual = centred(mw, drawn)
    hz = 700e3
    ask = {
        **level_ask(1, hz), "ask": "peak", "adjuster": "oscillator-padder", "circuit": "oscillator", "find": "max",
        "fine": False, "rock": True, "point": {"dial": hz},
    }  # fmt: skip
    answer = virtual.answer(ask)
    if "cannot" not in answer:
        assert float(virtual.bench.oscillator_hz()) == pytest.approx(hz + 455e3, rel=3e-3)
    signal = virtual.parts.circuit("antenna")
    # The aerial circuit was left alone and resonates there, as nearly as one peaks by rocking.
    assert float(virtual.bench.resonance(signal)) == pytest.approx(hz, abs=4e3)


def test_a_mark_on_the_scale_is_where_its_frequency_is_printed(mw: Procedure, drawn: Drawn) -> None:
    marked = CoveragePoint(Place(mark="red dot"), 1400e3)
    coverage = mw.step("coverage")
    assert isinstance(coverage, CoverageStep)
    steps = tuple(replace(coverage, points=(*coverage.points[:2], marked)) if s is coverage else s for s in mw.steps)
    virtual = drawn(replace(mw, steps=steps))
    read = {"ask": "read", "step": "coverage", "quantity": "frequency", "circuit": "oscillator"}
    by_mark = reading(virtual.answer({**read, "id": 1, "point": {"mark": "red dot"}}))
    by_dial = reading(virtual.answer({**read, "id": 2, "point": {"dial": 1400e3}}))
    assert by_mark == pytest.approx(by_dial, rel=3e-3)  # the pointer is set anew each time


def test_a_stage_fed_alone_is_peaked_at_the_voltage_wanted(fm: Procedure, drawn: Drawn) -> None:
    virtual = centred(fm, drawn)
    hz = virtual.bench.received_hz()
    ask = {**level_ask(1, hz), "ask": "touch", "adjuster": "antenna-coil"}
    aim = {"quantity": "volts", "value": 4.5, "within": 0.05}
    answer = virtual.answer({**ask, "aim": aim, "direction": None, "amount": None})
    signal = virtual.parts.circuit("antenna")
    held = float(virtual.bench.electrical.resonance(signal, 4.5, virtual.positions()))
    assert reading(answer) == pytest.approx(4.5, abs=0.3)
    assert held == pytest.approx(hz, abs=4 * 80e3)  # within four times the spread of a plain peak


def test_what_cannot_be_tuned_to_is_not_aligned(fm: Procedure, drawn: Drawn) -> None:
    virtual = drawn(fm)
    step = fm.step("antenna")
    assert step.kind == "tracking"
    far = replace(step, points_hz=(90e6, 150e6))
    assert not Truth(virtual).judge(far).aligned
    assert not Truth(virtual).judge(far).can
