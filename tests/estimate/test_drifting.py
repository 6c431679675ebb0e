"""Drifts: small as a rule, and believed where they are not."""

from dataclasses import replace

import numpy as np
import pytest

from aligner.estimate.belief import belief_of
from aligner.estimate.drifting import DriftBlock
from aligner.estimate.events import Drifted, Event, Sighted, Spot
from aligner.estimate.layout import tilt_of
from tests.estimate.worked import Worked, frame, off
from tests.small_sets import FM

ENDS = (87.5e6, 108e6)
SD = 5e-5  # in ln y: 2.5 kHz at 100 MHz


def read_twice(*, shifts_hz: tuple[float, float], times: int = 1) -> Worked:
    """An oscillator read three times at both ends, and after a drift again, so much higher there."""
    worked = Worked(frame(FM), "oscillator", off(frame(FM), "oscillator", 0.0), sd_hz=4e3)
    for _ in range(3):
        worked.look(*ENDS)
    seq = worked.events[-1].seq + 1
    worked.events.append(Drifted(seq, "oscillator", SD))
    for n in range(times):
        for at, (z, shift) in enumerate(zip(ENDS, shifts_hz, strict=True)):
            worked.events.append(Sighted(seq + 1 + 2 * n + at, "oscillator", Spot(z), worked.hz(z) + shift, 4e3))
    return worked


def errors_hz(worked: Worked) -> np.ndarray:
    """How far above its place it is believed to stand at both ends [Hz]."""
    return worked.error_hz(ENDS)


def test_a_pull_many_times_the_usual_is_believed_when_both_ends_show_it() -> None:
    worked = read_twice(shifts_hz=(60e3, 60e3))
    np.testing.assert_allclose(errors_hz(worked), 60e3, atol=8e3)
    assert not worked.belief().circuits["oscillator"].fit.weights  # no reading is distrusted, and no drift named as one


def test_a_pull_that_differs_from_end_to_end_is_believed_when_it_is_read_again() -> None:
    np.testing.assert_allclose(errors_hz(read_twice(shifts_hz=(0.0, 60e3), times=2)), (0.0, 60e3), atol=9e3)


def test_a_usual_drift_is_shared_out_between_readings_and_drift() -> None:
    both = errors_hz(read_twice(shifts_hz=(3e3, 3e3)))
    assert 0.3e3 < both.min() <= both.max() < 2.7e3


def test_a_drift_beyond_the_usual_makes_the_bench_a_coarser_one() -> None:
    calm, pulled = (read_twice(shifts_hz=(shift, shift)) for shift in (0.0, 60e3))
    assert pulled.belief().circuits["oscillator"].noise > 1.3 * calm.belief().circuits["oscillator"].noise


@pytest.mark.parametrize("place", ENDS)
def test_at_an_end_the_even_and_the_tilted_part_make_one_standard_deviation(place: float) -> None:
    parts = tilt_of(frame(FM).circuits["oscillator"], np.array([place]))
    assert np.linalg.norm(parts) == pytest.approx(1.0)


def test_the_tilt_has_another_sign_at_the_other_end() -> None:
    low, high = tilt_of(frame(FM).circuits["oscillator"], np.array(ENDS))
    assert low[0] == high[0]
    assert low[1] == pytest.approx(-high[1])


def test_a_drift_beyond_three_standard_deviations_is_weighed_down() -> None:
    block = DriftBlock(np.array([[1, 2], [3, 4]], dtype=np.int64), 5)
    told = block.linear(np.array([9.0, 1.0, 0.0, 3.6, -4.8]))
    assert told.weights == {-1: pytest.approx(0.25)}  # both parts of the second together are six
    np.testing.assert_allclose(told.sd, (1.0, 1.0, 2.0, 2.0))


def test_without_a_later_reading_a_drift_only_widens_what_is_said() -> None:
    worked = read_twice(shifts_hz=(0.0, 0.0))
    events: tuple[Event, ...] = (*worked.events, Drifted(worked.events[-1].seq + 1, "oscillator", SD))
    before, after = (belief_of(worked.frame, e).circuits["oscillator"] for e in (tuple(worked.events), events))
    np.testing.assert_array_equal(before.hz(np.array(ENDS)), after.hz(np.array(ENDS)))
    assert (after.sd_hz(np.array(ENDS)) > before.sd_hz(np.array(ENDS))).all()
    assert replace(after, unrest=0.0).sd_hz(np.array(ENDS)) == pytest.approx(before.sd_hz(np.array(ENDS)))
