"""Counter arithmetic against textbooks, manuals and facts of the trade.

PTC: GitHub FOSSEE/Python-Textbook-Companions (transcriptions with stored outputs); the book stands at each check.
"""

import math

import pytest

from aligner.circuits.counter import (
    Counting,
    displayed_from_oscillator,
    displayed_from_received,
    displayed_resolution_hz,
    oscillator_from_displayed,
    oscillator_resolution_hz,
    oscillator_uncertainty_hz,
    received_from_displayed,
)

KHZ, MHZ = 1e3, 1e6


@pytest.mark.parametrize(
    ("prescaler", "gate_s", "resolution"), [(64, 0.1, 640), (256, 0.1, 2560), (10, 0.1, 100), (1, 1, 1)]
)
def test_resolution_is_prescaler_over_gate(prescaler: int, gate_s: float, resolution: float) -> None:
    # FROM MEMORY (rule of direct counters); the arithmetic is exact.
    assert oscillator_resolution_hz(Counting("divided", prescaler, gate_s)) == pytest.approx(resolution)


def test_whole_counts_of_an_fm_oscillator() -> None:
    # Computed: 118.7 MHz, prescaler 64, 0.1 s: 185468.75 counts; reads 118.69952 or 118.70016 MHz.
    counting = Counting("divided", 64, 0.1)
    counts = displayed_from_oscillator(118.7 * MHZ, counting) * counting.gate_s
    assert counts == pytest.approx(185468.75)
    read = [oscillator_from_displayed(whole / counting.gate_s, counting) for whole in (185468, 185469)]
    assert read == pytest.approx([118.69952 * MHZ, 118.70016 * MHZ])


def test_a_tenth_of_a_hertz_needs_ten_seconds() -> None:
    # PTC Electronics Instrumentation and Measurements 6.17.1, p. 6-26.
    assert displayed_resolution_hz(Counting("oscillator", 1, 10)) == pytest.approx(0.1)


def test_counts_of_two_kilohertz() -> None:
    # PTC Bapat, Electronics Circuits and Systems, ch. 11: 2 kHz: gate 0.1 s counts 0200, 1 ms counts 0002.
    for gate_s, counts in ((0.1, 200), (1e-3, 2)):
        assert displayed_from_oscillator(2000.0, Counting("oscillator", 1, gate_s)) * gate_s == pytest.approx(counts)


@pytest.mark.parametrize(
    ("frequency", "gate_s", "relative"),
    [
        (5, 1, 0.2),  # PTC Electronics Instrumentation and Measurements 6.17.2: one in five counts is 20 %
        (50, 1, 0.02),  # the same: ten times more counts, 2 %
        (1e6, 1, 1e-6),  # US Army ACCP MM0462: 1,000,000 +- 1 is 0.0001 %
        (1, 1, 1.0),  # the same: 1 Hz with a gate of 1 s is +- 100 %
    ],
)
def test_one_count_relative_to_the_reading(frequency: float, gate_s: float, relative: float) -> None:
    assert oscillator_resolution_hz(Counting("oscillator", 1, gate_s)) / frequency == pytest.approx(relative)


@pytest.mark.parametrize("prescaler", [2, 8])
def test_a_prescaler_hides_all_but_one_of_its_edges(prescaler: int) -> None:
    # NI-DAQmx device considerations, prescaling: an 8-fold prescaler errs by up to seven input edges, a 2-fold by one.
    counting = Counting("divided", prescaler, 1.0)
    unseen = [edges - prescaler * (edges // prescaler) for edges in range(1000, 1000 + prescaler)]
    assert max(unseen) == prescaler - 1
    assert max(unseen) < oscillator_resolution_hz(counting) * counting.gate_s


def test_dial_is_oscillator_less_or_plus_the_intermediate_frequency() -> None:
    # PTC Beasley and Miller 3.2: 620 = 1075 - 455; PTC Stanley and Jeffords 5.12: 88 to 108 both ways.
    assert received_from_displayed(1075.0, Counting(), 455) == 620
    for received, above, below in ((88.0, 98.7, 77.3), (108.0, 118.7, 97.3)):
        assert received_from_displayed(above, Counting(side="above"), 10.7) == pytest.approx(received)
        assert received_from_displayed(below, Counting(side="below"), 10.7) == pytest.approx(received)


def test_a_wrong_offset_shifts_the_readout_by_just_as_much() -> None:
    # Derived: an IF strip aligned to 452 kHz with 455 entered in the counter reads 3 kHz low at the true peak.
    counting = Counting("received", 1, 1.0, offset_hz=455 * KHZ)
    oscillator = 1000 * KHZ + 452 * KHZ
    assert displayed_from_oscillator(oscillator, counting) == pytest.approx(997 * KHZ)
    assert received_from_displayed(997 * KHZ, counting, 452 * KHZ) == pytest.approx(1000 * KHZ)


def test_a_newly_found_if_never_changes_what_was_counted() -> None:
    counting = Counting("received", 64, 0.1, "below", offset_hz=10.7 * MHZ)
    assert oscillator_from_displayed(98 * MHZ, counting) == pytest.approx(87.3 * MHZ)
    assert received_from_displayed(98 * MHZ, counting, 10.73 * MHZ) == pytest.approx(98.03 * MHZ)


def test_fm_band_behind_a_prescaler_of_256() -> None:
    # Common practice, no source: 87.5 to 108 MHz, 10.7 above, prescaler 256: 383.594 to 463.672 kHz on the counter;
    # multiplying back and subtracting the IF gives the received frequency.
    counting = Counting("divided", 256, 0.1)
    for received, shown in ((87.5 * MHZ, 383.594 * KHZ), (108 * MHZ, 463.672 * KHZ)):
        assert displayed_from_received(received, counting, 10.7 * MHZ) == pytest.approx(shown, abs=0.5)
        assert shown * 256 - 10.7 * MHZ == pytest.approx(received, abs=128)  # half a hertz of rounding, times 256
        assert received_from_displayed(shown, counting, 10.7 * MHZ) == pytest.approx(received, abs=128)


def test_uncertainty_of_whole_counts_is_what_counting_at_random_gives() -> None:
    # Derived: a gate opening at any phase counts floor(x + u), u even in 0..1; deviation 1/sqrt(6) count for even x.
    counting = Counting("divided", 64, 0.1)
    step = oscillator_resolution_hz(counting)
    phases = [(index + 0.5) / 200 for index in range(200)]
    misses = [math.floor(185468 + part + phase) - (185468 + part) for part in phases for phase in phases]
    spread = math.sqrt(sum(miss * miss for miss in misses) / len(misses)) * step
    assert oscillator_uncertainty_hz(118.7 * MHZ, counting) == pytest.approx(spread, rel=1e-3)


def test_uncertainties_add_in_quadrature() -> None:
    counting = Counting("oscillator", 1, 1.0, timebase=2e-6)
    expected = math.sqrt(1 / 6 + 200**2 + 300**2 / 3)
    assert oscillator_uncertainty_hz(100 * MHZ, counting, drift_hz=300) == pytest.approx(expected)
