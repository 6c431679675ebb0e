"""Touchstone files against scikit-rf, an independent reader of the same standard."""

import math
import random
import warnings
from pathlib import Path

import pytest
import skrf

from aligner.readings.sweeps import read_sweep

RANDOM = random.Random(20)
SCALES = {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6, "GHz": 1e9}


def row_of(ports: int, form: str) -> str:
    numbers = []
    for _ in range(ports**2):
        magnitude, angle = RANDOM.uniform(0.01, 1.0), RANDOM.uniform(-180, 180)
        if form == "DB":
            numbers += [20 * math.log10(magnitude), angle]
        elif form == "RI":
            numbers += [magnitude * math.cos(angle), magnitude * math.sin(angle)]
        else:
            numbers += [magnitude, angle]
    return " ".join(f"{number:.9g}" for number in numbers)


def levels(path: Path, out: int, into: int) -> list[tuple[float, float]]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        network = skrf.Network(str(path))
    return [(float(hz), float(db)) for hz, db in zip(network.f, network.s_db[:, out - 1, into - 1], strict=True)]


@pytest.mark.parametrize("unit", ["Hz", "kHz", "MHz", "GHz"])
@pytest.mark.parametrize("form", ["MA", "DB", "RI"])
@pytest.mark.parametrize("ports", [1, 2, 3])
def test_every_parameter_of_version_1_agrees(tmp_path: Path, ports: int, form: str, unit: str) -> None:
    path = tmp_path / f"a.s{ports}p"
    rows = [f"{450 + step} {row_of(ports, form)}" for step in range(5)]
    path.write_text(f"! invented\n# {unit} S {form} R 50\n" + "\n".join(rows) + "\n")
    for out in range(1, ports + 1):
        for into in range(1, ports + 1):
            mine = read_sweep(path, parameter=(out, into)).points
            theirs = levels(path, out, into)
            assert [hz for hz, _ in mine] == pytest.approx([hz for hz, _ in theirs], rel=1e-12)
            # nine digits are written, so the levels agree to rounding
            assert [db for _, db in mine] == pytest.approx([db for _, db in theirs], abs=1e-6)


@pytest.mark.parametrize("order", ["12_21", "21_12"])
def test_both_orders_of_a_version_2_two_port_agree(tmp_path: Path, order: str) -> None:
    path = tmp_path / "a.ts"
    rows = "\n".join(f"{450 + step} {row_of(2, 'MA')}" for step in range(4))
    path.write_text(
        f"[Version] 2.0\n# kHz S MA R 50\n[Number of Ports] 2\n[Two-Port Data Order] {order}\n"
        f"[Number of Frequencies] 4\n[Reference] 50 50\n[Network Data]\n{rows}\n[End]\n"
    )
    for parameter in ((1, 1), (2, 1), (1, 2), (2, 2)):
        mine = [db for _, db in read_sweep(path, parameter=parameter).points]
        assert mine == pytest.approx([db for _, db in levels(path, *parameter)], abs=1e-6)


def test_a_two_port_row_of_version_1_is_s11_s21_s12_s22(tmp_path: Path) -> None:
    """S21 = .8457234 + .3078181j and S12 = .0173205 + .0100000j, as scikit-rf 2.2.0 reads the row."""
    path = tmp_path / "a.s2p"
    path.write_text("# MHz S MA R 50\n" + "".join(f"{mhz} 0.1 10 0.9 20 0.02 30 0.3 40\n" for mhz in (1, 2, 3)))
    assert read_sweep(path).points[0][1] == pytest.approx(20 * math.log10(abs(0.8457234 + 0.3078181j)), abs=1e-5)
    assert read_sweep(path, parameter=(1, 2)).points[0][1] == pytest.approx(
        20 * math.log10(abs(0.0173205 + 0.0100000j)), abs=1e-4
    )


def test_the_option_line_has_its_defaults_and_only_the_first_counts(tmp_path: Path) -> None:
    """A bare `#` means GHz, S, magnitude and angle, 50 ohm; a second option line is ignored (IBIS, version 1.1)."""
    path = tmp_path / "a.s1p"
    path.write_text("#\n# kHz S DB R 75\n1 0.5 0 ! a remark\n2 0.5 0\n3 0.5 0\n")
    assert read_sweep(path).points == tuple((ghz * 1e9, 20 * math.log10(0.5)) for ghz in (1.0, 2.0, 3.0))
    assert [hz for hz, _ in levels(path, 1, 1)] == [1e9, 2e9, 3e9]


def test_the_published_vector_in_decibels_is_read(tmp_path: Path) -> None:
    """`# kHz S DB R 75` with `455 -20 0 -3.0103 90 ...`: 455 kHz and |S21| = .707107 (reproduced with scikit-rf)."""
    path = tmp_path / "a.s2p"
    path.write_text("# kHz S DB R 75\n" + "".join(f"{khz} -20 0 -3.0103 90 -40 0 -20 0\n" for khz in (455, 456, 457)))
    hz, db = read_sweep(path).points[0]
    assert hz == 455e3
    assert 10 ** (db / 20) == pytest.approx(0.707107, abs=1e-6)
