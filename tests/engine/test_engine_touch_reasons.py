"""Why a touch is asked for, in words: the reason must be there also where everything already is within tolerance."""

import numpy as np
import pytest

from aligner.engine.alternatives import Doubt, verdict
from aligner.engine.asks import Point
from aligner.engine.bench import Standing, Target
from aligner.engine.touch_reasons import Intent, touch_reason
from aligner.estimate.events import Spot

LOW = Target(Spot(87.5e6), Point(volts=2.0), 98.2e6, 50e3)
HIGH = Target(Spot(108e6), Point(volts=8.0), 118.7e6, 50e3)


def reason(off_hz: tuple[float, float], sd_hz: tuple[float, float], intent: Intent) -> str:
    """The reason where the circuit stands so far off at both ends."""
    standing = Standing(np.array(off_hz), np.array(sd_hz), np.array([50e3, 50e3]))
    return touch_reason(intent, (LOW, HIGH), standing)


def at_low(off_hz: float, aim_off_hz: float = 0.0, rest: tuple[str, ...] = (), left: float = 0.0) -> Intent:
    """A touch at the low end."""
    return Intent("oscillator", 0, 98.2e6 + off_hz, 98.2e6 + aim_off_hz, rest, left)


def test_within_tolerance_but_not_surely_a_touch_says_up_to_what_must_be_reckoned_with() -> None:
    said = reason((-32e3, 0.0), (8e3, 4e3), at_low(-32e3, -17e3, left=0.36))
    assert said == (
        "It stands about 32 kHz too low here, within the 50 kHz allowed, but not surely (up to 53 kHz): a touch makes "
        "it surer. Stop 17 kHz below the final 98.200 MHz, to share what is left among the points. After this touch "
        "the greatest error of oscillator should be about 18 kHz (± 16 kHz)."
    )


def test_where_another_point_is_the_doubtful_one_that_is_named() -> None:
    said = reason((-5e3, 32e3), (4e3, 8e3), at_low(-5e3))
    assert ". At 108 MHz up to 53 kHz must be reckoned with, and 50 kHz is allowed: a touch makes it surer." in said


def test_surely_within_tolerance_a_touch_is_for_a_better_balance() -> None:
    said = reason((-38e3, 0.0), (2e3, 2e3), at_low(-38e3))
    assert "within the 50 kHz allowed, but it can be balanced better. After this touch" in said
    assert "Stop" not in said  # the aim is the final value


def test_out_of_tolerance_elsewhere_that_is_told_beside_what_is_right_here() -> None:
    said = reason((3e3, -90e3), (4e3, 4e3), at_low(3e3, 200e3, rest=("trimmer",)))
    assert said == (
        "It stands about 3 kHz too high here, and about 90 kHz too low at 108 MHz. Stop 200 kHz above the final "
        "98.200 MHz, because trimmer will take it the rest of the way."
    )


def test_far_off_here_the_reason_is_that_alone() -> None:
    said = reason((-6.5e6, -6.5e6), (4e3, 4e3), at_low(-6.5e6))
    assert said.startswith("It stands about 6.500 MHz too low here. After this touch the greatest error of oscillator")


@pytest.mark.parametrize(
    ("worst", "sd_hz", "better", "said"),
    [
        (1.01, 0.0, False, "not enough"),
        (0.63, 8e3, True, "would do, but not surely"),
        (0.63, 7e3, False, "would do"),
        (0.63, 7e3, True, "would do, but a touch balances it better"),
    ],
)
def test_what_would_do_is_judged_by_the_rule_that_chooses_the_next_touch(
    worst: float, sd_hz: float, better: bool, said: str
) -> None:
    assert verdict(worst, Doubt(sd_hz, 50e3), better=better) == said
