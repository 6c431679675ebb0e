"""Levels below a peak that was never seen: what two of them tell, and when a look is left out."""

import numpy as np
import pytest

from aligner.estimate.belief import belief_of
from aligner.estimate.events import Event, Fallen, Looked, Moved, Sighted, Spot
from aligner.estimate.forward import Given
from aligner.estimate.layout import layout_of, prior_of, whitener_of
from aligner.estimate.tops import TopBlock, top_block
from tests.estimate.worked import frame
from tests.small_sets import FM

LOW, BEYOND, HIGH = (Spot(hz, "received") for hz in (91e6, 107e6, 99e6))


def looked(seq: int, db: float, spot: Spot = BEYOND) -> Looked:
    return Looked(seq, "antenna", spot, spot.hz, db, 0.04, top=1)


def block(*events: Event) -> tuple[TopBlock, Given]:
    own = frame(FM)
    layout = layout_of(("antenna",), events)
    places = {e.seq: e.spot.hz for e in events if isinstance(e, Sighted | Looked)}
    whitener = {"antenna": whitener_of(own.circuits["antenna"], layout.spots["antenna"])}
    given = Given(own, layout, events, places, whitener)
    return top_block(given, "antenna"), given


def test_derivatives_of_looks_are_those_of_small_differences() -> None:
    rows, given = block(looked(1, 0.0), Moved(2, "antenna-coil", 0.5), looked(3, -6.0))
    mean = prior_of(given.frame, given.layout, {"antenna-coil": 1})[0] + np.linspace(0.01, 0.05, given.layout.count)
    jacobian = rows.linear(mean).jacobian
    for column in range(given.layout.count):
        step = np.zeros(given.layout.count)
        step[column] = 1e-6
        ahead, behind = rows.linear(mean + step), rows.linear(mean - step)
        assert jacobian[:, column] == pytest.approx((behind.residual - ahead.residual) / 2e-6, rel=1e-4, abs=1e-4)


def test_a_look_whose_side_is_open_says_nothing_and_one_whose_side_is_known_stays() -> None:
    rows, given = block(looked(1, 0.0), Moved(2, "antenna-coil", 0.5), looked(3, -6.0))
    mean = prior_of(given.frame, given.layout, {"antenna-coil": 1})[0]
    mean[given.layout.moves[2]] = 0.06  # three and a half widths off after the movement, on nought before it
    vague, sure = (np.eye(given.layout.count) * sd**2 for sd in (0.02, 1e-4))
    assert list(rows.sided(mean, vague).sd > 1.0) == [True, True]
    assert list(rows.sided(mean, sure).sd > 1.0) == [False, False]


def test_only_looks_on_a_slope_whose_side_is_known_tell_how_much_levels_scatter() -> None:
    rows, given = block(looked(1, 0.0), Moved(2, "antenna-coil", 0.5), looked(3, -6.0))
    mean = prior_of(given.frame, given.layout, {"antenna-coil": 1})[0]
    mean[given.layout.moves[2]] = 0.06
    top, slope = rows.telling(mean)
    assert top == 0.0
    assert 0.0 < slope < 1.0  # the rest of what is allowed there is the shape of the skirt
    assert not rows.sided(mean, np.eye(given.layout.count) * 4e-4).telling(mean).any()


def test_looks_beyond_two_peaks_tell_how_the_circuit_runs_there() -> None:
    # A bend of 0.002 in ln y at 107 MHz, about 100 kHz, that peaks at 91 and 99 MHz cannot show. The coil is turned on
    # by 0.02, the level falls at all three places, and the coil is brought back to its peaks.
    own = frame(FM)
    circuit = own.circuits["antenna"]
    bend, moved = 0.002, 0.02

    def level(off: float) -> float:
        return float(-10.0 * np.log10(1.0 + (circuit.q * off) ** 2))

    def peaks(first: int) -> list[Event]:
        return [Sighted(first + n, "antenna", spot, spot.hz, 15e3) for n, spot in enumerate((LOW, HIGH))]

    falls = [Fallen(7 + n, "antenna", spot, spot.hz, -level(moved), 0.05, 1) for n, spot in enumerate((LOW, HIGH))]
    blind: list[Event] = [*peaks(1), Moved(6, "antenna-coil"), *falls, Moved(12, "antenna-coil"), *peaks(13)]
    looks: list[Event] = [looked(5, 0.0), looked(11, level(moved + bend) - level(bend)), looked(17, 0.0)]
    told = sorted((*blind, *looks), key=lambda e: e.seq)

    def bend_found(events: list[Event]) -> tuple[float, float, float]:
        found = belief_of(own, tuple(events)).circuits["antenna"]
        z = np.array([BEYOND.hz])
        sd = float(np.sqrt(found.covariance(z)[0, 0]))
        return float(found.lny(z)[0] - circuit.lny(z)[0]), sd, found.noise

    guess, guess_sd, guess_noise = bend_found(blind)
    found, sd, noise = bend_found(told)
    assert sd / noise < 0.85 * guess_sd / guess_noise
    assert abs(found - bend) < 0.7 * abs(guess - bend)
    assert abs(found - bend) < 2.0 * sd
