import numpy as np
import pytest

from aligner.estimate.belief import belief_of
from aligner.estimate.events import Fallen, Moved, Sighted, Spot
from tests.estimate.worked import Worked, frame, off
from tests.small_sets import COIL_AND_TRIMMER, FM, MW, circuit, coverage, fm_head, oscillator, tracking

F3 = (600e3, 1000e3, 1400e3)
SHARED = """[[adjuster]]
id = "common"
circuits = ["antenna", "inner"]
does = "parallel"
kind = "piston-trimmer"
"""
WITH_SHARED = (
    fm_head()
    + oscillator()
    + circuit("antenna")
    + circuit("inner", COIL_AND_TRIMMER[:1])
    + SHARED
    + coverage()
    + tracking()
)


def test_a_received_place_is_where_the_oscillator_makes_it_and_a_dial_place_where_the_scale_says() -> None:
    own = frame(MW)
    worked = Worked(own, "oscillator", off(own, "oscillator", 0.04, 0.0, 0.0, 0.0), sd_hz=5.0)
    worked.look(*F3)
    belief = worked.belief()
    dial, received = belief.places_hz((Spot(1000e3, "dial"), Spot(1000e3, "received")))
    assert dial == 1000e3
    # An inductance 4 % too high stands 2 % low in oscillator frequency: the pointer must go up to receive the same.
    assert received > 1010e3
    assert worked.hz(float(received)) == pytest.approx(1455e3, abs=300.0)


def test_with_the_oscillator_right_received_places_are_those_of_the_scale() -> None:
    own = frame(MW)
    worked = Worked(own, "oscillator", off(own, "oscillator", 0.0), sd_hz=5.0)
    worked.look(*F3)
    places = worked.belief().places_hz(tuple(Spot(z, "received") for z in F3))
    np.testing.assert_allclose(places, F3, rtol=2e-4)


def test_a_signal_circuit_is_seen_at_the_place_where_the_set_then_stood() -> None:
    own = frame(MW)
    wrong = Worked(own, "oscillator", off(own, "oscillator", 0.04, 0.0, 0.0, 0.0), sd_hz=5.0)
    wrong.look(*F3)
    place = float(wrong.belief().places_hz((Spot(1000e3, "received"),))[0])
    antenna = Worked(own, "antenna", off(own, "antenna", 0.02, -0.01, 0.0, 0.0))
    seen = Sighted(20, "antenna", Spot(1000e3, "received"), antenna.hz(place), 50.0)
    wrong.events.append(seen)
    told = wrong.belief().circuits["antenna"].hz(np.array([place]))[0]
    assert told == pytest.approx(antenna.hz(place), abs=300.0)


def test_a_place_is_remembered_as_it_was_when_the_oscillator_is_moved_later() -> None:
    own = frame(MW)
    worked = Worked(own, "oscillator", off(own, "oscillator", 0.04, 0.0, 0.0, 0.0), sd_hz=5.0)
    worked.look(*F3)
    place = float(worked.belief().places_hz((Spot(1000e3, "received"),))[0])
    antenna = Worked(own, "antenna", off(own, "antenna", 0.02, -0.01, 0.0, 0.0))
    worked.events.append(Sighted(worked._next(), "antenna", Spot(1000e3, "received"), antenna.hz(place), 50.0))
    worked.turn("oscillator-coil", -0.04)
    worked.look(*F3)
    belief = worked.belief()
    now = float(belief.places_hz((Spot(1000e3, "received"),))[0])
    assert now < place - 10e3
    assert worked.hz(now) == pytest.approx(1455e3, abs=300.0)
    assert belief.circuits["antenna"].hz(np.array([place]))[0] == pytest.approx(antenna.hz(place), rel=5e-4)


def test_circuits_that_share_an_adjuster_are_fitted_together_and_the_oscillator_first() -> None:
    own = frame(WITH_SHARED)
    antenna = Worked(own, "antenna", off(own, "antenna", 0.0))
    antenna.look(90e6, 106e6)
    antenna.turn("common", 0.05)
    antenna.look(106e6)
    belief = antenna.belief()
    assert next(iter(belief.circuits)) == "oscillator"
    assert belief.circuits["antenna"].fit is belief.circuits["inner"].fit
    assert belief.circuits["oscillator"].fit is not belief.circuits["antenna"].fit
    # What the antenna has shown of the shared trimmer moves what is expected of the other circuit: lower by about half.
    z = np.array([98e6])
    before = belief_of(own, tuple(antenna.events[:2])).circuits["inner"].hz(z)[0]
    assert belief.circuits["inner"].hz(z)[0] / before == pytest.approx(np.exp(-0.5 * 0.05), rel=0.01)


def test_reading_one_circuit_says_nothing_of_another_that_shares_nothing() -> None:
    own = frame(FM)
    z = np.array([98e6])
    before = belief_of(own, ()).circuits["antenna"].sd_hz(z)[0]
    seen = Sighted(1, "oscillator", Spot(87.5e6), 97e6, 100.0)
    after = belief_of(own, (seen,)).circuits["antenna"].sd_hz(z)[0]
    assert after == pytest.approx(before, rel=1e-12)


def test_the_expected_slope_is_that_of_finite_differences() -> None:
    own = frame(MW)
    worked = Worked(own, "oscillator", off(own, "oscillator", 0.04, 0.02, 0.0, -0.03), sd_hz=5.0)
    worked.look(*F3)
    belief = worked.belief().circuits["oscillator"]
    z, step = np.array([700e3, 1500e3]), 1e-6
    for column in range(4):
        shift = step * np.eye(4)[column]
        slope = (belief.lny(z, shift) - belief.lny(z, -shift)) / (2 * step)
        np.testing.assert_allclose(belief.by_setting(z)[:, column], slope, rtol=1e-6)


def test_far_from_what_was_seen_it_is_less_sure() -> None:
    own = frame(FM)
    worked = Worked(own, "oscillator", off(own, "oscillator", 0.01, 0.0, 0.0, 0.0), sd_hz=100.0)
    worked.look(90e6, 98e6)
    near, far = worked.belief().circuits["oscillator"].sd_hz(np.array([94e6, 108e6]))
    assert far > 2.0 * near


def test_an_event_of_another_frame_has_no_effect_on_what_is_kept() -> None:
    own = frame(FM)
    events = (Sighted(1, "oscillator", Spot(87.5e6), 97e6, 100.0), Moved(2, "oscillator-coil"))
    first = belief_of(own, events).circuits["oscillator"]
    again = belief_of(own, events).circuits["oscillator"]
    assert first.fit is again.fit
    other = belief_of(frame(WITH_SHARED), events).circuits["oscillator"]
    assert other.fit is not first.fit


@pytest.mark.parametrize(("scatter", "least", "most"), [(0.0, 0.9, 0.9), (1.0, 0.9, 1.4), (2.5, 2.0, 4.0)])
def test_readings_that_scatter_more_than_usual_widen_what_is_said(scatter: float, least: float, most: float) -> None:
    own = frame(FM)
    worked = Worked(own, "antenna", off(own, "antenna", 0.02, -0.01, 0.0, 0.0), sd_hz=1e4)
    calm = worked.belief().circuits["antenna"].noise
    for sign in (1.0, -1.0, -1.0, 1.0):
        worked.look(90e6, 98e6, 106e6, error_hz=scatter * 1e4 * sign)
    noise = worked.belief().circuits["antenna"].noise
    assert calm == pytest.approx(1.0)  # nothing was read yet
    assert least <= noise <= most


def test_a_circuit_whose_width_is_in_doubt_is_less_sure_than_its_peaks_say() -> None:
    own = frame(FM)
    worked = Worked(own, "antenna", off(own, "antenna", 0.02, -0.01, 0.0, 0.0), sd_hz=1e4)
    worked.look(90e6, 98e6, 106e6)
    read = worked.belief().circuits["antenna"]
    fall = Fallen(20, "antenna", Spot(90e6), worked.hz(90e6), 0.0, 0.06)  # no more than that it stands near
    peaked = worked.belief([fall]).circuits["antenna"]
    doubt = float(np.sqrt(peaked.fit.covariance[(column := peaked.fit.layout.quality["antenna"]), column]))
    assert doubt == pytest.approx(0.3, abs=0.02)  # nothing tells the width
    assert peaked.noise == pytest.approx(read.noise * np.exp((read.noise * doubt) ** 2), rel=0.02)


def test_between_its_points_a_circuit_is_as_unsure_as_the_oscillator_that_it_follows() -> None:
    own = frame(MW)

    def middle_sd_hz(*read_at: float) -> float:
        leader = Worked(own, "oscillator", off(own, "oscillator", 0.0), sd_hz=5.0)
        leader.look(*read_at)
        seen = [Sighted(20 + n, "antenna", Spot(z, "received"), z, 20.0) for n, z in enumerate((600e3, 1400e3))]
        return float(belief_of(own, (*leader.events, *seen)).circuits["antenna"].sd_hz(np.array([1000e3]))[0])

    assert middle_sd_hz(600e3, 1400e3) > 1.4 * middle_sd_hz(*F3)


def test_on_a_narrow_band_one_law_holds_for_all_and_the_oscillator_adds_nothing() -> None:
    own = frame(FM)
    assert belief_of(own, ()).circuits["antenna"].frame.leader is None
    assert belief_of(frame(MW), ()).circuits["antenna"].frame.leader is frame(MW).circuits["oscillator"]
