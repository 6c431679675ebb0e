"""The strip of a virtual set: textbook circuits, its true middle, and that it is answered for as the pipe asks."""

import msgspec
import numpy as np
import pytest

from aligner.procedure.model import Procedure
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.design import design
from aligner.rehearsal.draw import draw
from aligner.rehearsal.parts import Can, Strip
from aligner.rehearsal.population import Population
from aligner.rehearsal.set import VirtualSet
from aligner.rehearsal.set_file import demo_set
from aligner.rehearsal.strip import StripElectrical, resonance_of, screw_of
from aligner.shipped import folder

IF_HZ = 10.7e6
GENERATOR = {"hz": IF_HZ, "modulation": "none", "into": "mixer", "through": ""}


@pytest.fixture(scope="module")
def full() -> Procedure:
    return read_procedure(folder("procedures") / "fm-varactor-full.toml")


@pytest.fixture(scope="module")
def alone() -> Procedure:
    return read_procedure(folder("procedures") / "if-strip.toml")


def strip_of(procedure: Procedure, population: Population) -> tuple[Strip, dict[str, float]]:
    """The strip of the design with every winding in the middle of its screw's travel in effect: in tune."""
    parts = design(procedure, population.fixed)
    assert parts.strip is not None
    places = {}
    for name, winding in StripElectrical(parts.strip).windings().items():
        grid = np.linspace(0.0, winding.coil.travel, 20001)
        places[name] = float(grid[np.argmin(np.abs(np.asarray(resonance_of(winding, {name: grid})) - IF_HZ))])
    return parts.strip, places


def only(strip: Strip, *cans: Can) -> StripElectrical:
    return StripElectrical(msgspec.structs.replace(strip, cans=cans, filters=()))


def test_a_filter_is_as_wide_at_3_db_as_is_stated(full: Procedure, population: Population) -> None:
    strip, places = strip_of(full, population)
    for part, width in zip(strip.filters, (230e3, 180e3), strict=True):
        one = StripElectrical(msgspec.structs.replace(strip, cans=(), filters=(part,)))
        # Edges lie where f/f0 - f0/f is the same on both sides: their product is f0 squared.
        half = width / 2
        edges = np.sqrt(part.centre**2 + half**2) + np.array([-half, half])
        assert np.asarray(one.level_db(edges, places)) == pytest.approx([-3.01, -3.01], abs=0.02)
        assert np.max(one.level_db(np.linspace(10.4e6, 11.0e6, 2001), places)) == pytest.approx(0.0, abs=0.01)


def test_a_single_can_has_lost_3_db_where_it_is_off_by_half_its_width(full: Procedure, population: Population) -> None:
    strip, places = strip_of(full, population)
    can = strip.cans[0]
    half = IF_HZ / can.windings[0].coil.quality / 2
    assert float(only(strip, can).level_db(IF_HZ, places)) == pytest.approx(0.0, abs=0.01)
    assert float(only(strip, can).level_db(IF_HZ + half, places)) == pytest.approx(-3.01, abs=0.15)


def test_a_can_past_critical_coupling_has_two_humps_and_one_where_a_winding_is_loaded(
    alone: Procedure, population: Population
) -> None:
    strip, places = strip_of(alone, population)
    can = strip.cans[1]
    other = screw_of(can.windings[0])
    grid = np.linspace(10.2e6, 11.2e6, 2001)
    free = np.asarray(only(strip, can).level_db(grid, places))
    loaded = np.asarray(StripElectrical(only(strip, can).strip, other).level_db(grid, places))
    assert humps(free) == 2
    assert humps(loaded) == 1
    assert abs(grid[np.argmax(loaded)] - IF_HZ) < 3e3
    assert loaded.max() < free.max() - 3


def humps(level: "np.ndarray[tuple[int], np.dtype[np.float64]]") -> int:
    return int(np.sum((level[1:-1] > level[:-2]) & (level[1:-1] >= level[2:])))


def test_a_detectors_zero_is_the_secondarys_and_the_primary_only_tilts_it(
    full: Procedure, population: Population
) -> None:
    strip, places = strip_of(full, population)
    wide = StripElectrical(msgspec.structs.replace(strip, cans=(), filters=()))
    assert strip.detector is not None
    assert strip.detector.primary is not None
    primary = screw_of(strip.detector.primary)
    for moved in (-0.4, 0.0, 0.4):
        volts, _ = wide.detector_volts(IF_HZ, {**places, primary: places[primary] + moved})
        assert float(volts) == pytest.approx(0.0, abs=2e-3)
    peaks = np.asarray(wide.detector_volts(np.linspace(10.2e6, 11.2e6, 2001), places)[0])
    assert peaks.max() == pytest.approx(-peaks.min(), rel=0.05)
    tilted = {**places, primary: places[primary] + 0.4}
    unlike = np.asarray(wide.detector_volts(np.linspace(10.2e6, 11.2e6, 2001), tilted)[0])
    assert abs(unlike.max() + unlike.min()) > 0.1 * unlike.max()


def test_the_middle_of_the_strip_is_the_filters_where_the_cans_are_broad(
    full: Procedure, population: Population
) -> None:
    strip, places = strip_of(full, population)
    moved = tuple(msgspec.structs.replace(row, centre=10.73e6) for row in strip.filters)
    assert StripElectrical(strip).centre_hz(places) == pytest.approx(IF_HZ, abs=1e3)
    shifted = StripElectrical(msgspec.structs.replace(strip, cans=(), filters=moved))
    assert shifted.centre_hz(places) == pytest.approx(10.73e6, abs=1e3)


def test_a_trap_alone_leaves_the_if_where_it_is(population: Population) -> None:
    only = read_procedure(folder("procedures") / "sw-image.toml")
    virtual = VirtualSet(only, draw(only, population, 20, 3), population, 5)
    assert virtual.bench.strip is not None
    assert not virtual.bench.strip.selects
    assert virtual.bench.electrical.parts.intermediate == only.intermediate_hz
    virtual.bench.settle_strip()
    assert virtual.bench.electrical.parts.intermediate == only.intermediate_hz
    generator_hz = 9e6
    right = virtual.bench.intermediate_db(generator_hz, generator_hz + only.intermediate_hz)
    beside = virtual.bench.intermediate_db(generator_hz, generator_hz + 1.05 * only.intermediate_hz)
    assert float(right) == pytest.approx(0.0, abs=0.01)
    assert float(beside) < -20.0


def test_the_front_end_is_the_same_set_with_and_without_a_strip(full: Procedure, population: Population) -> None:
    front = draw(read_procedure(folder("procedures") / "fm-varactor.toml"), population, 20, 3)
    whole = draw(full, population, 20, 3)
    assert whole.circuits == front.circuits
    assert whole.screws[: len(front.screws)] == front.screws
    assert whole.gain_db == front.gain_db


def test_the_true_middle_says_where_a_frequency_is_truly_received(full: Procedure) -> None:
    virtual = demo_set(full)
    virtual.answer({"id": 1, "ask": "read", "step": "image", "quantity": "level", "point": {"received": 98e6}})
    parts = virtual.bench.electrical.parts
    assert parts.intermediate != full.intermediate_hz
    # What the person sets it by: 3 kHz at 98 MHz.
    assert float(virtual.bench.oscillator_hz()) == pytest.approx(98e6 + parts.intermediate, abs=12e3)


def test_the_demos_full_set_has_its_middle_30_khz_above_nominal_once_its_cans_follow(full: Procedure) -> None:
    virtual = demo_set(full)
    for number, name in enumerate(("second-core", "first-core"), 1):
        generator = {**GENERATOR, "hz": 10.73e6}
        ask = {"id": number, "ask": "peak", "step": "cans", "adjuster": name, "circuit": "", "quantity": "level"}
        given = virtual.answer({**ask, "find": "max", "fine": True, "point": {"volts": 2.0}, "generator": generator})
        assert "cannot" not in given
    virtual.bench.settle_strip()
    assert virtual.bench.electrical.parts.intermediate == pytest.approx(10.73e6, abs=4e3)


def test_a_warm_up_takes_its_time_between_readings(full: Procedure) -> None:
    virtual = demo_set(full)
    ask = {"ask": "read", "step": "warm", "quantity": "frequency", "point": {"volts": 2.0}}
    times = []
    for number in (1, 2, 3):
        virtual.answer({**ask, "id": number})
        times.append(virtual.bench.at_s)
    assert np.diff(times) == pytest.approx([120.0, 120.0])


def test_a_second_look_that_finds_nothing_says_only_that(full: Procedure, population: Population) -> None:
    virtual = VirtualSet(full, draw(full, population, 5, 0), population, 0)
    ask = {"id": 1, "ask": "read", "step": "image", "quantity": "level", "point": {"received": 98e6}}
    first = virtual.answer({**ask, "generator": {**GENERATOR, "hz": 98e6}})
    assert "reading" in first
    again = virtual.answer({**ask, "generator": {**GENERATOR, "hz": 60e6}})
    assert again["cannot"] == "no-reading"
    assert "reading" not in again


def test_a_can_that_rises_to_the_end_of_its_travel_will_not_peak(alone: Procedure, population: Population) -> None:
    parts = draw(alone, population, 5, 0)
    assert parts.strip is not None
    can = parts.strip.cans[0]
    coil = msgspec.structs.replace(can.windings[0].coil, inductance=can.windings[0].coil.inductance * 0.6)
    faulty = msgspec.structs.replace(can, windings=(msgspec.structs.replace(can.windings[0], coil=coil),))
    strip = msgspec.structs.replace(parts.strip, cans=(faulty, *parts.strip.cans[1:]))
    virtual = VirtualSet(alone, msgspec.structs.replace(parts, strip=strip), population, 0)
    ask = {"id": 1, "ask": "peak", "step": "cans", "adjuster": "first-core", "circuit": "first-can"}
    given = virtual.answer({**ask, "quantity": "level", "find": "max", "fine": True, "generator": GENERATOR})
    assert given["cannot"] == "end-of-travel"
