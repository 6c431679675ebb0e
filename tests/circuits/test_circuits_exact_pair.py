"""Two adjusters, two points, each touched once, on real circuits."""

import pytest

from aligner.circuits.exact_pair import coil_overshoot, exact_pair, trimmer_overshoot
from aligner.circuits.tank import TunedCircuit, capacitance_for_f
from aligner.errors import CircuitError

PF, MHZ = 1e-12, 1e6
POINTS = (14.2 * PF, 7.9 * PF)  # invented: the tuning element at the lower and the upper end
WANTED = (98.2 * MHZ, 118.7 * MHZ)
SET = TunedCircuit(0.09e-6, 14 * PF)


def with_coil(circuit: TunedCircuit, inductance_h: float) -> TunedCircuit:
    return TunedCircuit(inductance_h, circuit.trimmer_f, circuit.padder_f, circuit.trimmer_across, circuit.strays_f)


def with_trimmer(circuit: TunedCircuit, trimmer_f: float) -> TunedCircuit:
    return TunedCircuit(circuit.inductance_h, trimmer_f, circuit.padder_f, circuit.trimmer_across, circuit.strays_f)


@pytest.mark.parametrize("circuit", [SET, TunedCircuit(0.09e-6, 14 * PF, 330 * PF, "coil", 1 * PF)])
@pytest.mark.parametrize("first", [0, 1])
def test_coil_to_its_half_way_aim_then_trimmer_sets_both_points(circuit: TunedCircuit, first: int) -> None:
    second = 1 - first
    pair = exact_pair((circuit.resonance_hz(POINTS[0]), circuit.resonance_hz(POINTS[1])), WANTED)
    aim = pair.coil_aim_hz(circuit.resonance_hz(POINTS[first]))
    circuit = with_coil(circuit, circuit.inductance_for_h(aim, POINTS[first]))
    circuit = with_trimmer(circuit, circuit.trimmer_for_f(WANTED[second], POINTS[second]))
    assert circuit.resonance_hz(POINTS[first]) == pytest.approx(WANTED[first], rel=1e-12)


@pytest.mark.parametrize("first", [0, 1])
def test_trimmer_to_its_half_way_aim_then_coil_sets_both_points(first: int) -> None:
    second, circuit = 1 - first, SET
    pair = exact_pair((circuit.resonance_hz(POINTS[0]), circuit.resonance_hz(POINTS[1])), WANTED)
    aim = pair.trimmer_aim_hz(circuit.resonance_hz(POINTS[first]))
    circuit = with_trimmer(circuit, circuit.trimmer_for_f(aim, POINTS[first]))
    circuit = with_coil(circuit, circuit.inductance_for_h(WANTED[second], POINTS[second]))
    assert circuit.resonance_hz(POINTS[first]) == pytest.approx(WANTED[first], rel=1e-12)


def test_the_pair_tells_the_amounts_and_every_other_place() -> None:
    pair = exact_pair((SET.resonance_hz(POINTS[0]), SET.resonance_hz(POINTS[1])), WANTED)
    after = TunedCircuit(pair.factor * SET.inductance_h, SET.trimmer_f)
    after = with_trimmer(after, SET.trimmer_f + pair.trimmer_change_f(after.inductance_h))
    assert after.resonance_hz(POINTS[0]) == pytest.approx(WANTED[0])
    assert pair.target_hz(SET.resonance_hz(10 * PF)) == pytest.approx(after.resonance_hz(10 * PF))


def test_the_half_way_aim_is_not_the_target() -> None:
    pair = exact_pair((SET.resonance_hz(POINTS[0]), SET.resonance_hz(POINTS[1])), WANTED)
    assert abs(pair.coil_aim_hz(SET.resonance_hz(POINTS[0])) - WANTED[0]) > 1 * MHZ


def test_it_is_not_exact_with_the_trimmer_behind_a_padder() -> None:
    circuit = TunedCircuit(0.09e-6, 14 * PF, 40 * PF, "tuning")
    pair = exact_pair((circuit.resonance_hz(POINTS[0]), circuit.resonance_hz(POINTS[1])), WANTED)
    circuit = with_coil(circuit, pair.factor * circuit.inductance_h)
    circuit = with_trimmer(circuit, circuit.trimmer_for_f(WANTED[1], POINTS[1]))
    assert abs(circuit.resonance_hz(POINTS[0]) - WANTED[0]) > 1e-4 * WANTED[0]


def test_coil_travels_past_its_peak_by_the_overshoot() -> None:
    # A signal circuit whose trimmer was peaked at the upper point: the coil goes on past its peak at the lower one.
    wanted = (87.5 * MHZ, 108 * MHZ)
    circuit = with_trimmer(SET, SET.trimmer_for_f(wanted[1], POINTS[1]))
    before = circuit.resonance_hz(POINTS[0])
    to_peak = circuit.inductance_for_h(wanted[0], POINTS[0]) - circuit.inductance_h
    whole = to_peak * coil_overshoot(before, wanted[1])
    circuit = with_coil(circuit, circuit.inductance_h + whole)
    circuit = with_trimmer(circuit, circuit.trimmer_for_f(wanted[1], POINTS[1]))
    assert circuit.resonance_hz(POINTS[0]) == pytest.approx(wanted[0], rel=1e-12)
    assert 2 < whole / to_peak < 6  # far past the peak: 1 / (1 - 0.65) on this band, more where the set is far off


@pytest.mark.parametrize("trimmer_at", [0, 1])
def test_trimmer_travels_past_its_peak_by_the_overshoot(trimmer_at: int) -> None:
    wanted, coil_at = (87.5 * MHZ, 108 * MHZ), 1 - trimmer_at
    circuit = with_coil(SET, SET.inductance_for_h(wanted[coil_at], POINTS[coil_at]))
    to_peak = circuit.trimmer_for_f(wanted[trimmer_at], POINTS[trimmer_at]) - circuit.trimmer_f
    whole = to_peak * trimmer_overshoot(wanted[trimmer_at], wanted[coil_at])
    circuit = with_trimmer(circuit, circuit.trimmer_f + whole)
    circuit = with_coil(circuit, circuit.inductance_for_h(wanted[coil_at], POINTS[coil_at]))
    assert circuit.resonance_hz(POINTS[trimmer_at]) == pytest.approx(wanted[trimmer_at], rel=1e-12)
    assert (whole / to_peak > 0) == (trimmer_at == 1)  # at the lower point the trimmer must go the opposite way


def test_readings_in_the_wrong_order_are_refused() -> None:
    for found in ((118 * MHZ, 98 * MHZ), (98 * MHZ, 98 * MHZ)):
        with pytest.raises(CircuitError, match="read both points again"):
            exact_pair(found, WANTED)


def test_a_trimmer_that_cannot_come_first_is_refused() -> None:
    far = TunedCircuit(capacitance_for_f(98 * MHZ, 300 * PF), 290 * PF)  # invented: far too much trimmer
    pair = exact_pair((far.resonance_hz(POINTS[0]), far.resonance_hz(POINTS[1])), WANTED)
    with pytest.raises(CircuitError, match="turn the coil first"):
        exact_pair((98.2 * MHZ, 118.7 * MHZ), (98.2 * MHZ, 400 * MHZ)).trimmer_aim_hz(300 * MHZ)
    assert pair.factor > 1


def test_one_point_twice_gives_no_overshoot() -> None:
    with pytest.raises(CircuitError, match="further apart"):
        trimmer_overshoot(98 * MHZ, 98 * MHZ)
