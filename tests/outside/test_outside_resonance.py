"""Tuned circuits and the universal resonance curve against textbooks, and against a circuit simulator.

PTC: GitHub FOSSEE/Python-Textbook-Companions (transcriptions with stored outputs); the book stands at each check.
"""

import math

import numpy as np
import pytest

from aligner.circuits.resonance import (
    detuning,
    detuning_of_fall,
    fall_ratios,
    loss_db,
    phase_rad,
    quality_of_width,
    tolerance_hz,
    width_hz,
)
from aligner.circuits.tank import TunedCircuit, capacitance_for_f, resonance_hz, series_f, width_at_hz
from aligner.circuits.wand import frequency_change, part_change
from tests.outside.conftest import Simulate

PF, UH, KHZ, MHZ = 1e-12, 1e-6, 1e3, 1e6
PUBLISHED = 1e-3


def test_capacitance_of_a_coil_over_medium_wave() -> None:
    # PTC Beasley and Miller 3.1, p. 120: 10 uH, 550 and 1550 kHz: 8.374 nF and 1.054 nF.
    assert capacitance_for_f(550 * KHZ, 10 * UH) == pytest.approx(8.374e-9, rel=PUBLISHED)
    assert capacitance_for_f(1550 * KHZ, 10 * UH) == pytest.approx(1.054e-9, rel=PUBLISHED)
    assert capacitance_for_f(550 * KHZ, 10 * UH) == pytest.approx(8.37365e-9, rel=1e-5)


def test_width_at_constant_q() -> None:
    # The same example: 10 kHz at 1100 kHz is Q 110; 14090.91 Hz at 1550 kHz and 5000 Hz at 550 kHz.
    assert quality_of_width(1100 * KHZ, 10 * KHZ) == pytest.approx(110)
    assert width_hz(1550 * KHZ, 110) == pytest.approx(14090.91, rel=1e-6)
    assert width_at_hz(1550 * KHZ, 1100 * KHZ, 10 * KHZ, "constant-q") == pytest.approx(14090.91, rel=1e-6)
    assert width_at_hz(550 * KHZ, 1100 * KHZ, 10 * KHZ, "constant-q") == pytest.approx(5000)


def test_width_where_q_grows_as_the_root_of_frequency() -> None:
    # PTC Blake 6.1, p. 227: 10 kHz at 540 kHz becomes 17.743 kHz at 1700 kHz. Another assumption than the one above.
    assert width_at_hz(1700 * KHZ, 540 * KHZ, 10 * KHZ, "root-q") == pytest.approx(17.743 * KHZ, rel=1e-4)


def test_single_tuned_circuits_of_textbooks() -> None:
    # PTC Mehta 15.4, p. 397: Q 60 at 1200 kHz: 20 kHz; 15.5: 2 MHz and 50 kHz: Q 40.
    assert width_hz(1200 * KHZ, 60) == pytest.approx(20 * KHZ)
    assert quality_of_width(2 * MHZ, 50 * KHZ) == pytest.approx(40)
    # PTC Mehta 15.1, p. 394: 1.25 mH, 250 pF, 10 ohm: 284.7 kHz, Q 223.6.
    found = resonance_hz(1.25e-3, 250 * PF)
    assert found == pytest.approx(284.7 * KHZ, rel=PUBLISHED)
    assert 2 * math.pi * found * 1.25e-3 / 10 == pytest.approx(223.6, rel=PUBLISHED)
    # PTC Mehta 7.5, p. 137: 1 mH, 100 pF: 503.3 kHz. PTC Sedha 28.3, 28.4: 1600 kHz / 10 kHz: 160; 1 MHz / 100: 10 kHz.
    assert resonance_hz(1e-3, 100 * PF) == pytest.approx(503.3 * KHZ, rel=PUBLISHED)
    assert quality_of_width(1600 * KHZ, 10 * KHZ) == pytest.approx(160)
    assert width_hz(1 * MHZ, 100) == pytest.approx(10 * KHZ)
    # PTC Sedha 28.6, p. 720: 455 kHz, 10 kHz, X_L 1255 ohm: Q 45.5, 57 kohm; computed 438.99 uH, 278.72 pF.
    assert quality_of_width(455 * KHZ, 10 * KHZ) == pytest.approx(45.5)
    coil_h = 1255 / (2 * math.pi * 455 * KHZ)
    assert capacitance_for_f(455 * KHZ, coil_h) == pytest.approx(278.72 * PF, rel=1e-4)
    assert 2 * math.pi * 455 * KHZ * coil_h * quality_of_width(455 * KHZ, 10 * KHZ) == pytest.approx(57e3, rel=2e-3)


def test_tank_with_two_capacitors_in_series() -> None:
    # PTC Roddy 6.4.1, p. 205: 400 uH, 100 and 300 pF in series (75 pF): 918.881 kHz.
    assert series_f(100 * PF, 300 * PF) == pytest.approx(75 * PF)
    assert resonance_hz(400 * UH, series_f(100 * PF, 300 * PF)) == pytest.approx(918.881 * KHZ, rel=1e-6)


# a, |H|, dB, degrees: computed; .894 and 26.6, .447 and 63.4 also printed in PTC Chattopadhyay and Rakshit ch. 9 ex. 3.
CURVE = [
    (0.1, 0.99504, 0.043, 5.71),
    (0.2, 0.98058, 0.170, 11.31),
    (0.5, 0.89443, 0.969, 26.57),
    (1.0, 0.70711, 3.010, 45.0),
    (1.5, 0.55470, 5.119, 56.31),
    (2.0, 0.44721, 6.990, 63.43),
    (3.0, 0.31623, 10.000, 71.57),
    (5.0, 0.19612, 14.150, 78.69),
    (10.0, 0.09950, 20.043, 84.29),
]


@pytest.mark.parametrize(("a", "size", "decibel", "degrees"), CURVE)
def test_universal_resonance_curve(a: float, size: float, decibel: float, degrees: float) -> None:
    quality = 50.0
    upper = math.hypot(1, a / (2 * quality)) + a / (2 * quality)  # a = Q (r - 1/r)
    assert detuning(upper, 1.0, quality) == pytest.approx(a)
    assert loss_db(upper, 1.0, quality) == pytest.approx(decibel, abs=5.1e-4)  # printed to three places
    assert 10 ** (-loss_db(upper, 1.0, quality) / 20) == pytest.approx(size, abs=1e-5)
    assert math.degrees(-phase_rad(upper, 1.0, quality)) == pytest.approx(degrees, abs=5.1e-3)
    assert detuning_of_fall(loss_db(upper, 1.0, quality)) == pytest.approx(a)
    assert fall_ratios(quality, loss_db(upper, 1.0, quality)) == pytest.approx((1 / upper, upper))


def test_exact_detuning_differs_from_the_approximate_one() -> None:
    # Computed: Q 50, 1 % off: a = 0.995050, |H| = 0.708859 (the approximation a = 2 Q delta gives 0.707107).
    assert detuning(1.01, 1.0, 50) == pytest.approx(0.995050, abs=1e-6)
    assert 10 ** (-loss_db(1.01, 1.0, 50) / 20) == pytest.approx(0.708859, abs=1e-6)


def test_peaks_are_blunt() -> None:
    # Derived: Q 50 at 98 MHz, 150 kHz off costs 0.10 dB (1/sqrt(1 + (2 * 50 * 0.15/98)^2)).
    assert loss_db(98.15 * MHZ, 98 * MHZ, 50) == pytest.approx(0.10, abs=0.005)
    assert tolerance_hz(98 * MHZ, 50, 0.1006) == pytest.approx(150 * KHZ, rel=5e-3)


def test_wand_moves_the_resonance_by_half_the_change() -> None:
    # Derived, exact: +1 % of inductance moves 1000 kHz to 995.037 kHz; dF/F = -dL/2L for small changes.
    assert 1000 * (1 + frequency_change(0.01)) == pytest.approx(995.037, abs=5e-4)
    assert frequency_change(1e-6) == pytest.approx(-0.5e-6, rel=1e-5)
    assert part_change(frequency_change(0.01)) == pytest.approx(0.01)


def test_the_simulator_sees_the_same_curve(simulate: Simulate) -> None:
    # ngspice: parallel R, L, C driven by a current; Q = R / (2 pi f0 L).
    coil_h, capacitance_f, resistance = 100 * UH, 100 * PF, 50e3
    found = resonance_hz(coil_h, capacitance_f)
    quality = resistance / (2 * math.pi * found * coil_h)
    net = f"Is 0 out AC 1\nL1 out 0 {coil_h!r}\nC1 out 0 {capacitance_f!r}\nR1 out 0 {resistance!r}"
    rows = simulate(net, f"ac lin 101 {found * 0.9!r} {found * 1.1!r}", "v(out)")
    response = rows[:, 1] + 1j * rows[:, 2]
    # Within what ngspice's own small conductances and printed digits allow.
    assert loss_db(rows[:, 0], found, quality) == pytest.approx(-20 * np.log10(np.abs(response) / resistance), abs=1e-5)
    assert np.allclose(np.abs(phase_rad(rows[:, 0], found, quality)), np.abs(np.angle(response)), atol=1e-5)


@pytest.mark.parametrize("across", ["tuning", "coil"])
def test_the_simulator_sees_a_padded_circuit(across: str, simulate: Simulate) -> None:
    circuit = TunedCircuit(120 * UH, 15 * PF, 400 * PF, across, 8 * PF)  # type: ignore[arg-type]
    found = circuit.resonance_hz(150 * PF)
    place = "mid" if across == "tuning" else "out"
    net = (
        f"Is 0 out AC 1\nL1 out 0 {circuit.inductance_h!r}\nR1 out 0 1e6\nCp out mid {circuit.padder_f!r}\n"
        f"Rm mid 0 1e9\nCg mid 0 {150 * PF!r}\nCt {place} 0 {circuit.trimmer_f!r}\nCs out 0 {circuit.strays_f!r}"
    )
    rows = simulate(net, f"ac lin 2001 {found * 0.999!r} {found * 1.001!r}", "v(out)")
    best = rows[int(np.argmax(np.hypot(rows[:, 1], rows[:, 2]))), 0]
    assert best == pytest.approx(found, rel=2e-6)  # one step of the sweep is 1e-6
