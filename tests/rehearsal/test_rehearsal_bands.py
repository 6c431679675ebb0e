"""Virtual sets with several bands on one gang, cut plates, and fixed padders."""

import numpy as np
import pytest

from aligner.errors import UsageError
from aligner.procedure.model import Procedure
from aligner.procedure.reader import parse_procedure, read_procedure
from aligner.rehearsal.bench import Bench
from aligner.rehearsal.design import design
from aligner.rehearsal.draw import draw
from aligner.rehearsal.electrical import Electrical
from aligner.rehearsal.parts import Parts
from aligner.rehearsal.population import Population
from aligner.rehearsal.set import VirtualSet
from aligner.shipped import folder


@pytest.fixture(scope="module")
def three() -> Procedure:
    return read_procedure(folder("procedures") / "lw-mw-sw.toml")


def middles(parts: Parts) -> dict[str, float]:
    """Screws where the design has its values: trimmers in the middle, cores where they give half of their reach."""
    places = {}
    for circuit in parts.circuits:
        coil = circuit.coil
        places[coil.screw] = coil.centre - coil.width * float(np.sqrt(np.log(2.0)))
        for trimmer in (*circuit.trimmers, *((circuit.padder,) if circuit.padder else ())):
            places[trimmer.screw] = 0.25 if trimmer.law == "rotary" else trimmer.travel / 2
    return places


def test_each_band_has_its_own_scale_and_oscillator(three: Procedure, population: Population) -> None:
    parts = design(three, population.fixed)
    assert [len(parts.scale(band)) for band in ("mw", "lw", "sw")] == [33, 33, 33]
    virtual = VirtualSet(three, parts, population, 0)
    for band, hz in (("mw", 1000e3), ("lw", 210e3), ("sw", 11e6)):
        virtual.bench.begin(band)
        assert virtual.bench.electrical.oscillator.id == f"oscillator-{band}"
        assert 0.0 < virtual.bench.dialled(hz) < 1.0
        assert [row.id for row in virtual.bench.electrical.signals] == [f"antenna-{band}"]


def test_a_trimmer_that_bands_share_is_one_part(three: Procedure, population: Population) -> None:
    parts = draw(three, population, 1, 0)
    found = {
        row.id: trimmer for row in parts.circuits for trimmer in row.trimmers if trimmer.screw == "gang-trimmer-antenna"
    }
    assert set(found) == {"antenna-mw", "antenna-lw", "antenna-sw"}
    assert len(set(found.values())) == 1
    assert [row.id for row in parts.screws].count("gang-trimmer-antenna") == 1


def test_turning_a_shared_trimmer_moves_every_band(three: Procedure, population: Population) -> None:
    virtual = VirtualSet(three, draw(three, population, 1, 0), population, 0)

    def everywhere(bench: Bench) -> list[float]:
        rows = []
        for band in ("mw", "lw", "sw"):
            bench.begin(band)
            bench.tuning = 0.7
            rows.append(float(bench.oscillator_hz()))
        return rows

    before = everywhere(virtual.bench)
    virtual.turn("gang-trimmer-oscillator", 0.1)
    assert all(abs(after / was - 1) > 1e-4 for was, after in zip(before, everywhere(virtual.bench), strict=True))


def test_the_same_pointer_is_another_place_after_the_band_was_switched(
    three: Procedure, population: Population
) -> None:
    virtual = VirtualSet(three, draw(three, population, 1, 0), population, 0)
    shown = []
    for number, band in enumerate(("mw", "sw"), 1):
        ask = {"id": number, "ask": "read", "step": f"coverage-{band}", "quantity": "frequency"}
        shown.append(float(str(virtual.answer({**ask, "point": {"end": "low"}})["reading"])))
    assert shown[0] < 2e6
    assert shown[1] > 5e6


def test_cut_plates_follow_over_the_whole_band_without_a_padder(population: Population) -> None:
    procedure = read_procedure(folder("procedures") / "mw-cut-plates.toml")
    parts = design(procedure, population.fixed)
    circuits, places = Electrical(parts), middles(parts)
    leader, signal = parts.circuit("oscillator"), parts.circuit("antenna")
    assert leader.section is not None
    assert leader.section.rows
    shaft = np.linspace(0.05, 0.95, 19)
    signal_hz = np.asarray(circuits.resonance(signal, shaft, {**places, "rod-coil": 2.0}))
    apart = np.asarray(circuits.resonance(leader, shaft, places)) - signal_hz
    # Beside the coil's self-capacitance, which is not where the design put it, only the curve between rows is left.
    assert apart == pytest.approx(455e3, abs=3e3)


SPAN = '[tuning]\nby = "gang"\nrange = ["12 pF", "480 pF"]'


def padded(value: str) -> Procedure:
    text = (folder("procedures") / "sw-image.toml").read_text(encoding="utf-8")
    text = text.replace('[tuning]\nby = "gang"', SPAN).replace('padder = "1.5 nF"', f'padder = "{value}"')
    return parse_procedure(text, "padded.toml")


def test_a_fixed_padder_beside_a_gang_of_known_capacitance_is_what_the_procedure_says(population: Population) -> None:
    made = design(padded("1.8 nF"), population.fixed).circuit("oscillator").padder
    assert made is not None
    assert made.low == pytest.approx(1.8e-9)


def test_a_padder_with_which_no_circuit_could_track_is_told_with_one_that_would_do(population: Population) -> None:
    with pytest.raises(UsageError, match=r"padder of 150 pF .* 1949 pF would"):
        design(padded("150 pF"), population.fixed)


def test_a_fixed_padder_has_no_screw(population: Population) -> None:
    text = (folder("procedures") / "sw-image.toml").read_text(encoding="utf-8")
    procedure = parse_procedure(text, "sw-image.toml")
    parts = draw(procedure, population, 1, 0)
    padder = parts.circuit("oscillator").padder
    assert padder is not None
    assert (padder.law, padder.screw) == ("fixed", "")
    assert "" not in [row.id for row in parts.screws]
    assert padder.low == padder.high
