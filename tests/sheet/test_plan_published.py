"""The plan against published worked examples and against values computed once and confirmed by a circuit simulator.

Signs: the sources give the oscillator's error (oscillator - dial - IF); the plan gives the tracking error (signal
circuit - received), which is its opposite at one place of the tuning.
"""

import pytest

from aligner.circuits.tank import capacitance_for_f
from aligner.procedure.reader import parse_procedure
from aligner.sheet.plan import plan_of
from tests.sheet.plan_sets import (
    COIL,
    PADDER,
    TRIMMER,
    error_at,
    gang_range,
    gang_set,
    head,
    khz,
    part,
    planned,
    planned_at_ends,
)
from tests.small_sets import circuit

# Scilab Textbook Companion 1409, examples 8.5 and 8.14 (inputs and padder), READ; Python Textbook Companions, Roddy,
# Electronic Communications, 4th ed., examples 7.3.1 and 7.4.1 (ratios), READ. Coils, errors and the third padder were
# computed, most of them confirmed by a circuit simulator; the errors printed in the first source take the mid
# capacitance from the wrong end and are not used.
PADDER_ONLY = [
    # band, IF, gang pF, padder pF, oscillator uH, signal uH, oscillator error at the dial's 1000 kHz
    ((400e3, 1650e3), 455e3, 300.0, 138.6145, 365.478, 527.715, -60.761),
    ((500e3, 1600e3), 465e3, 350.0, 221.293, 200.636, 289.489, -46.068),
    ((550e3, 1600e3), 455e3, 350.0, 260.0341, 168.0985, 239.2472, -39.816),
]
# The same sources, example 8.16 and (computed) the trimmer alternative of Roddy's set.
TRIMMER_ONLY = [
    ((450e3, 1600e3), 455e3, 300.0, 42.7418, 90.2352, 191.945),
    ((550e3, 1600e3), 455e3, 350.0, 55.6661, 61.8215, 137.608),
]


@pytest.mark.parametrize(("band", "if_hz", "gang_pf", "padder_pf", "own_uh", "signal_uh", "off_khz"), PADDER_ONLY)
def test_a_padder_alone_comes_out_as_in_the_worked_examples(
    band: tuple[float, float],
    if_hz: float,
    gang_pf: float,
    padder_pf: float,
    own_uh: float,
    signal_uh: float,
    off_khz: float,
) -> None:
    plan = planned_at_ends(band, if_hz, gang_pf * 1e-12, (COIL, PADDER))
    assert part(plan, "oscillator", "padder").needed == pytest.approx(padder_pf * 1e-12, rel=1e-4)
    assert part(plan, "oscillator", "inductance").needed == pytest.approx(own_uh * 1e-6, rel=1e-4)
    assert part(plan, "antenna", "inductance").needed == pytest.approx(signal_uh * 1e-6, rel=1e-4)
    # The curve has 121 rows; a straight line between two of them is off by less than a thousandth here.
    assert error_at(plan.tracking[0], signal_hz=1000e3) == pytest.approx(-off_khz * 1e3, rel=1e-3)


def test_the_greatest_error_of_a_padder_alone_is_the_published_sets_own() -> None:
    # Computed for the first example: worst oscillator error -62.933 kHz at the dial's 883 kHz; and with the oscillator
    # right at 1000 kHz the signal circuit stands at 1058.253 kHz.
    tracking = planned_at_ends((400e3, 1650e3), 455e3, 300e-12, (COIL, PADDER)).tracking[0]
    assert tracking.own.greatest.error_hz == pytest.approx(62_933, rel=5e-4)
    assert error_at(tracking, received_hz=1000e3) == pytest.approx(58_253, rel=1e-3)


@pytest.mark.parametrize(("band", "if_hz", "gang_pf", "trimmer_pf", "own_uh", "off_khz"), TRIMMER_ONLY)
def test_a_trimmer_alone_comes_out_as_in_the_worked_examples_and_is_said_not_to_follow(
    band: tuple[float, float], if_hz: float, gang_pf: float, trimmer_pf: float, own_uh: float, off_khz: float
) -> None:
    plan = planned_at_ends(band, if_hz, gang_pf * 1e-12, (COIL, TRIMMER))
    assert part(plan, "oscillator", "trimmer").needed == pytest.approx(trimmer_pf * 1e-12, rel=1e-4)
    assert part(plan, "oscillator", "inductance").needed == pytest.approx(own_uh * 1e-6, rel=1e-4)
    assert error_at(plan.tracking[0], signal_hz=1000e3) == pytest.approx(-off_khz * 1e3, rel=2e-3)
    assert plan.tracking[0].equal_sections
    assert any("cut to a law of its own" in warning for warning in plan.warnings)


# Three points in closed form (F. E. Terman, Radio Engineers' Handbook, 1943, form from memory), re-derived, confirmed
# by a least-squares solver to 1e-4 pF and, in the second row, by a simulator: points MHz, IF MHz, signal coil uH;
# padder pF, trimmer pF, coil uH with the trimmer across the tuning; the same with the trimmer across the coil.
GOLD = [
    ((0.6, 1.0, 1.4), 0.455, 250, (358.4096, 8.9827, 141.8571), (367.3923, 9.2079, 135.0051)),
    ((0.6, 1.0, 1.5), 0.455, 200, (440.6596, 10.3552, 114.4844), (451.0147, 10.5985, 109.2877)),
    ((0.6, 0.9486832981, 1.5), 0.455, 200, (449.0345, 10.8774, 113.4307), (459.9119, 11.1409, 108.1287)),
    ((0.16, 0.20, 0.25), 0.455, 2200, (205.5666, 59.0483, 457.4149), (264.6149, 76.0097, 276.0494)),
    ((6.5, 11, 16.5), 0.455, 1.2, (6435.651, 1.6855, 1.1260), (6437.336, 1.6859, 1.1254)),
    ((90, 98, 106), 10.7, 0.08, (414.7216, 0.8332, 0.0686), (415.5549, 0.8349, 0.0683)),
]


@pytest.mark.parametrize("across", ["tuning", "coil"])
@pytest.mark.parametrize(("points", "if_mhz", "signal_uh", "by_tuning", "by_coil"), GOLD)
def test_padder_trimmer_and_coil_track_at_three_points_with_the_gold_values(
    points: tuple[float, float, float],
    if_mhz: float,
    signal_uh: float,
    by_tuning: tuple[float, float, float],
    by_coil: tuple[float, float, float],
    across: str,
) -> None:
    band = 0.95 * points[0] * 1e6, 1.05 * points[2] * 1e6
    law = gang_range(capacitance_for_f(band[0], signal_uh * 1e-6), band)
    text = gang_set(band, if_mhz * 1e6, law, (COIL, TRIMMER, PADDER), [p * 1e6 for p in points], across=across)
    plan = planned(text)
    padder, trimmer, coil = by_tuning if across == "tuning" else by_coil
    assert part(plan, "antenna", "inductance").needed == pytest.approx(signal_uh * 1e-6, rel=1e-6)
    assert part(plan, "oscillator", "padder").needed == pytest.approx(padder * 1e-12, rel=1e-4)
    # Four printed decimals are all that the small trimmers of the last two rows have.
    assert part(plan, "oscillator", "trimmer").needed == pytest.approx(trimmer * 1e-12, rel=1e-4, abs=6e-17)
    assert part(plan, "oscillator", "inductance").needed == pytest.approx(coil * 1e-6, rel=1e-4, abs=6e-11)
    assert all(abs(point.error_hz) < 1.0 for point in plan.tracking[0].at_points)


def test_with_the_oscillator_below_the_padder_of_the_signal_circuit_comes_out_right() -> None:
    # Computed with the roles of the closed form exchanged: oscillator 79.3, 87.3, 95.3 MHz on 0.1 uH.
    band, ends = (87.5e6, 108e6), (76.8e6, 97.3e6)
    law = gang_range(capacitance_for_f(ends[0], 0.1e-6), ends)
    points = ", ".join(khz(hz) for hz in (90e6, 98e6, 106e6))
    text = (
        head(band, 10.7e6, law, "below")
        + circuit("oscillator", (COIL, TRIMMER), "oscillator")
        + circuit("antenna", (COIL, TRIMMER, PADDER), more='trimmer-across = "tuning"')
        + f'[[step]]\nid = "coverage"\nkind = "coverage"\ntolerance = "50 kHz"\n'
        f"points = [{{ dial = {khz(87.5e6)} }}, {{ dial = {khz(108e6)} }}]\n"
        f'[[step]]\nid = "antenna"\nkind = "tracking"\ncircuit = "antenna"\n'
        f'points = [{points}]\ntolerance = "150 kHz"\n'
    )
    plan = planned(text)
    assert part(plan, "oscillator", "inductance").needed == pytest.approx(0.1e-6, rel=1e-5)
    assert part(plan, "antenna", "padder").needed == pytest.approx(373.9189e-12, rel=1e-4)
    assert part(plan, "antenna", "trimmer").needed == pytest.approx(0.93469e-12, rel=1e-3)
    assert part(plan, "antenna", "inductance").needed == pytest.approx(0.0842383e-6, rel=1e-4)


# How good a placement is: greatest oscillator error in kHz over the dial (computed minimax; equioscillation confirmed).
PLACEMENTS = [
    # band kHz, IF, own points, greatest with them, best points, greatest with those
    ((540, 1600), 455, (600, 1000, 1400), 11.657, (596.7, 1010.5, 1513.5), 4.675),
    ((540, 1600), 455, (600, 1000, 1500), 5.545, (596.7, 1010.5, 1513.5), 4.675),
    ((526.5, 1606.5), 455, (600, 1000, 1400), 12.205, (584.0, 1004.4, 1518.0), 5.017),
    ((525, 1705), 455, (600, 1000, 1400), 21.880, (586.9, 1043.3, 1607.3), 5.921),
    ((148.5, 283.5), 455, (148.5, 216, 283.5), 0.643, (156.7, 212.2, 273.4), 0.3805),
    ((87500, 108000), 10700, (90000, 98000, 106000), 2.570, (88808, 97494, 106563), 1.3305),
]


@pytest.mark.parametrize("law", ["", 'range = ["12 pF", "365 pF"]'], ids=["scaled", "absolute"])
@pytest.mark.parametrize(("band", "if_khz", "own", "own_khz", "best", "best_khz"), PLACEMENTS)
def test_the_best_points_and_the_own_ones_have_the_greatest_errors_that_were_computed(
    band: tuple[float, float],
    if_khz: float,
    own: tuple[float, float, float],
    own_khz: float,
    best: tuple[float, float, float],
    best_khz: float,
    law: str,
) -> None:
    ends = band[0] * 1e3, band[1] * 1e3
    text = gang_set(ends, if_khz * 1e3, law, (COIL, TRIMMER, PADDER), [p * 1e3 for p in own])
    if law and band[0] in (148.5, 87500):
        law = gang_range(365e-12, ends)  # a gang that covers so narrow a band alone has not so wide a range
        text = gang_set(ends, if_khz * 1e3, law, (COIL, TRIMMER, PADDER), [p * 1e3 for p in own])
    tracking = planned(text).tracking[0]
    assert abs(tracking.own.greatest.error_hz) == pytest.approx(own_khz * 1e3, rel=5e-3)
    assert tracking.best is not None
    assert abs(tracking.best.greatest.error_hz) == pytest.approx(best_khz * 1e3, rel=5e-3)
    assert tracking.best.points_hz == pytest.approx([p * 1e3 for p in best], rel=5e-4)


def test_the_image_and_its_rejection_are_the_textbooks() -> None:
    # Kennedy, Davis and Prasanna, Electronic Communication Systems, 5th ed., p. 153: 1000 kHz, IF 455 kHz, Q 100; READ.
    text = gang_set((500e3, 2000e3), 455e3, "", (COIL, TRIMMER, PADDER), (600e3, 1000e3, 1800e3), q=100.0)
    middle = planned(text).images[1]
    assert middle.received_hz == pytest.approx(1000e3)
    assert middle.image_hz == pytest.approx(1910e3)
    assert middle.rejection_db == pytest.approx(42.838, abs=1e-3)


def test_the_counter_of_the_shipped_fm_set_shows_what_dividing_gives(fm_text: str) -> None:
    # Common practice, no source: 87.5 to 108 MHz, IF 10.7 MHz above, divided by 256: 383.594 to 463.672 kHz.
    counter = plan_of(parse_procedure(fm_text, "fm.toml")).bands[0].counter
    assert counter is not None
    assert [line.shown_hz for line in counter.lines] == pytest.approx([383_594, 463_672], abs=0.5)
    assert counter.step_hz == pytest.approx(2560.0)
