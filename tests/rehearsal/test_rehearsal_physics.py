import math

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq, minimize

from aligner.procedure.model import Procedure, TrackingStep
from aligner.rehearsal.electrical import Electrical, crossing, resonance_hz
from aligner.rehearsal.laws import Numbers, diode_capacitance, inductance, trimmer_capacitance
from aligner.rehearsal.parts import Coil, Diode, Trimmer, TunedCircuit
from aligner.rehearsal.truth import Truth, least_greatest
from tests.rehearsal.conftest import Drawn

CORE = Coil("core", "core", 1e-6, 0.4, 7.0, 3.5, 7.0, 2e-12, 0.5, 60.0, 0.02, 0.02, 0.05)


def circuit(**changed: object) -> TunedCircuit:
    plain = TunedCircuit("a", "signal", (), CORE, (), "coil", 3e-12, 1e-12)
    return msgspec.structs.replace(plain, **changed)


def test_a_circuit_without_padder_resonates_where_thomson_says() -> None:
    bare = circuit(coil=msgspec.structs.replace(CORE, self_moves=0.0))
    total = 100e-12 + 10e-12 + 3e-12 + 1e-12 + 2e-12
    expected = 1 / (2 * math.pi * math.sqrt(1e-6 * total))
    assert resonance_hz(bare, 1e-6, 10e-12, None, 100e-12) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("across", ["tuning", "coil"])
def test_a_padder_stands_in_series_with_the_tuning_side_only(across: str) -> None:
    bare = circuit(coil=msgspec.structs.replace(CORE, self_moves=0.0), trimmer_across=across)
    front = 100e-12 + 3e-12 + (10e-12 if across == "tuning" else 0.0)
    total = 400e-12 * front / (400e-12 + front) + 1e-12 + 2e-12 + (10e-12 if across == "coil" else 0.0)
    expected = 1 / (2 * math.pi * math.sqrt(1e-6 * total))
    assert resonance_hz(bare, 1e-6, 10e-12, 400e-12, 100e-12) == pytest.approx(expected, rel=1e-12)


def test_a_core_that_goes_past_the_centre_gives_each_inductance_twice() -> None:
    values = np.asarray(inductance(CORE, np.linspace(0.0, 10.0, 1001)))
    wanted = 1.3e-6
    assert np.count_nonzero((values[:-1] > wanted) != (values[1:] > wanted)) == 2


def test_a_rotary_trimmer_gives_each_capacitance_twice_a_turn() -> None:
    rotary = Trimmer("t", "rotary", 2e-12, 10e-12, 1.0, 1.5)
    values = np.asarray(trimmer_capacitance(rotary, np.linspace(0.1, 1.1, 1001)))
    assert np.count_nonzero((values[:-1] > 5e-12) != (values[1:] > 5e-12)) == 2
    assert trimmer_capacitance(rotary, 0.3) == pytest.approx(trimmer_capacitance(rotary, 1.3))


def test_a_compression_trimmer_gives_most_of_its_capacitance_in_the_last_turn() -> None:
    trimmer = Trimmer("t", "compression", 3e-12, 30e-12, 3.0, 1.5)
    low, middle, high = (float(trimmer_capacitance(trimmer, at)) for at in (0.0, 2.0, 3.0))
    assert low == pytest.approx(3e-12)
    assert high == pytest.approx(30e-12)
    assert high - middle > 0.45 * (high - low)


def test_a_swing_of_one_volt_on_two_volts_raises_the_capacitance_by_about_one_per_cent() -> None:
    # By averaging C(V) over a cycle, which the Taylor term must reproduce.
    still = Diode(40e-12, 0.7, 0.5, 0.0, 0.0, 0.0)
    phase = np.linspace(0.0, 2 * np.pi, 2001)[:-1]
    averaged = float(np.mean(np.asarray(diode_capacitance(still, 2.0 + 1.0 * np.sin(phase)))))
    swung = float(diode_capacitance(msgspec.structs.replace(still, swing=1.0), 2.0))
    rise = swung / float(diode_capacitance(still, 2.0)) - 1
    assert swung == pytest.approx(averaged, rel=2e-3)  # the next term of the series is that small
    assert 0.01 < rise < 0.04


def test_a_set_is_tuned_to_where_its_oscillator_stands_one_intermediate_frequency_off(
    fm: Procedure, drawn: Drawn
) -> None:
    parts = drawn(fm).parts
    circuits, places = Electrical(parts), {screw.id: screw.start for screw in parts.screws}
    wanted = 98e6 + parts.side * parts.intermediate
    for part in (0.4, 0.6):  # the second time what was kept of the tuning must not hold the first place of the screw
        places[circuits.oscillator.coil.screw] = part * circuits.oscillator.coil.travel
        at = circuits.tuned_to(98e6, places)
        assert at is not None
        assert float(circuits.oscillator_hz(at, places)) == pytest.approx(wanted, abs=10.0)


def test_the_nearest_crossing_is_found_and_a_wished_side_is_preferred() -> None:
    assert crossing(np.sin, 0.5, 10.0, 0.0, 4.0) == pytest.approx(math.pi, abs=1e-6)
    assert crossing(np.sin, 0.5, 10.0, 0.0, 4.0, sense=1) == pytest.approx(2 * math.pi, abs=1e-6)
    assert crossing(np.sin, 0.5, 10.0, 2.0, 4.0) is None


@pytest.mark.parametrize("at", [0.2, 0.2001, 1.0, 3.7, 7.999])
def test_a_crossing_is_found_far_closer_than_a_step_of_the_grid(at: float) -> None:
    def bent(place: Numbers) -> Numbers:
        return 1 / np.sqrt(0.3 + (place + 0.7) ** -0.6)

    assert crossing(bent, 0.1, 8.0, float(bent(at)), 4.0, points=65) == pytest.approx(at, abs=1e-7)


def test_the_true_tracking_error_is_the_one_found_by_plain_root_finding(fm: Procedure, drawn: Drawn) -> None:
    virtual = drawn(fm, 1)
    places = virtual.positions()
    circuits = Electrical(virtual.parts)
    signal = virtual.parts.circuit("antenna")

    def off(volts: float) -> float:
        runs = float(circuits.oscillator_hz(volts, places)) * (1 + virtual.bench.drift)
        return runs - received - fm.intermediate_hz

    received = float(circuits.oscillator_hz(4.0, places)) - fm.intermediate_hz
    at = brentq(off, *virtual.parts.tuning, xtol=1e-12)
    expected = float(circuits.resonance(signal, at, places)) - received
    found = Truth(virtual).tracking_errors_hz("antenna", np.array([received]))[0]
    assert found == pytest.approx(expected, abs=300.0)  # the truth reads between rows of a table


@pytest.mark.parametrize("index", [0, 1, 2])
def test_no_setting_of_the_adjusters_beats_the_least_greatest_error(fm: Procedure, drawn: Drawn, index: int) -> None:
    virtual = drawn(fm, index)
    truth = Truth(virtual)
    step = next(row for row in fm.steps if isinstance(row, TrackingStep))
    received = np.linspace(92e6, 104e6, 13)
    at = truth.tunings(received, "")
    keep = ~np.isnan(at)
    at, received = at[keep], received[keep]
    circuits, signal = truth.electrical(""), virtual.parts.circuit(step.circuit)
    best = least_greatest(circuits, signal, at, received, np.ones(len(at)))

    def greatest(turned: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
        inside = np.clip(turned, [0.0, 0.0], [signal.coil.travel, 0.5])
        places = {signal.coil.screw: inside[0], signal.trimmers[0].screw: inside[1]}
        return float(np.max(np.abs(np.asarray(circuits.resonance(signal, at, places)) - received)))

    starts = [(coil, trim) for coil in (2.0, 3.5, 5.0) for trim in (0.1, 0.25, 0.4)]
    found = min(
        float(minimize(greatest, start, method="Nelder-Mead", options={"maxiter": 2000}).fun) for start in starts
    )
    assert best <= found * 1.001
    assert found == pytest.approx(best, rel=0.05)  # and it can be reached by turning


def test_a_core_that_moves_its_self_capacitance_breaks_the_law_of_one_factor(fm: Procedure, drawn: Drawn) -> None:
    # What an estimator may assume (a coil multiplies 1/f^2 by one factor everywhere) is not what the set does.
    broken = []
    for index in range(12):
        virtual = drawn(fm, index)
        circuits, signal = Electrical(virtual.parts), virtual.parts.circuit("antenna")
        ends = np.array([2.0, 8.0])
        out, far_in = (
            np.asarray(circuits.resonance(signal, ends, {**virtual.positions(), signal.coil.screw: turn}))
            for turn in (2.0, 5.0)
        )
        factors = (out / far_in) ** 2
        broken.append(abs(factors[1] / factors[0] - 1))
    assert np.median(broken) > 4e-4  # half of it, 20 kHz at 98 MHz, is twice what a hand stops off


@given(st.floats(-50.0, 50.0), st.floats(0.5, 40.0), st.floats(0.001, 0.999))
def test_where_a_straight_line_passes_is_found_and_where_it_does_not_nothing_is(
    low: float, span: float, share: float
) -> None:
    high = low + span
    at = low + share * span
    found = crossing(lambda x: 3.0 * x, low, high, 3.0 * at, low, points=65)
    assert found == pytest.approx(at, abs=1e-9 * (abs(low) + span))
    assert crossing(lambda x: 3.0 * x, low, high, 3.0 * (high + 1.0), low, points=65) is None
