"""Laws of the physics that hold for every set, drawn at random."""

from itertools import pairwise
from typing import Literal

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from aligner.circuits.counter import (
    Counting,
    Shows,
    displayed_from_oscillator,
    displayed_from_received,
    oscillator_from_displayed,
    received_from_displayed,
)
from aligner.circuits.exact_pair import exact_pair
from aligner.circuits.minimax import Hardware, Measure, best_points, error_curve
from aligner.circuits.padding import three_point, two_point_padder, two_point_trimmer
from aligner.circuits.preferred import Series, decade, nearest_preferred, neighbours
from aligner.circuits.resonance import detuning_of_fall, fall_ratios, loss_db
from aligner.circuits.solve import solve_circuit
from aligner.circuits.superhet import Side, image_dial_hz, image_hz, oscillator_hz, received_hz
from aligner.circuits.tables import TableLaw
from aligner.circuits.tank import Across, TunedCircuit, series_f, unseries_f
from aligner.circuits.tracking import tracking_curve
from aligner.circuits.wand import frequency_change, part_change

PF, UH = 1e-12, 1e-6

picofarads = st.floats(2, 500).map(lambda value: value * PF)
sides: st.SearchStrategy[Side] = st.sampled_from(["above", "below"])
acrosses: st.SearchStrategy[Across] = st.sampled_from(["tuning", "coil"])


@st.composite
def circuits(draw: st.DrawFn) -> TunedCircuit:
    padder = draw(st.none() | st.floats(50, 2000))
    return TunedCircuit(
        draw(st.floats(0.05, 2000)) * UH,
        draw(st.floats(1, 60)) * PF,
        None if padder is None else padder * PF,
        draw(acrosses),
        draw(st.floats(0, 20)) * PF,
    )


@given(circuits(), picofarads)
def test_every_part_is_found_again(circuit: TunedCircuit, tuning_f: float) -> None:
    found = circuit.resonance_hz(tuning_f)
    assert circuit.tuning_for_f(found) == pytest.approx(tuning_f, rel=1e-6)
    assert circuit.inductance_for_h(found, tuning_f) == pytest.approx(circuit.inductance_h)
    assert circuit.trimmer_for_f(found, tuning_f) == pytest.approx(circuit.trimmer_f, rel=1e-6)
    if circuit.padder_f:
        # A padder far larger than what is behind it hardly shows: digits are lost as the square of their ratio.
        assert circuit.padder_for_f(found, tuning_f) == pytest.approx(circuit.padder_f, rel=1e-6)


@given(circuits(), picofarads, picofarads)
def test_more_capacitance_never_tunes_higher(circuit: TunedCircuit, one_f: float, other_f: float) -> None:
    low, high = sorted((one_f, other_f))
    assert circuit.resonance_hz(low) >= circuit.resonance_hz(high)


@given(picofarads, picofarads)
def test_series_is_undone(one_f: float, other_f: float) -> None:
    assert unseries_f(series_f(one_f, other_f), other_f) == pytest.approx(one_f, rel=1e-6)


@given(
    circuits().filter(lambda circuit: circuit.padder_f is None or circuit.trimmer_across == "coil"),
    st.tuples(picofarads, picofarads).filter(lambda pair: max(pair) > 1.05 * min(pair)),
    st.floats(0.7, 1.4),
    st.floats(-20, 40),
    picofarads,
)
def test_an_exact_pair_is_exact_everywhere_on_the_tuning(
    circuit: TunedCircuit, points: tuple[float, float], coil: float, trimmer_pf: float, elsewhere_f: float
) -> None:
    assume(circuit.trimmer_f + circuit.strays_f + trimmer_pf * PF > 0)
    after = TunedCircuit(
        circuit.inductance_h * coil,
        circuit.trimmer_f + trimmer_pf * PF,
        circuit.padder_f,
        circuit.trimmer_across,
        circuit.strays_f,
    )
    found = circuit.resonance_hz(points[0]), circuit.resonance_hz(points[1])
    pair = exact_pair(found, (after.resonance_hz(points[0]), after.resonance_hz(points[1])))
    assert pair.factor == pytest.approx(coil, rel=1e-6)
    assert pair.target_hz(circuit.resonance_hz(elsewhere_f)) == pytest.approx(after.resonance_hz(elsewhere_f), rel=1e-6)
    half_way = TunedCircuit(after.inductance_h, *[getattr(circuit, name) for name in TunedCircuit.__slots__[1:]])
    assert pair.coil_aim_hz(found[0]) == pytest.approx(half_way.resonance_hz(points[0]), rel=1e-6)


@st.composite
def countings(draw: st.DrawFn) -> Counting:
    shows: Shows = draw(st.sampled_from(["divided", "oscillator", "received"]))
    return Counting(shows, draw(st.integers(1, 1024)), draw(st.floats(1e-3, 10)), draw(sides), draw(st.floats(0, 2e7)))


@given(countings(), st.floats(1e4, 2e8), st.floats(1e4, 2e7))
def test_what_is_displayed_says_what_the_oscillator_does_and_what_is_received(
    counting: Counting, frequency_hz: float, intermediate_hz: float
) -> None:
    shown = displayed_from_oscillator(frequency_hz, counting)
    assert oscillator_from_displayed(shown, counting) == pytest.approx(frequency_hz, abs=1e-6)
    shown = displayed_from_received(frequency_hz, counting, intermediate_hz)
    assert received_from_displayed(shown, counting, intermediate_hz) == pytest.approx(frequency_hz, abs=1e-6)


@given(st.floats(1e5, 2e8), st.floats(1e4, 2e7), sides)
def test_image_and_signal_lie_one_if_either_side_of_the_oscillator(
    frequency_hz: float, intermediate_hz: float, side: Side
) -> None:
    oscillator = oscillator_hz(frequency_hz, intermediate_hz, side)
    image = image_hz(frequency_hz, intermediate_hz, side)
    assert abs(image - oscillator) == pytest.approx(abs(frequency_hz - oscillator))
    assert image_dial_hz(image, intermediate_hz, side) == pytest.approx(frequency_hz)
    assert received_hz(oscillator, intermediate_hz, side) == pytest.approx(frequency_hz)


@given(
    st.lists(st.tuples(st.floats(0.1, 5), st.floats(0.02, 3)), min_size=2, max_size=8),
    st.sampled_from(["linear", "varactor"]),
)
def test_a_table_stays_between_the_rows_around(
    steps: list[tuple[float, float]], scale: Literal["linear", "varactor"]
) -> None:
    positions = np.cumsum([forward for forward, _ in steps])
    capacitances = 1.0 + np.cumsum([down for _, down in steps])[::-1]
    law = TableLaw(tuple(zip(positions.tolist(), capacitances.tolist(), strict=True)), scale)
    for (left, upper), (right, lower) in pairwise(law.rows):
        values = law.capacitance_f(np.linspace(left, right, 17))
        assert np.all(np.diff(values) <= 1e-12)
        assert np.all((values <= upper + 1e-12) & (values >= lower - 1e-12))


@st.composite
def bands(draw: st.DrawFn) -> tuple[float, float, float]:
    """Band ends and an IF that a superheterodyne might have."""
    low = draw(st.floats(1e5, 1e8))
    return low, low * draw(st.floats(1.1, 3.3)), low * draw(st.floats(0.1, 0.9))


@given(bands(), sides, acrosses, st.floats(1, 500))
def test_three_point_tracking_is_exact_at_its_points_for_any_coil_and_either_circuit(
    band: tuple[float, float, float], side: Side, across: Across, microhenries: float
) -> None:
    low, high, intermediate = band
    points = low * 1.05, (low * high) ** 0.5, high * 0.97
    assume(points[0] < points[1] < points[2])
    design = three_point(points, intermediate, side, microhenries * UH, across)
    gang_f = np.array([design.oscillator.tuning_for_f(oscillator_hz(point, intermediate, side)) for point in points])
    curve = tracking_curve(design.signal, design.oscillator, gang_f, intermediate, side)
    assert np.max(np.abs(curve.detuning)) < 1e-7
    assert design.oscillator.trimmer_f >= 0
    assert design.signal.trimmer_f >= 0


@given(bands(), sides, picofarads)
def test_two_point_designs_are_exact_at_both_ends(band: tuple[float, float, float], side: Side, gang_f: float) -> None:
    low, high, intermediate = band
    for design in (
        two_point_padder(low, high, intermediate, side, gang_f),
        two_point_trimmer(low, high, intermediate, side, gang_f),
    ):
        ends = np.array([design.signal.tuning_for_f(low), design.signal.tuning_for_f(high)])
        curve = tracking_curve(design.signal, design.oscillator, ends, intermediate, side)
        assert np.max(np.abs(curve.detuning)) < 1e-9
        assert curve.received_hz == pytest.approx([low, high])


@settings(max_examples=25, deadline=None)
@given(
    bands(),
    sides,
    st.sampled_from(["padded", "unpadded"]),
    st.sampled_from(["relative", "hz"]),
    st.lists(st.floats(-0.03, 0.03), min_size=3, max_size=3),
)
def test_no_points_nearby_are_better_than_the_best(
    band: tuple[float, float, float], side: Side, hardware: Hardware, measure: Measure, nudges: list[float]
) -> None:
    low, high, intermediate = band
    best = best_points(low, high, intermediate, side, hardware, measure)
    sizes = [abs(error) for _, error in best.extremes]
    assert sizes == pytest.approx([best.worst] * len(sizes), rel=1e-5)
    assert all(one * other < 0 for (_, one), (_, other) in pairwise(best.extremes))
    moved = np.array(best.points_hz) + (high - low) * np.array(nudges[: len(best.points_hz)])
    assume(np.all(np.diff(moved) > 0.01 * (high - low)))
    at_hz = np.linspace(low, high, 2001)
    worst = np.max(np.abs(error_curve(moved, at_hz, intermediate, side, hardware, measure)))
    assert worst >= best.worst * (1 - 1e-4)  # the grid may miss a little of an extreme


@settings(max_examples=40, deadline=None)
@given(circuits().filter(lambda circuit: circuit.padder_f is not None), st.floats(0.7, 1.4), st.floats(0.7, 1.4))
def test_the_numeric_solve_reaches_what_can_be_reached(truth: TunedCircuit, coil: float, padder: float) -> None:
    assert truth.padder_f is not None
    gang_f = np.array([300.0, 100.0, 25.0]) * PF
    start = TunedCircuit(
        truth.inductance_h * coil, truth.trimmer_f * 1.5, truth.padder_f * padder, truth.trimmer_across, truth.strays_f
    )
    wanted = truth.resonance_hz(gang_f)
    found = solve_circuit(start, gang_f, wanted, ("inductance", "trimmer", "padder"))
    assert np.max(np.abs(found.error_hz / wanted)) < 1e-6


@given(st.floats(2, 500), st.floats(1e-6, 80))
def test_a_fall_and_its_two_frequencies_are_inverses(quality: float, fall_db: float) -> None:
    below, above = fall_ratios(quality, fall_db)
    assert below * above == pytest.approx(1)
    # Close to the peak the difference of two numbers near one loses digits, the more the higher Q is.
    assert loss_db(above, 1.0, quality) == pytest.approx(fall_db, rel=1e-6)
    assert detuning_of_fall(fall_db) >= 0


@given(st.floats(-0.5, 2))
def test_change_of_part_and_of_frequency_are_inverses(change: float) -> None:
    assert part_change(frequency_change(change)) == pytest.approx(change, abs=1e-12)
    assert frequency_change(change) == pytest.approx((1 + change) ** -0.5 - 1, abs=1e-12)


@given(st.floats(1e-13, 1e6), st.sampled_from(["E6", "E12", "E24", "E48", "E96"]))
def test_the_nearest_preferred_value_is_one_of_its_neighbours_and_no_other_is_nearer(
    value: float, series: Series
) -> None:
    below, above = neighbours(value, series)
    nearest = nearest_preferred(value, series)
    assert below <= value * (1 + 1e-9)
    assert value <= above * (1 + 1e-9)
    assert nearest in (below, above)
    power = np.floor(np.log10(value))
    every = [step * 10.0 ** (power + shift) for step in decade(series) for shift in (-1, 0, 1)]
    best = min(abs(np.log(step / value)) for step in every)
    assert abs(np.log(nearest / value)) == pytest.approx(best, abs=1e-9)
