"""The equations of a wand test: their derivatives, and what they find of a circuit that was made up."""

import numpy as np
from msgspec.structs import replace

from aligner.estimate.belief import belief_of
from aligner.estimate.equations import wand_block
from aligner.estimate.events import Moved, Sighted, Spot, Wanded
from aligner.estimate.forward import Given
from aligner.estimate.frame import Frame, frame_of
from aligner.estimate.layout import layout_of, whitener_of
from tests.small_sets import FM, read

PULL, PUSH, LOSS, QUALITY = 0.022, 0.016, 0.5, 52.0


def _frame() -> Frame:
    procedure = read(FM)
    return frame_of(procedure, "", procedure.intermediate_hz)


def _circuit(frame: Frame) -> str:
    return next(name for name, circuit in frame.circuits.items() if not circuit.oscillator)


def _loss(x: float) -> float:
    return float(10.0 * np.log10(1.0 + (QUALITY * x) ** 2))


def _tested(seq: int, circuit: str, hz: float, resonance_hz: float, held: float = 1.0) -> Wanded:
    """A wand test without noise on a circuit that resonates at resonance_hz, the generator at hz.

    The wand is held so that it pulls `held` times what it does.
    """
    x = -2.0 * float(np.log(resonance_hz / hz))
    return Wanded(
        seq=seq,
        circuit=circuit,
        spot=Spot(hz, "received"),
        hz=hz,
        ferrite_db=_loss(x) - _loss(x + held * PULL),
        brass_db=_loss(x) - _loss(x - held * PUSH) - LOSS,
        sd_db=0.06,
        q=60.0,
        q_sd=0.3,
    )


def test_derivatives_are_those_of_small_differences() -> None:
    frame = _frame()
    name = _circuit(frame)
    coil = next(a for a in frame.handles if name in frame.handles[a].adjuster.circuits)
    events = (_tested(1, name, 90e6, 92e6), Moved(2, coil), _tested(3, name, 106e6, 105e6))
    layout = layout_of((name,), events)
    whitener = {name: whitener_of(frame.circuits[name], layout.spots[name])}
    block = wand_block(Given(frame, layout, events, {1: 90e6, 3: 106e6}, whitener), name)
    mean = np.linspace(-0.02, 0.03, layout.count)
    mean[layout.wand[name] : layout.wand[name] + 3] = np.log(0.02), np.log(0.017), 0.4
    mean[layout.quality[name]] = np.log(50.0)
    exact = block.linear(mean).jacobian
    step = 1e-6
    for column in range(layout.count):
        there, here = mean.copy(), mean.copy()
        there[column] += step
        here[column] -= step
        slope = (block.linear(here).residual - block.linear(there).residual) / (2.0 * step)
        np.testing.assert_allclose(exact[:, column], slope, rtol=2e-4, atol=2e-4)


def test_both_ends_are_weighed_as_three_noisy_levels_make_them_err() -> None:
    frame = _frame()
    name = _circuit(frame)
    events = (_tested(1, name, 90e6, 92e6), _tested(3, name, 106e6, 105e6))
    layout = layout_of((name,), events)
    whitener = {name: whitener_of(frame.circuits[name], layout.spots[name])}
    places = {1: 90e6, 3: 106e6}
    mean, none = np.zeros(layout.count), wand_block(Given(frame, layout, events, places, whitener), name)
    rng = np.random.default_rng(3)
    residuals = []
    for _ in range(2000):
        without, ferrite, brass = rng.normal(0.0, 0.06 / np.sqrt(2.0), (3, 2))  # sd_db is that of a difference
        rows = zip(events, without, ferrite, brass, strict=True)
        levels = [(e.ferrite_db + f - n, e.brass_db + b - n) for e, n, f, b in rows]
        noisy = tuple(replace(e, ferrite_db=f, brass_db=b) for e, (f, b) in zip(events, levels, strict=True))
        block = wand_block(Given(frame, layout, noisy, places, whitener), name)
        residuals.append((block.linear(mean).residual - none.linear(mean).residual) / none.sd_meter)
    np.testing.assert_allclose(np.cov(np.array(residuals).T), np.eye(4), atol=0.1)


def test_a_wand_is_trusted_as_evenly_as_a_hand_holds_it() -> None:
    frame = _frame()
    name = _circuit(frame)
    places = np.array([88e6, 92e6, 95e6, 98e6, 101e6, 104e6, 107e6])
    pulls = np.array([1.0, -1.0, 1.0, 1.0, -1.0, 1.0, -1.0])

    def doubt_hz(uneven: float) -> float:
        """Mean standard error [Hz] after tests whose pulls were unequal by so much (relative)."""
        tests = tuple(
            _tested(2 * n + 1, name, float(hz), float(hz) + 0.3e6, 1.0 + uneven * float(way))
            for n, (hz, way) in enumerate(zip(places, pulls, strict=True))
        )
        known = Sighted(0, name, Spot(90e6, "received"), 90.3e6, 20e3)
        circuit = belief_of(frame, (known, *tests)).circuits[name]
        sd_hz = circuit.sd_hz(places)
        assert np.all(np.abs(circuit.hz(places) - places - 0.3e6) < 1.96 * sd_hz)
        return float(np.mean(sd_hz))

    even, usual, uneven = (doubt_hz(share) for share in (0.0, 0.015, 0.03))
    assert even < 0.93 * usual < 0.8 * uneven


def test_three_tests_tell_side_and_size_of_an_error_that_nobody_peaked() -> None:
    frame = _frame()
    name = _circuit(frame)
    truth = {90e6: 93.1e6, 98e6: 100.6e6, 106e6: 107.9e6}
    events = tuple(_tested(n, name, hz, own) for n, (hz, own) in enumerate(truth.items()))
    circuit = belief_of(frame, events).circuits[name]
    places = np.array(list(truth))
    off = circuit.hz(places) - np.array(list(truth.values()))
    # pulls and Q are known to a third beforehand, so errors of 2 to 3 MHz are known to about that share
    assert np.all(np.abs(off) < 1.96 * circuit.sd_hz(places) + 0.2e6)
    assert np.all(circuit.hz(places) > places + 0.8e6)


def test_a_peak_teaches_the_pull_so_that_the_next_test_is_exact() -> None:
    frame = _frame()
    name = _circuit(frame)
    known = Sighted(0, name, Spot(90e6, "received"), 90e6, 20e3)
    at_peak, other = _tested(1, name, 90e6, 90e6), _tested(3, name, 106e6, 106.15e6)
    before = belief_of(frame, (known, other)).circuits[name].sd_hz(np.array([106e6]))[0]
    circuit = belief_of(frame, (known, at_peak, other)).circuits[name]
    after = circuit.sd_hz(np.array([106e6]))[0]
    assert after < 0.7 * before
    assert abs(circuit.hz(np.array([106e6]))[0] - 106.15e6) < 2.0 * after
