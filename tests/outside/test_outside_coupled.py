"""Coupled pairs and cascades against textbooks, closed forms and a circuit simulator.

PTC: GitHub FOSSEE/Python-Textbook-Companions (transcriptions with stored outputs); the book stands at each check.
Closed forms of the equal-Q pair, |H| = 2p / |(1 + jx)^2 + p^2|, p = kQ, x = 2 Q delta, are FROM MEMORY (standard) and
were verified numerically and with ngspice.
"""

import math

import numpy as np
import pytest
import skrf

from aligner.circuits.coupled import CoupledCircuits
from aligner.circuits.features import Features, features
from aligner.circuits.resonance import fall_ratios, width_hz
from aligner.circuits.response import (
    Cascade,
    Resonators,
    UnequalPair,
    ceramic_filter,
    critical_coupling,
    group_delay_s,
    level_db,
)
from tests.outside.conftest import Array, Simulate

KHZ, PF, UH = 1e3, 1e-12, 1e-6
UNIT_HZ = 6500.0  # f0/Q of 455 kHz and Q 70


def of(response: Resonators | UnequalPair | Cascade, width: float = 2 * UNIT_HZ) -> Features:
    return features(response, 455 * KHZ, width)


def test_critical_coupling_of_a_textbook() -> None:
    # PTC Blake 6.9, p. 258: Qp 40, Qs 30, 455 kHz: kc 0.029; 1.5 kc = 0.043; times f0 19.702 kHz.
    assert critical_coupling((40, 30)) == pytest.approx(0.0288675, rel=1e-5)
    assert critical_coupling((40, 30)) == pytest.approx(0.029, abs=5e-4)
    assert 1.5 * critical_coupling((40, 30)) * 455 * KHZ == pytest.approx(19.702 * KHZ, rel=1e-3)


def test_coupling_times_centre_is_not_the_width() -> None:
    # Trap: the textbook calls the 19.70 kHz above "bandwidth". Simulated: -3 dB width 27.02 kHz, peaks 14.47 kHz apart.
    pair = UnequalPair(455 * KHZ, (40, 30), 0.0433013)
    seen = features(pair, 455 * KHZ, 27 * KHZ)
    assert seen.width_3_hz == pytest.approx(27.02 * KHZ, rel=2e-3)
    ratio = seen.peak_hz / (455 * KHZ)  # the other peak lies at the inverse ratio
    assert 455 * KHZ * abs(ratio - 1 / ratio) == pytest.approx(14.47 * KHZ, rel=5e-3)


# p, dip against the peaks [dB], -3 dB width in f0/Q: computed, ngspice agrees to 0.1 %.
PAIRS = [
    (1.0, 0.0, 1.41421),
    (1.25, 0.214, 1.75),
    (1.5, 0.695, 2.06155),
    (2.0, 1.938, 2.64575),
    (1 + math.sqrt(2), 3.0103, 3.1075),
    (3.0, 4.437, 3.74166),
    (0.5, 0.0, 0.84127),
]


@pytest.mark.parametrize(("p", "dip", "width"), PAIRS)
def test_equal_pair_has_the_closed_forms_widths_and_dips(p: float, dip: float, width: float) -> None:
    seen = of(Resonators(455 * KHZ, 70, "pair", p))
    assert seen.ripple_db == pytest.approx(dip, abs=6e-4)
    assert seen.width_3_hz / UNIT_HZ == pytest.approx(width, rel=1e-4)
    assert seen.centre_hz == pytest.approx(455 * KHZ, rel=1e-9)
    assert seen.symmetry == pytest.approx(0, abs=1e-7)
    if p > 1:
        r = fall_ratios(70, 10 * math.log10(p * p))  # peaks lie at a = sqrt(p^2 - 1)
        assert min(abs(seen.peak_hz - ratio * 455 * KHZ) for ratio in r) < 1e-4 * UNIT_HZ


def test_undercoupled_pair_has_less_than_the_greatest_transfer() -> None:
    # Computed: p 0.5: the centre is 0.8 of the maximum: 2p / (1 + p^2), exactly by nodal analysis at any k.
    capacitance, coil, quality = 180 * PF, 679.743 * UH, 70.0
    load = quality * 2 * math.pi * 455 * KHZ * coil
    at = np.array([455 * KHZ])

    def centre(p: float) -> float:
        k = p / quality
        pair = CoupledCircuits((coil, coil), (capacitance, capacitance), k, loads_ohm=(load, load))
        return float(abs(pair.transfer_ohm(at)[0]))

    assert centre(0.5) / centre(1.0) == pytest.approx(0.8, rel=1e-3)  # k is small but not nothing


def transformer(p: float, first_load: float = 1.0) -> tuple[CoupledCircuits, str]:
    """455 kHz, 180 pF, Q 70 by parallel resistance, and the same for the simulator."""
    coil, capacitance = 679.743 * UH, 180 * PF
    load = 70 * 2 * math.pi * 455 * KHZ * coil
    pair = CoupledCircuits((coil, coil), (capacitance, capacitance), p / 70, loads_ohm=(load * first_load, load))
    net = (
        f"Is 0 in AC 1\nL1 in 0 {coil!r}\nL2 out 0 {coil!r}\nK1 L1 L2 {p / 70!r}\n"
        f"C1 in 0 {capacitance!r}\nC2 out 0 {capacitance!r}\nR1 in 0 {load * first_load!r}\nR2 out 0 {load!r}"
    )
    return pair, net


def swept(simulate: Simulate, net: str, low_hz: float, high_hz: float) -> tuple[Array, Array]:
    rows = simulate(net, f"ac lin 801 {low_hz!r} {high_hz!r}", "v(out)")
    return rows[:, 0], 20 * np.log10(np.hypot(rows[:, 1], rows[:, 2]))


@pytest.mark.parametrize("p", [0.5, 1.0, 1.5, 2.0])
def test_the_simulator_sees_the_same_coupled_circuits(p: float, simulate: Simulate) -> None:
    pair, net = transformer(p)
    hz, level = swept(simulate, net, 420 * KHZ, 490 * KHZ)
    assert np.max(np.abs(pair.level_db(hz) - level)) < 1e-4
    # The narrow-band pair leaves out how the mutual reactance grows with frequency: 20 lg(f/f0), 0.7 dB at the edges.
    narrow = level_db(Resonators(455 * KHZ, 70, "pair", p), hz)
    off = (narrow - narrow.max()) - (level - level.max())
    assert np.max(np.abs(off[np.abs(hz - 455 * KHZ) < 10 * KHZ])) < 0.25
    assert np.max(np.abs(off)) < 0.8


def test_peaks_and_widths_that_the_simulator_gave() -> None:
    # ngspice 39: p 1 width 9193.5 Hz (theory 9192.4); p 2 separation 11266 (11258), width 17204; p 1.5 width 13402.
    assert of(Resonators(455 * KHZ, 70, "pair", 1.0)).width_3_hz == pytest.approx(9193.5, rel=1e-3)
    assert of(Resonators(455 * KHZ, 70, "pair", 1.5)).width_3_hz == pytest.approx(13402, rel=1e-3)
    two = of(Resonators(455 * KHZ, 70, "pair", 2.0))
    assert two.width_3_hz == pytest.approx(17204, rel=1e-3)
    assert 2 * abs(two.peak_hz - 455 * KHZ) == pytest.approx(11266, rel=0.02)  # one peak lies nearer: f0 is their mean


def test_swamping_the_primary_leaves_one_peak(simulate: Simulate) -> None:
    # Computed: p 2 with the primary loaded to Q 7: k sqrt(Q1 Q2) = 0.632, a single peak at 455.16 kHz in ngspice.
    swamped, net = transformer(2.0, first_load=0.1)
    hz, level = swept(simulate, net, 420 * KHZ, 490 * KHZ)
    assert np.max(np.abs(swamped.level_db(hz) - level)) < 1e-4
    inside = np.flatnonzero((level[1:-1] > level[:-2]) & (level[1:-1] > level[2:])) + 1
    assert len(inside) == 1
    assert hz[inside[0]] == pytest.approx(455.16 * KHZ, abs=0.1 * KHZ)  # steps of the sweep are 87.5 Hz
    assert (2 / 70) * math.sqrt(70 * 7) == pytest.approx(0.632, abs=1e-3)


def test_far_off_selectivity_of_a_handbook() -> None:
    # Reference Data for Engineers, ch. 8, p. 8-3: Q 50, kQ 1.50, 16.0 MHz, at 8.0 MHz: -59 dB; computed -58.745.
    coil, capacitance = 1e-6, 1 / ((2 * math.pi * 16e6) ** 2 * 1e-6)
    loss = 2 * math.pi * 16e6 * coil / 50
    pair = CoupledCircuits((coil, coil), (capacitance, capacitance), 0.03, (loss, loss))
    far, centre = pair.level_db(np.array([8e6, 16e6]))
    assert far - centre == pytest.approx(-59, abs=0.5)
    assert far - centre == pytest.approx(-58.745, abs=2e-3)


def test_coupled_transfer_impedance_of_a_textbook() -> None:
    # PTC Roddy 1.8.1, p. 23: 150 uH, 470 pF, Q 85, k 0.01, 75 k and 5 k: Zm j5.655, Z_T 43.8 - j2250 (computed
    # 43.80 - j2252.4, magnitude 2252.87). The sign of the imaginary part depends on the sense of the windings.
    omega = 1 / math.sqrt(150 * UH * 470 * PF)
    assert omega == pytest.approx(3.76622e6, rel=1e-5)
    assert omega * 0.01 * 150 * UH == pytest.approx(5.64933, rel=1e-5)
    loss = omega * 150 * UH / 85
    pair = CoupledCircuits((150 * UH, 150 * UH), (470 * PF, 470 * PF), 0.01, (loss, loss), (75e3, 5e3))
    found = complex(pair.transfer_ohm(np.array([omega / (2 * math.pi)]))[0])
    assert abs(found) == pytest.approx(2252.87, rel=1e-5)
    assert abs(found) == pytest.approx(math.hypot(43.8, 2250), rel=5e-3)
    assert found.real == pytest.approx(43.80, rel=1e-3)


# n: shrinkage sqrt(2^(1/n) - 1): formula in GATE ECE 1993 (ec.gateoverflow.in/2042); computed.
SHRINKAGE = {1: 1.0, 2: 0.643594, 3: 0.509825, 4: 0.434979, 5: 0.385614, 6: 0.349946, 8: 0.300845, 10: 0.267906}


@pytest.mark.parametrize(("stages", "factor"), SHRINKAGE.items())
def test_a_cascade_of_single_circuits_shrinks_as_published(stages: int, factor: float) -> None:
    seen = of(Resonators(455 * KHZ, 70, stages=stages))
    assert seen.width_3_hz / UNIT_HZ == pytest.approx(factor, rel=1e-5)


def test_cascades_of_textbooks() -> None:
    # PTC Bakshi and Godse 5.3, p. 5-46: 20 kHz stages: three give 10.20 kHz, four 8.70 kHz.
    for stages, width in ((3, 10.20), (4, 8.70)):
        seen = of(Resonators(455 * KHZ, 455 / 20, stages=stages), 15 * KHZ)
        assert seen.width_3_hz == pytest.approx(width * KHZ, rel=1e-3)
    # Trap: another page takes 0.257 for 2^(1/3) - 1 = 0.259921 and so 19.61 kHz where 19.614 is meant: 0.1 % apart.
    assert SHRINKAGE[3] == pytest.approx(math.sqrt(2 ** (1 / 3) - 1), rel=1e-5)


@pytest.mark.parametrize(("stages", "factor"), [(1, 1.0), (2, 0.802243), (3, 0.714020), (4, 0.659530)])
def test_a_cascade_of_critical_pairs_shrinks_by_the_fourth_root(stages: int, factor: float) -> None:
    # (2^(1/m) - 1)^(1/4), FROM MEMORY (Terman); verified.
    seen = of(Resonators(455 * KHZ, 70, "pair", 1.0, stages))
    assert seen.width_3_hz / (math.sqrt(2) * UNIT_HZ) == pytest.approx(factor, rel=1e-5)


@pytest.mark.parametrize(
    ("stages", "factor"), [(1, 579.18), (2, 31.682), (3, 13.010), (4, 8.6157), (5, 6.8306), (6, 5.8957)]
)
def test_shape_factor_of_cascades(stages: int, factor: float) -> None:
    # Computed: ratio of widths at 60 and 6 dB (narrow-band).
    assert width_hz(455 * KHZ, 70, 60 / stages) / width_hz(455 * KHZ, 70, 6 / stages) == pytest.approx(factor, rel=1e-4)


def test_a_reference_library_cascades_as_we_do() -> None:
    # scikit-rf: two matched two-ports with our filters' transfer functions, cascaded by its ** operator.
    filters = ceramic_filter(10.7e6, 230e3), ceramic_filter(10.72e6, 180e3)
    hz = np.linspace(10.3e6, 11.1e6, 201)
    networks = []
    for one in filters:
        s = np.zeros((len(hz), 2, 2), dtype=complex)
        s[:, 1, 0] = s[:, 0, 1] = one.transfer(hz)
        networks.append(skrf.Network(f=hz, f_unit="Hz", s=s))
    both = networks[0] ** networks[1]
    ours = Cascade(filters)
    assert np.allclose(both.s[:, 1, 0], ours.transfer(hz))
    reference = np.asarray(both.s21.group_delay)[:, 0, 0]
    # The library differentiates the phase by neighbours of the sweep, 4 kHz apart.
    assert np.max(np.abs(reference[2:-2] - group_delay_s(ours, hz)[2:-2])) < 2e-2 * float(
        np.max(group_delay_s(ours, hz))
    )


def test_group_delay_of_a_single_circuit_at_resonance() -> None:
    # Derived: phase -arctan(2 Q delta): delay Q / (pi f0) at the centre.
    delay = group_delay_s(Resonators(455 * KHZ, 70), np.array([455 * KHZ]))[0]
    assert delay == pytest.approx(70 / (math.pi * 455 * KHZ), rel=1e-6)


def test_three_coupled_circuits_in_the_simulator_have_the_ceramic_filters_shape(simulate: Simulate) -> None:
    # Three capacitively coupled parallel circuits, ends loaded: couplings m = g/sqrt(2) make it maximally flat. Narrow
    # (1 %), so that the frequency dependence of the coupling capacitors hardly shows.
    centre, width = 455 * KHZ, 4.55 * KHZ
    model = ceramic_filter(centre, width)
    capacitance = 1e-9
    coil = 1 / ((2 * math.pi * centre) ** 2 * capacitance)
    load = model.quality / (2 * math.pi * centre * capacitance)
    coupling = capacitance / model.quality / math.sqrt(2)
    net = "Is 0 a AC 1\n"
    for node, coupled in (("a", 1), ("b", 2), ("out", 1)):
        net += f"L{node} {node} 0 {coil!r}\nC{node} {node} 0 {capacitance - coupled * coupling!r}\n"
    net += f"Ra a 0 {load!r}\nRb b 0 1e9\nRo out 0 {load!r}\nCab a b {coupling!r}\nCbo b out {coupling!r}"
    hz, level = swept(simulate, net, centre - 1.5 * width, centre + 1.5 * width)
    ours = level_db(model, hz)
    inside = np.abs(hz - centre) < width / 2
    assert np.max(np.abs((level - level.max()) - ours)[inside]) < 0.15
    assert np.max(np.abs((level - level.max()) - ours)) < 0.6


def test_two_filters_of_a_strip_in_cascade() -> None:
    # Common practice, no source: 230 and 180 kHz filters in cascade on FM. The cascade is narrower than
    # either and its skirts add: in decibel the levels are the sum.
    wide, narrow = ceramic_filter(10.7e6, 230e3), ceramic_filter(10.7e6, 180e3)
    both = Cascade((wide, narrow))
    offsets = 10.7e6 + np.array([-400e3, -200e3, 200e3, 400e3])
    assert level_db(both, offsets) == pytest.approx(level_db(wide, offsets) + level_db(narrow, offsets))
    assert features(both, 10.7e6, 180e3).width_3_hz < features(narrow, 10.7e6, 180e3).width_3_hz
    assert features(narrow, 10.7e6, 180e3).width_3_hz == pytest.approx(180e3, rel=1e-6)
