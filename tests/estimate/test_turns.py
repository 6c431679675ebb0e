"""What counted turns tell of an adjuster whose effect changes along its travel, as that of a core does."""

import numpy as np
import pytest

from aligner.estimate.equations import turn_block
from aligner.estimate.events import Moved
from aligner.estimate.layout import layout_of, prior_of
from tests.estimate.worked import Worked, frame, off
from tests.small_sets import FM

REACH, CENTRE, WIDTH = 0.36, 7.0, 3.6  # a third more inductance, in seven turns


def core(at: float) -> float:
    """ln of the inductance [1] of a coil with its core so many turns in."""
    return float(np.log1p(REACH * np.exp(-(((at - CENTRE) / WIDTH) ** 2))))


@pytest.mark.parametrize("clockwise", [1, -1])
@pytest.mark.parametrize(
    "turned", [(5.5, -4.75, 0.75, 1.25), (1.4, 5.0, -0.75, -1.125), (6.25, -6.25, 0.875, 1.25), (5.25, -3.0, 0.6, 1.2)]
)
def test_the_effect_of_a_core_is_told_where_it_stands_though_it_came_far(
    turned: tuple[float, ...], clockwise: int
) -> None:
    own = frame(FM)
    at, *amounts = turned
    worked = Worked(own, "antenna", off(own, "antenna", core(at) - core(4.0), 0.0, 0.0, 0.0), sd_hz=15e3)
    worked.look(90e6, 106e6)
    for amount in amounts:
        worked.turn("antenna-coil", core(at + amount) - core(at), clockwise * amount)
        worked.look(90e6, 106e6)
        at += amount
    true = clockwise * (core(at + 0.01) - core(at - 0.01)) / 0.02
    effect, sd = worked.belief().effect("antenna-coil") or (0.0, 0.0)
    assert abs(effect - true) < 1.96 * sd
    assert effect == pytest.approx(true, rel=0.2)


def test_turns_are_those_of_the_mean_effect_on_the_way() -> None:
    events = Moved(2, "antenna-coil", 4.0), Moved(4, "antenna-coil", -1.5)
    layout = layout_of(("antenna",), events)
    mean, _ = prior_of(frame(FM), layout, {"antenna-coil": 1})
    effect, steeper, bent = 0.05, 0.2, -0.12
    name = "antenna-coil"
    mean[layout.turned[name]], mean[layout.steeper[name]], mean[layout.bent[name]] = np.log(effect), steeper, bent
    ways = np.linspace(0.0, 4.0, 4001), np.linspace(4.0, 2.5, 4001)
    for event, n in zip(events, ways, strict=True):
        mean[layout.moves[event.seq]] = np.trapezoid(effect * np.exp(steeper * n + bent * n**2 / 2.0), n)
    residual = turn_block(frame(FM), layout, events, {name: 1}).linear(mean).residual
    np.testing.assert_allclose(residual, 0.0, atol=0.01)  # turns
