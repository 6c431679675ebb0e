"""Oscillator, image and capacitance ratio against textbooks' worked examples.

PTC: GitHub FOSSEE/Python-Textbook-Companions (transcriptions with stored outputs); the book stands at each check.
S1409: FOSSEE Scilab Textbook Companion uploads, book id 1409, ch. 8.
"""

import pytest

from aligner.circuits.superhet import (
    Side,
    capacitance_ratio,
    image_dial_hz,
    image_hz,
    image_rejection,
    image_rejection_db,
    intermediate_found_hz,
    oscillator_hz,
    quality_for_rejection,
    received_hz,
)
from aligner.errors import CircuitError

KHZ, MHZ = 1e3, 1e6
COMPUTED, PUBLISHED = 1e-4, 1e-3


def oscillator_ratio(low: float, high: float, intermediate: float, side: Side) -> float:
    return capacitance_ratio(oscillator_hz(low, intermediate, side), oscillator_hz(high, intermediate, side))


def test_oscillator_above_needs_far_less_range_than_below() -> None:
    # S1409 example 8.6, p. 8-19: 530 to 1650 kHz, IF 455: above 4.567 to 1, below 253.87 to 1.
    assert oscillator_ratio(530, 1650, 455, "above") == pytest.approx(4.567007, rel=COMPUTED)
    assert oscillator_ratio(530, 1650, 455, "below") == pytest.approx(253.8711, rel=COMPUTED)


def test_oscillator_range_of_foundations_of_wireless() -> None:
    # Foundations of Wireless, sec. 21.6, p. 382: 525 to 1605 kHz, IF 470: above 995 to 2075, 2.09:1; below 55 to 1135.
    assert oscillator_hz(525.0, 470, "above") == 995
    assert oscillator_hz(1605.0, 470, "above") == 2075
    assert oscillator_hz(525.0, 470, "below") == 55
    assert oscillator_hz(1605.0, 470, "below") == 1135
    assert oscillator_ratio(525, 1605, 470, "above") ** 0.5 == pytest.approx(2.09, abs=0.005)  # three figures
    assert oscillator_ratio(525, 1605, 470, "above") == pytest.approx(4.3490, rel=COMPUTED)
    assert oscillator_ratio(525, 1605, 470, "below") == pytest.approx(425.86, rel=COMPUTED)


def test_oscillator_range_of_the_classic_medium_wave_text() -> None:
    # FROM MEMORY (Kennedy, receivers chapter): 540 to 1650 kHz, IF 455: 3.06 to 1; above 2.1 to 1, below 14 to 1.
    assert capacitance_ratio(540, 1650) == pytest.approx(9.33642, rel=COMPUTED)
    assert oscillator_ratio(540, 1650, 455, "above") == pytest.approx(4.47567, rel=COMPUTED)
    assert oscillator_ratio(540, 1650, 455, "below") == pytest.approx(197.651, rel=COMPUTED)


# Computed: band, IF, side; capacitance ratio of signal and oscillator circuit.
RATIOS: list[tuple[float, float, float, Side, float, float]] = [
    (535, 1605, 455, "above", 9.0000, 4.3298),
    (540, 1600, 455, "above", 8.7791, 4.2656),
    (526.5, 1606.5, 455, "above", 9.3103, 4.4115),
    (525, 1705, 455, "above", 10.5470, 4.8580),
    (148.5, 283.5, 455, "above", 3.6446, 1.4974),
    (87.5, 108, 10.7, "above", 1.5235, 1.4611),
    (87.5, 108, 10.7, "below", 1.5235, 1.6051),
]


@pytest.mark.parametrize(("low", "high", "intermediate", "side", "signal", "oscillator"), RATIOS)
def test_capacitance_ratios_of_broadcast_bands(
    low: float, high: float, intermediate: float, side: Side, signal: float, oscillator: float
) -> None:
    assert capacitance_ratio(low, high) == pytest.approx(signal, rel=COMPUTED)
    assert oscillator_ratio(low, high, intermediate, side) == pytest.approx(oscillator, rel=COMPUTED)


def test_oscillator_and_image_of_textbook_examples() -> None:
    # PTC Beasley and Miller 3.2, p. 134: 620 kHz, IF 455: oscillator 1075, image 1530.
    assert oscillator_hz(620.0, 455, "above") == 1075
    assert image_hz(620.0, 455, "above") == 1530
    # PTC Stanley and Jeffords 5.10 and 5.11, p. 167: 40 MHz, IF 5: above 45 and 50; below 35 and 30.
    assert (oscillator_hz(40.0, 5, "above"), image_hz(40.0, 5, "above")) == (45, 50)
    assert (oscillator_hz(40.0, 5, "below"), image_hz(40.0, 5, "below")) == (35, 30)
    # PTC Hsu example 4.29: 108 to 157 MHz, IF 12, below: oscillator 96 to 145, image 84 to 133.
    assert (oscillator_hz(108.0, 12, "below"), oscillator_hz(157.0, 12, "below")) == (96, 145)
    assert (image_hz(108.0, 12, "below"), image_hz(157.0, 12, "below")) == (84, 133)


def test_fm_band_of_a_textbook() -> None:
    # PTC Stanley and Jeffords 5.12, p. 167: 88 to 108 MHz, IF 10.7.
    for side, oscillator, image in (("above", (98.7, 118.7), (109.4, 129.4)), ("below", (77.3, 97.3), (66.6, 86.6))):
        for end, received in enumerate((88.0, 108.0)):
            assert oscillator_hz(received, 10.7, side) == pytest.approx(oscillator[end])  # type: ignore[arg-type]
            assert image_hz(received, 10.7, side) == pytest.approx(image[end])  # type: ignore[arg-type]
            assert received_hz(oscillator[end], 10.7, side) == pytest.approx(received)  # type: ignore[arg-type]


def test_a_station_is_heard_again_as_its_image() -> None:
    # S1409 example 8.4, p. 8-10: a station on 1500 kHz, IF 465, is heard at 570 on the dial.
    assert image_dial_hz(1500.0, 465, "above") == 570
    assert image_hz(570.0, 465, "above") == 1500


# Signal [kHz], IF [kHz], Q; published ratio of amplitudes and its tolerance, computed ratio and dB.
REJECTIONS = [
    (1000, 455, 100, 138.6, 138.648, 42.838),  # PTC Kennedy, Davis and Prasanna 7.1a, p. 153
    (25000, 455, 100, 7.22, 7.2217, 17.173),  # the same, 7.1b
    (950, 455, 90, 130.2, 130.247, 42.295),  # PTC Sharma 4-2, p. 150
    (10000, 455, 90, 15.73, 15.7287, 23.934),  # the same
    (900, 455, 80, 121.114, 121.114, 41.664),  # PTC Sharma 4-5, p. 152
    (1000, 465, 125, 176.49, 176.486, 44.934),  # PTC Sharma 4-6 and S1409 8.23
    (30000, 465, 125, 7.70, 7.6987, 17.728),  # the same
    (1000, 465, 50, 10 ** (36.98 / 20), 70.600, 36.976),  # PTC Roddy 7.6.1, p. 234, published as -36.98 dB
    (590, 455, 40, 10 ** (38.687 / 20), 85.967, 38.687),  # PTC Blake 6.5, p. 238, published as 38.687 dB
    (555, 455, 40, None, 90.4375, 39.127),  # S1409 8.17, p. 8-57
    (1090, 455, 50, None, 64.501, 36.191),  # S1409 8.12, p. 8-51
    (20000, 450, 65, None, 5.8107, 15.285),  # S1409 8.25, p. 8-64
    (1200, 450, 65, None, 76.614, 37.686),  # S1409 8.25(a); trap: the printed answer is wrong, say its transcribers
    (30000, 455, 100, 6.063, 6.0604, 15.650),  # ques10.com/p/37209
]


@pytest.mark.parametrize(("signal", "intermediate", "quality", "published", "computed", "decibel"), REJECTIONS)
def test_image_rejection_of_one_circuit(
    signal: float, intermediate: float, quality: float, published: float | None, computed: float, decibel: float
) -> None:
    image = image_hz(float(signal), intermediate, "above")
    assert image_rejection(signal, image, quality) == pytest.approx(computed, rel=COMPUTED)
    assert image_rejection_db(signal, image, (quality,)) == pytest.approx(decibel, abs=1e-3)
    if published:
        assert image_rejection(signal, image, quality) == pytest.approx(published, rel=PUBLISHED)


def test_quality_for_a_wanted_rejection() -> None:
    # S1409 example 8.13, p. 8-52: alpha 75 at 1500 kHz, IF 455: 76.2 with a rounded ratio, computed 76.193.
    assert quality_for_rejection(1500, 2410, 75) == pytest.approx(76.193, rel=COMPUTED)


def test_a_second_circuit_of_a_textbook() -> None:
    # PTC Kennedy, Davis and Prasanna 7.2, p. 153: the rejection of 1 MHz (Q 100) wanted at 25 MHz from a second circuit
    # beside the first: Q 268, geometric mean 164; or an IF of 11.4 MHz for the same ratio of frequencies.
    wanted = image_rejection(1000, 1910, 100)
    second = quality_for_rejection(25000, 25910, wanted / image_rejection(25000, 25910, 100))
    assert second == pytest.approx(268.07, rel=PUBLISHED)
    assert (100 * second) ** 0.5 == pytest.approx(163.73, rel=PUBLISHED)
    assert image_rejection(25000, image_hz(25000.0, 11375, "above"), 100) == pytest.approx(wanted, rel=PUBLISHED)


def test_another_second_circuit_of_a_textbook() -> None:
    # PTC Sharma 4-3: IF 4.789 MHz gives at 10 MHz what 455 kHz gives at 950 kHz; computed 4.78947.
    wanted = image_rejection(950, 1860, 90)
    assert image_rejection(10000, image_hz(10000.0, 4789.47, "above"), 90) == pytest.approx(wanted, rel=COMPUTED)


def test_rejections_of_several_circuits_add_in_decibel() -> None:
    one, other = image_rejection_db(1000, 1910, (100,)), image_rejection_db(1000, 1910, (40,))
    assert image_rejection_db(1000, 1910, (100, 40)) == pytest.approx(one + other)


def test_the_intermediate_frequency_is_found_from_a_known_signal() -> None:
    # Derived: a strip that peaks at 10.73 MHz peaks a 98 MHz generator with the oscillator at 108.73 MHz.
    assert intermediate_found_hz(108.73 * MHZ, 98 * MHZ) == pytest.approx(10.73 * MHZ)
    assert intermediate_found_hz(87.27 * MHZ, 98 * MHZ) == pytest.approx(10.73 * MHZ)


def test_an_image_below_zero_is_refused() -> None:
    with pytest.raises(CircuitError, match="no image below zero"):
        image_rejection(500 * KHZ, image_hz(500 * KHZ, 455 * KHZ, "below"), 50)


def test_no_quality_rejects_by_less_than_one() -> None:
    with pytest.raises(CircuitError, match="give a ratio of 1 or more"):
        quality_for_rejection(1000, 1910, 0.5)
