import numpy as np
import pytest

from aligner.estimate.events import Drifted, Sighted, Spot
from aligner.estimate.ladder import Array, ladder
from aligner.estimate.layout import bend_kernel, tilt_of
from aligner.estimate.stand import received_places
from tests.estimate.worked import Worked, frame, off
from tests.small_sets import MW

ENDS = (600e3, 1400e3)


def _worked() -> Worked:
    own = frame(MW)
    worked = Worked(own, "oscillator", off(own, "oscillator", 0.04, -0.02, 0.0, 0.0), sd_hz=5.0)
    worked.look(*ENDS)
    worked.turn("oscillator-trimmer", 0.03)
    worked.look(1400e3)
    return worked


def _places(*hz: float) -> Array:
    return np.array(hz)


def test_a_circuit_that_is_asked_again_at_the_same_places_gives_the_same_values() -> None:
    circuit = _worked().belief().circuits["oscillator"]
    assert circuit.stand.at(_places(*ENDS)) is circuit.stand.at(_places(*ENDS))
    np.testing.assert_array_equal(circuit.hz(_places(*ENDS)), circuit.hz(_places(*reversed(ENDS)))[::-1])


def test_what_was_handed_out_once_cannot_be_changed_for_the_next() -> None:
    circuit = _worked().belief().circuits["oscillator"]
    with pytest.raises(ValueError, match="read-only"):
        circuit.hz(_places(*ENDS))[0] = 0.0


def test_places_that_are_kept_give_what_the_equation_gives() -> None:
    worked = _worked()
    last = worked.events[-1].seq
    read = Sighted(last + 2, "oscillator", Spot(1400e3), worked.hz(1400e3) + 50.0, 5.0)
    stand = worked.belief([Drifted(last + 1, "oscillator", 5e-5), read]).circuits["oscillator"].stand
    z, shift = _places(700e3, 1100e3, 1500e3), np.array([0.01, -0.02, 0.0, 0.0])
    assert abs(stand.drifted).max() > 1e-5
    drifted = tilt_of(stand.frame, z) @ stand.drifted
    seen = np.array([spot.hz for spot in stand.fit.layout.spots["oscillator"]])
    bend = bend_kernel(stand.frame, z, seen) @ stand.bend
    plain = ladder(stand.frame.law(z), stand.settings + shift)
    np.testing.assert_allclose(stand.at(z).lny(shift), plain.lny + drifted + bend, rtol=1e-12)
    np.testing.assert_allclose(stand.at(z).ladder(shift).lny, stand.at(z).lny(shift), rtol=1e-12)
    np.testing.assert_array_equal(stand.at(z).ladder(shift).by_setting, plain.by_setting)


@pytest.mark.parametrize("drifted", [False, True])
def test_places_that_are_asked_for_once_give_what_kept_ones_give(*, drifted: bool) -> None:
    worked = _worked()
    last = worked.events[-1].seq
    read = Sighted(last + 2, "oscillator", Spot(1400e3), worked.hz(1400e3) + 50.0, 5.0)
    before = [Drifted(last + 1, "oscillator", 5e-5)] if drifted else []
    stand = worked.belief([*before, read]).circuits["oscillator"].stand
    z = _places(700e3, 1100e3, 1500e3)
    assert stand.has_drifted == drifted
    np.testing.assert_allclose(stand.hz_once(z), stand.at(z).hz(), rtol=1e-12)
    np.testing.assert_array_equal(stand.at(z).variance, np.diag(stand.at(z).known))


def test_a_circuit_stands_before_a_movement_where_it_was_read_before_it() -> None:
    worked = _worked()
    now = worked.belief().circuits["oscillator"]
    read = [event.hz for event in worked.events[:2]]  # type: ignore[union-attr]
    np.testing.assert_allclose(now.before(3).hz(_places(*ENDS)), read, atol=20.0)
    assert abs(float(now.hz(_places(1400e3))[0]) - read[1]) > 1e3


def test_a_reading_of_another_circuit_leaves_the_stand_of_one_as_it_is() -> None:
    worked = _worked()
    antenna = Worked(worked.frame, "antenna", off(worked.frame, "antenna", 0.0), sd_hz=5.0)
    antenna.events = list(worked.events)
    antenna.look(600e3)
    assert antenna.belief().circuits["oscillator"].stand is worked.belief().circuits["oscillator"].stand


def test_whole_hertz_may_be_integers() -> None:
    stand = _worked().belief().circuits["oscillator"].stand
    received = received_places(stand, (700_000, 1_100_000))
    np.testing.assert_allclose(stand.at(received).hz(), np.array([7e5, 11e5]) + stand.frame.offset_hz, rtol=1e-9)
