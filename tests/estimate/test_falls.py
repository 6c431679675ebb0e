"""Falls of the level from a peak: distance in widths, sides, and the Q that they teach."""

import numpy as np
import pytest

from aligner.estimate.belief import belief_of
from aligner.estimate.events import Event, Fallen, Moved, Sighted, Spot
from aligner.estimate.falls import fall_block, open_sides, sides_by_turns, widths_of, widths_seen
from aligner.estimate.forward import Given
from aligner.estimate.frame import Frame
from aligner.estimate.layout import layout_of, whitener_of
from tests.estimate.worked import frame
from tests.small_sets import FM

SPOT = Spot(92e6, "received")
PEAK_SD = 20e3


def given(events: tuple[Event, ...], own: Frame) -> Given:
    layout = layout_of(("antenna",), events)
    places = {e.seq: e.spot.hz for e in events if isinstance(e, Sighted | Fallen)}
    return Given(
        own, layout, events, places, {"antenna": whitener_of(own.circuits["antenna"], layout.spots["antenna"])}
    )


def fallen(seq: int, db: float, **more: object) -> Fallen:
    return Fallen(seq, "antenna", SPOT, SPOT.hz, db, 0.06, **more)  # type: ignore[arg-type]


def test_three_decibels_are_one_width_and_the_rest_follows_the_single_tuned_circuit() -> None:
    # 10 lg(1 + x^2) with x = 1 is 3.0103 dB, with x = 3 it is 10 dB; derived.
    assert widths_of(3.0103) == pytest.approx(1.0, abs=1e-4)
    assert widths_of(10.0) == pytest.approx(3.0, abs=1e-9)


@pytest.mark.parametrize("db", [0.0, 0.1])
def test_a_fall_that_the_meter_hardly_shows_says_nought_as_far_as_it_reaches(db: float) -> None:
    away, sd = widths_seen(fallen(1, db))
    assert away == 0.0
    assert 1.96 * sd == pytest.approx(widths_of(db + 1.96 * 0.06))


def test_on_the_skirts_a_fall_is_many_times_sharper_than_near_the_peak() -> None:
    _, blunt = widths_seen(fallen(1, 0.0))
    away, sharp = widths_seen(fallen(1, 6.0))
    assert away == pytest.approx(widths_of(6.0))
    assert sharp < 0.4 * blunt


def test_falls_that_only_bound_or_whose_side_is_open_do_not_tell_how_much_levels_scatter() -> None:
    events = (fallen(1, 0.1), fallen(2, 4.0), fallen(3, 4.0))
    rows = fall_block(given(events, frame(FM)), "antenna").on_sides({1: 1, 2: 1})
    blunt, known, open_ = rows.telling(np.zeros(1))
    assert (blunt, open_) == (0.0, 0.0)
    assert 0.2 < known < 0.6  # the rest of what is allowed is the shape of the skirt


def test_derivatives_of_falls_are_those_of_small_differences() -> None:
    own = frame(FM)
    events = (
        fallen(1, 4.0),
        Moved(2, "antenna-coil", 0.5),
        fallen(3, 9.0),
        Moved(4, "antenna-trimmer"),
        fallen(5, 1.0),
    )
    problem = given(events, own)
    block = fall_block(problem, "antenna").on_sides({1: 1, 3: -1, 5: 1})
    mean = np.linspace(-0.03, 0.04, problem.layout.count)
    mean[problem.layout.quality["antenna"]] = np.log(55.0)
    exact = block.linear(mean).jacobian
    for column in range(problem.layout.count):
        step = np.zeros(problem.layout.count)
        step[column] = 1e-6
        slope = (block.linear(mean - step).residual - block.linear(mean + step).residual) / 2e-6
        np.testing.assert_allclose(exact[:, column], slope, rtol=1e-4, atol=1e-4)


@pytest.mark.parametrize(("turns", "sense", "side"), [(0.5, 1, 1), (0.5, -1, -1), (-0.5, 1, -1), (0.0, 1, 0)])
def test_counted_turns_from_the_peak_tell_the_side(turns: float, sense: int, side: int) -> None:
    events = (Sighted(1, "antenna", SPOT, SPOT.hz, PEAK_SD), Moved(2, "antenna-coil", turns), fallen(3, 5.0))
    assert sides_by_turns(given(events, frame(FM)), "antenna", {"antenna-coil": sense}).get(3, 0) == side


def test_counted_turns_to_the_peak_tell_the_side_on_which_it_was_before() -> None:
    events = (fallen(1, 5.0), Moved(2, "antenna-coil", 0.5), Sighted(3, "antenna", SPOT, SPOT.hz, PEAK_SD))
    assert sides_by_turns(given(events, frame(FM)), "antenna", {"antenna-coil": 1}) == {1: -1}


def test_an_adjuster_at_its_end_tells_that_the_peak_lies_further_on() -> None:
    events = (fallen(1, 5.0, short=("antenna-coil", 2.0)), Moved(2, "antenna-trimmer"))
    assert sides_by_turns(given(events, frame(FM)), "antenna", {"antenna-coil": 1}) == {1: -1}


def test_a_fall_whose_side_nobody_knows_is_believed_on_both() -> None:
    own = frame(FM)
    events = (
        Sighted(1, "antenna", SPOT, SPOT.hz, PEAK_SD),
        Moved(2, "antenna-trimmer"),
        Sighted(3, "antenna", Spot(104e6, "received"), 104e6, PEAK_SD),
        fallen(5, 5.0),
    )
    circuit = belief_of(own, events).circuits["antenna"]
    z = np.array([SPOT.hz])
    found = [float(c.hz(z)[0]) - SPOT.hz for c in (circuit, *circuit.others)]
    assert min(found) < -0.5e6
    assert max(found) > 0.5e6


@pytest.mark.parametrize(("apart_hz", "tried"), [(0.0, 4), (1e6, 2)])
def test_where_many_readings_contradict_each_other_fewer_sides_are_tried(apart_hz: float, tried: int) -> None:
    peaks = [Sighted(n, "antenna", SPOT, SPOT.hz + apart_hz * (-1) ** n, PEAK_SD) for n in range(1, 25)]
    there = Moved(25, "antenna-trimmer"), Sighted(26, "antenna", Spot(104e6, "received"), 104e6, PEAK_SD)
    falls = Moved(27, "antenna-coil"), fallen(28, 5.0), Moved(29, "antenna-coil"), fallen(30, 5.0)
    circuit = belief_of(frame(FM), (*peaks, *there, *falls)).circuits["antenna"]
    assert 1 + len(circuit.others) == tried


def test_of_two_falls_through_one_peak_the_ratio_is_known_better_than_the_q() -> None:
    # The Q is known to 30 % beforehand and multiplies both distances alike: in their ratio it drops out.
    own = frame(FM)
    events = (fallen(1, 3.0103), Moved(2, "antenna-coil"), fallen(3, 10.0, opposite=1))
    circuit = belief_of(own, events).circuits["antenna"]
    fit, layout = circuit.fit, circuit.fit.layout
    block = fall_block(given(events, own), "antenna")
    off, _ = block.off(fit.mean)
    assert off[1] / off[0] == pytest.approx(-3.0, rel=0.05)
    assert np.sqrt(fit.covariance[layout.quality["antenna"], layout.quality["antenna"]]) > 0.15


@pytest.mark.parametrize(("between", "choices"), [((), 2), ((Moved(3, "antenna-coil", 1.0),), 4)])
def test_two_falls_with_nothing_moved_between_them_are_tried_on_one_side(
    between: tuple[Event, ...], choices: int
) -> None:
    had = given((Moved(1, "antenna-coil", 1.0), fallen(2, 6.0), *between, fallen(4, 6.1)), frame(FM))
    count = had.layout.count
    tried = list(open_sides(had, (fall_block(had, "antenna"),), {}, np.zeros(count), np.eye(count)))
    assert len(tried) == choices
    assert between or all(sides[2] == sides[4] for sides in tried)


@pytest.mark.parametrize("later", [1, 2, 3])
@pytest.mark.parametrize("beyond_hz", [0.0, 20e3, 2e6])
def test_what_is_read_of_the_oscillator_later_tells_the_same_as_if_it_had_been_read_before(
    later: int, beyond_hz: float
) -> None:
    # Where places move by little their solutions are followed, where by more sought anew: that must not be seen.
    own, spots = frame(FM), ((98e6, 108.6e6), (88e6, 98.8e6), (108e6, 118.4e6 + beyond_hz))
    seen = (
        Sighted(4, "antenna", SPOT, SPOT.hz, PEAK_SD),
        Moved(5, "antenna-trimmer"),
        Sighted(6, "antenna", Spot(104e6, "received"), 104e6, PEAK_SD),
        fallen(8, 5.0),
    )
    read, after = ([Sighted(n, "oscillator", Spot(z), hz, 1e3) for n, (z, hz) in enumerate(spots, at)] for at in (1, 9))
    early, late = belief_of(own, (*read, *seen)), belief_of(own, (*read[:-later], *seen, *after[-later:]))
    z, one, other = np.array([88e6, 98e6, 108e6]), early.circuits["antenna"], late.circuits["antenna"]
    assert len(other.others) == len(one.others) > 0
    for a, b in zip((one, *one.others), (other, *other.others), strict=True):
        assert b.hz(z) == pytest.approx(a.hz(z), abs=0.03 * float(a.sd_hz(z).min()))
        assert b.sd_hz(z) == pytest.approx(a.sd_hz(z), rel=0.01)
        assert b.fit.cost == pytest.approx(a.fit.cost, abs=0.01)
