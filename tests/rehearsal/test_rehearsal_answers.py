from collections.abc import Mapping

import numpy as np
import pytest

from aligner.procedure.model import Procedure
from aligner.rehearsal.instruments import mistyped
from aligner.rehearsal.set import VirtualSet
from tests.rehearsal.conftest import Drawn

GENERATOR = {"hz": 98e6, "modulation": "none", "into": "aerial", "through": ""}


def ask(number: int, kind: str, **more: object) -> dict[str, object]:
    return {"id": number, "ask": kind, "step": "antenna", "text": "", "why": "", **more}


def touch(number: int, adjuster: str, aim: Mapping[str, object], **more: object) -> dict[str, object]:
    circuit = adjuster.split("-", maxsplit=1)[0]
    return ask(number, "touch", adjuster=adjuster, circuit=circuit, aim=aim, generator=None, **more)


def roughly_right(fm: Procedure, drawn: Drawn) -> VirtualSet:
    """A set whose adjusters stand where the design puts them."""
    virtual = drawn(fm, 3)
    for name in virtual.positions():
        virtual.hand.at[name] = virtual.hand.tool[name] = 0.25 if "trimmer" in name else 2.0 if "osc" in name else 4.05
    return virtual


def number(answer: Mapping[str, object], key: str = "reading") -> float:
    value = answer[key]
    assert isinstance(value, float | int)
    return float(value)


def test_a_confirmation_is_given(fm: Procedure, drawn: Drawn) -> None:
    assert drawn(fm).answer(ask(1, "confirm")) == {"id": 1, "done": True}


def test_the_counter_shows_whole_counts_of_the_prescaler(fm: Procedure, drawn: Drawn) -> None:
    virtual = drawn(fm)
    read = number(virtual.answer(ask(1, "read", quantity="frequency", circuit="oscillator", point={"volts": 4.0})))
    assert read % 10 == 0  # a gate of 0.1 s shows steps of 10 Hz
    assert read * 256 == pytest.approx(float(virtual.bench.oscillator_hz()), rel=1e-4)


def test_a_point_received_puts_the_oscillator_one_if_above(fm: Procedure, drawn: Drawn) -> None:
    virtual = drawn(fm)
    here = virtual.bench.received_hz()
    virtual.answer(ask(1, "read", quantity="frequency", circuit="", point={"received": here + 1e6}))
    assert float(virtual.bench.oscillator_hz()) == pytest.approx(here + 1e6 + 10.7e6, rel=2e-4)


def test_a_point_out_of_reach_gives_no_reading(fm: Procedure, drawn: Drawn) -> None:
    answer = drawn(fm).answer(ask(1, "read", quantity="resonance", circuit="antenna", point={"received": 200e6}))
    assert answer == {"id": 1, "cannot": "no-reading"}


def test_a_touch_stops_at_its_aim_and_counts_turns_in_eighths(fm: Procedure, drawn: Drawn) -> None:
    virtual = drawn(fm)
    here = float(virtual.bench.resonance(virtual.parts.circuit("antenna")))
    aim = {"quantity": "resonance", "value": here * 1.01, "within": here * 1e-4}
    answer = virtual.answer(touch(1, "antenna-coil", aim, point={"volts": 5.0}))
    now = float(virtual.bench.resonance(virtual.parts.circuit("antenna")))
    assert "cannot" in answer or now == pytest.approx(here * 1.01, rel=2e-2)
    assert number(answer) == pytest.approx(now, rel=1e-3)
    assert number(answer, "turns") % 0.125 == 0


def test_turns_are_never_given_of_what_cannot_be_counted(fm: Procedure, drawn: Drawn) -> None:
    virtual = drawn(fm)
    aim = {"quantity": "frequency", "value": 390e3, "within": 200.0}
    assert "turns" not in virtual.answer(touch(1, "oscillator-coil", aim, point={"volts": 2.0}))
    turned = {"quantity": "turns", "value": 1.0, "within": 0.1}
    assert virtual.answer(touch(2, "oscillator-trimmer", turned, point={"volts": 2.0})) == {
        "id": 2,
        "cannot": "no-reading",
    }


def test_an_aim_out_of_travel_ends_at_the_stop(fm: Procedure, drawn: Drawn) -> None:
    virtual = drawn(fm)
    aim = {"quantity": "resonance", "value": 300e6, "within": 1e5}
    answer = virtual.answer(touch(1, "antenna-coil", aim, point={"volts": 2.0}))
    assert answer["cannot"] == "end-of-travel"
    assert number(answer) < 150e6
    assert virtual.positions()["antenna-coil"] == 0.0


def test_an_aim_in_turns_turns_by_so_much_and_play_is_lost_on_the_way_back(fm: Procedure, drawn: Drawn) -> None:
    virtual = drawn(fm)
    screw = virtual.parts.screw("antenna-coil")
    virtual.hand.at["antenna-coil"] = virtual.hand.tool["antenna-coil"] = 3.0
    virtual.turn("antenna-coil", 1.0 * screw.clockwise)
    out = virtual.positions()["antenna-coil"]
    virtual.turn("antenna-coil", -1.0 * screw.clockwise)
    back = virtual.positions()["antenna-coil"]
    assert out == pytest.approx(4.0 - screw.play / 2)
    assert out - back == pytest.approx(1.0 - screw.play)
    aim = {"quantity": "turns", "value": 0.5 * screw.clockwise, "within": 0.1}
    answer = virtual.answer(touch(1, "antenna-coil", aim, point={"volts": 5.0}))
    assert number(answer) == number(answer, "turns")
    assert abs(number(answer) - 0.5 * screw.clockwise) <= 0.125


def peak_errors(fm: Procedure, drawn: Drawn, *, fine: bool) -> float:
    virtual = roughly_right(fm, drawn)
    hz = float(virtual.bench.received_hz())
    generator = {**GENERATOR, "hz": hz}
    common = {"circuit": "antenna", "quantity": "level", "find": "max", "rock": False, "generator": generator}
    errors = []
    for n in range(200):
        answer = virtual.answer(
            ask(n + 1, "peak", adjuster="antenna-coil", point={"received": hz}, fine=fine, **common)
        )
        assert "cannot" not in answer
        errors.append(float(virtual.bench.resonance(virtual.parts.circuit("antenna"))) - hz)
    quality = virtual.parts.circuit("antenna").coil.quality
    return float(np.std(errors)) * (98e6 / hz) * (quality / 60)


def test_a_plain_peak_is_off_by_eighty_kilohertz_and_a_fine_one_by_twenty(fm: Procedure, drawn: Drawn) -> None:
    # 200 draws know a standard deviation to 5 %; four of those.
    assert peak_errors(fm, drawn, fine=False) == pytest.approx(80e3, rel=0.2)
    assert peak_errors(fm, drawn, fine=True) == pytest.approx(20e3, rel=0.2)


def test_turning_on_past_the_peak_ends_at_the_level_wanted_on_the_other_side(fm: Procedure, drawn: Drawn) -> None:
    virtual = roughly_right(fm, drawn)
    hz = float(virtual.bench.received_hz())
    generator = {**GENERATOR, "hz": hz}
    peaked = ask(
        1, "peak", adjuster="antenna-coil", circuit="antenna", point={"received": hz}, generator=generator,
        quantity="level", find="max", fine=True, rock=False,
    )  # fmt: skip
    top = number(virtual.answer(peaked))
    before = virtual.positions()["antenna-coil"]
    aim = {"quantity": "level", "value": top - 4.0, "within": 0.2}
    fall = {**touch(2, "antenna-coil", aim, point={"received": hz}, direction="more"), "generator": generator}
    answer = virtual.answer(fall)
    assert "cannot" not in answer
    assert number(answer) == pytest.approx(top - 4.0, abs=0.4)
    assert virtual.positions()["antenna-coil"] > before
    assert float(virtual.bench.resonance(virtual.parts.circuit("antenna"))) < hz


def test_a_wand_tells_which_way_the_coil_is_off(fm: Procedure, drawn: Drawn) -> None:
    virtual = roughly_right(fm, drawn)
    hz = float(virtual.bench.received_hz())
    generator = {**GENERATOR, "hz": hz}
    circuit = virtual.parts.circuit("antenna")
    for n, factor in enumerate((1.02, 0.98)):
        aim = {"quantity": "resonance", "value": hz * factor, "within": 1e4}
        virtual.answer(touch(2 * n + 1, "antenna-coil", aim, point={"received": hz}))
        seen = virtual.answer(ask(2 * n + 2, "wand", circuit="antenna", point={"received": hz}, generator=generator))
        too_high = float(virtual.bench.resonance(circuit)) > hz
        assert too_high is (factor > 1)
        assert (number(seen, "ferrite") > number(seen, "none")) is too_high
        assert (number(seen, "brass") > number(seen, "none")) is not too_high


def test_a_sweep_has_its_maximum_at_the_resonance(fm: Procedure, drawn: Drawn) -> None:
    virtual = roughly_right(fm, drawn)
    centre = float(virtual.bench.resonance(virtual.parts.circuit("antenna")))
    swept = ask(1, "sweep", quantity="level", circuit="antenna", count=81, **{"from": centre - 4e6, "to": centre + 4e6})
    points = virtual.answer(swept)["points"]
    assert isinstance(points, list)
    assert len(points) == 81
    assert max(points, key=lambda row: row[1])[0] == pytest.approx(centre, abs=4e5)


def test_a_generator_that_the_set_is_not_tuned_to_cannot_be_heard(fm: Procedure, drawn: Drawn) -> None:
    virtual = roughly_right(fm, drawn)
    hz = float(virtual.bench.received_hz())
    read = {"quantity": "level", "circuit": "antenna", "point": {"received": hz}}
    near = virtual.answer(ask(1, "read", **read, generator={**GENERATOR, "hz": hz}))
    far = virtual.answer(ask(2, "read", **read, generator={**GENERATOR, "hz": hz + 5e6}))
    assert "reading" in near
    assert far == {"id": 2, "cannot": "no-reading"}


def test_a_stage_voltage_is_where_the_stage_alone_would_peak(fm: Procedure, drawn: Drawn) -> None:
    virtual = roughly_right(fm, drawn)
    circuit = virtual.parts.circuit("antenna")
    hz = float(virtual.bench.electrical.resonance(circuit, 5.0, virtual.positions()))
    read = ask(1, "read", quantity="volts", circuit="antenna", point={"volts": 4.0}, generator={**GENERATOR, "hz": hz})
    assert number(virtual.answer(read)) == pytest.approx(5.0, abs=0.15)  # a plain peak is off by tens of millivolts


def test_a_doubted_blunder_is_answered_rightly_the_second_time(fm: Procedure, drawn: Drawn) -> None:
    virtual = drawn(fm, blunders=1.0)
    read = ask(1, "read", quantity="frequency", circuit="oscillator", point={"volts": 4.0})
    wrong, right = virtual.answer(read), virtual.answer(read)
    true = float(virtual.bench.oscillator_hz()) / 256
    assert number(wrong) != pytest.approx(true, rel=1e-3)
    assert number(right) == pytest.approx(true, rel=1e-3)
    assert "insist" not in right


def test_what_was_read_rightly_is_insisted_on_when_doubted(fm: Procedure, drawn: Drawn) -> None:
    virtual = drawn(fm)
    read = ask(1, "read", quantity="frequency", circuit="oscillator", point={"volts": 4.0})
    virtual.answer(read)
    assert virtual.answer(read)["insist"] is True


def test_doubt_does_not_turn_the_screw_again(fm: Procedure, drawn: Drawn) -> None:
    virtual = drawn(fm)
    aim = {"quantity": "turns", "value": 0.5, "within": 0.1}
    asked = touch(1, "antenna-coil", aim, point={"volts": 5.0})
    first = virtual.answer(asked)
    there = virtual.positions()
    again = virtual.answer(asked)
    assert virtual.positions() == there
    assert again["turns"] == first["turns"]


def test_blunders_are_slipped_decimals_wrong_units_or_misread_digits() -> None:
    rng = np.random.default_rng(1)
    ratios = {round(mistyped(98_412_000.0, rng) / 98_412_000.0, 6) for _ in range(300)}
    assert {10.0, 0.1, 0.001} <= ratios
    assert 1.0 not in ratios
    assert len(ratios) > 10


def test_the_display_follows_the_hand_live(fm: Procedure, drawn: Drawn) -> None:
    virtual = drawn(fm)
    asked = touch(1, "oscillator-coil", {"quantity": "frequency", "value": 4e5, "within": 1.0}, point={"volts": 5.0})
    quantity, before = virtual.display(asked)
    virtual.turn("oscillator-coil", 0.5)
    _, after = virtual.display(asked)
    assert quantity == "frequency"
    spread = virtual.parts.screw("oscillator-coil").clockwise > 0
    assert (after > before) is spread


def test_a_gang_set_is_tuned_by_its_printed_scale(mw: Procedure, drawn: Drawn) -> None:
    virtual = drawn(mw)
    read = {"quantity": "frequency", "circuit": "oscillator"}
    low, high = (
        number(virtual.answer(ask(n, "read", **read, point={"dial": hz}))) for n, hz in enumerate((600e3, 1400e3), 1)
    )
    assert low < high
    closed = number(virtual.answer(ask(3, "read", **read, point={"end": "low"})))
    assert closed < low
