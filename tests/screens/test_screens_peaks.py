"""Peaks by the arrow keys: what is said leads a hand that knows nothing to the middle, and on past it."""

import math
import re
from pathlib import Path

import msgspec
import pytest

from aligner.engine.asks import Ask, Confirm, Peak, Touch
from aligner.engine.capture import Sample
from aligner.screens.app import AlignerApp
from aligner.screens.desk import Desk
from aligner.screens.glance import Glance, Paper, glance
from aligner.screens.peaks import FALL_DB, middle
from aligner.screens.sources import EVERYTHING
from tests.screens.driving import AppPilot, kept, shown_guide, taken, until, words_on
from tests.screens.scripted import CORE, PEAK, desk_with
from tests.screens.test_screens_journey import turn_to_the_aim

MOST_PRESSES = 120
"""For one peak; a person who does what is said needs 20 to 50."""

FINE = msgspec.structs.replace(PEAK, fine=True)


def seen(desk: Desk, *values: float) -> Glance:
    desk.sample(tuple(Sample(10.0 + at, value) for at, value in enumerate(values)))
    return glance(desk, Paper(80))


def by_a_meter(*values: float) -> str:
    """What is said at a bench whose meter showed those levels, with nobody to tell the turns."""
    return seen(desk_with(FINE, serves=EVERYTHING), *values).hand


def test_at_a_bench_each_stretch_of_a_fine_peak_has_its_words() -> None:
    assert by_a_meter(-20.0) == "Turn for the highest reading: core further in / core further out"
    assert by_a_meter(-20.0, -12.0) == "Highest so far: go on, past it by 3 dB"
    assert by_a_meter(-20.0, -12.0, -13.2) == "Fallen 1.2 dB: go on to 3 dB"
    assert by_a_meter(-20.0, -12.0, -15.1) == "Fallen 3.1 dB: now back over the highest, to 3 dB beyond it"
    assert by_a_meter(-20.0, -12.0, -15.1, -12.1, -14.0) == "Fallen 2.0 dB on the other side: go on to 3 dB"
    both = (-20.0, -12.0, -15.1, -12.1, -15.0)
    assert by_a_meter(*both) == "Both sides seen: back by half of the way between them"
    assert by_a_meter(*both, -12.1) == "= STOP in the middle: Enter takes it"


def test_a_first_turn_the_wrong_way_costs_no_side() -> None:
    assert by_a_meter(-20.0, -21.0) == "Fallen 1.0 dB from where it stood: the other way"
    wrong = (-20.0, -24.0)
    assert by_a_meter(*wrong) == "Fallen 4.0 dB: now back over the highest, to 3 dB beyond it"
    assert by_a_meter(*wrong, -20.0, -10.0) == "Highest so far: go on, past it by 3 dB"


def test_the_bar_is_empty_while_nobody_knows_how_high_the_peak_is() -> None:
    assert "\u2588" not in seen(desk_with(FINE, serves=EVERYTHING), -20.0).bar
    assert "\u2588" not in seen(desk_with(FINE, serves=EVERYTHING), -20.0, -12.0).bar
    assert "\u2591" not in seen(desk_with(FINE, serves=EVERYTHING), -20.0, -12.0, -15.1, -12.0, -15.0, -12.0).bar


def test_the_near_enough_is_told_in_steps_of_the_meter() -> None:
    shown = seen(desk_with(FINE, serves=EVERYTHING), -20.0, -12.0, -15.1)
    assert shown.amount == "Near enough: each side to 0.1 dB of 3 dB"
    shown = seen(desk_with(PEAK, serves=EVERYTHING), -20.0, -12.0, -15.1)
    assert shown.amount == "Near enough: within 0.3 dB; then Enter"


def level(at: float) -> float:
    """A single tuned circuit with its peak at 0.7 turn, one turn from peak to 3 dB."""
    return -12.0 - 10 * math.log10(1 + (10 ** (FALL_DB / 10) - 1) * (at - 0.7) ** 2)


@pytest.mark.parametrize("play", [0.0, 0.2])
def test_the_middle_is_found_between_coarse_looks_whatever_the_play_of_the_thread(play: float) -> None:
    """Turned on from -2 to 2, back to -0.4, and on again by two looks: the play lies only in the way back."""
    onward = [-2.0 + 0.4 * step for step in range(11)]
    back = [1.6 - 0.4 * step for step in range(6)]
    again = [-0.2, 0.0]
    settings = (*onward, *back, *again)
    tool = (*onward, *(at - play for at in back), *again)
    found = middle([level(at) for at in settings], tool)
    assert found is not None
    at, half = found
    assert at == pytest.approx(0.7, abs=0.01)
    assert half == pytest.approx(1.0, abs=0.01)


def test_past_a_peak_the_key_goes_on_as_the_hand_came_and_back_from_beyond() -> None:
    desk = desk_with(CORE, serves=EVERYTHING, turnable=True)
    assert seen(desk, -1.0).hand.endswith(": Right (clockwise)")
    assert seen(desk, -1.0, -9.0).hand.endswith(": Left (anticlockwise)")
    assert "core further in" in glance(desk, Paper(80)).hand
    uncounted = desk_with(msgspec.structs.replace(CORE, amount=None), serves=EVERYTHING)
    assert seen(uncounted, -1.0).hand.endswith(", on the way you came")


async def follow(pilot: AppPilot, desk: Desk, ask: Peak | Touch) -> None:
    """Do what is said until it says STOP; of Left and Right without a choice made, try Left."""
    key = "left"
    for _ in range(MOST_PRESSES):
        said = glance(desk, Paper(80)).hand
        if "STOP" in said or desk.ask is not ask:
            return
        named = re.findall(r"\b(Left|Right)\b", said)
        if len(named) == 1:
            key = named[0].lower()
        await pilot.press(key)
    raise AssertionError(f"{ask.adjuster} is not led to its peak: still {glance(desk, Paper(80)).hand!r}")


async def by_keys(pilot: AppPilot, desk: Desk, ask: Ask) -> None:
    before = len(desk.history.entries)
    if not isinstance(ask, Confirm):
        await until(pilot, lambda: desk.stream is not None and desk.stream.live is not None)
    if isinstance(ask, Peak) or (isinstance(ask, Touch) and ask.aim.quantity == "level"):
        await follow(pilot, desk, ask)
    elif isinstance(ask, Touch):
        await turn_to_the_aim(pilot, desk, ask)
    await taken(pilot, desk, ask, before)


async def test_a_circuit_is_aligned_by_its_level_with_arrow_keys_and_enter_alone(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path, demo=True)
    async with app.run_test(size=(80, 24)) as pilot:
        _, desk = await shown_guide(pilot)
        peaks = 0
        switched = False
        while (ask := desk.ask) is not None and ask.step != "antenna":
            if ask.step == "interstage" and not switched:
                await pilot.press("w")
                await kept(pilot, desk, "2")
                switched = True
                continue
            await by_keys(pilot, desk, ask)
            peaks += isinstance(ask, Peak)
        assert desk.survey is not None
        states = {report.id: report.state for report in desk.survey.steps}
        assert states["interstage"] == "held", words_on(app)
        assert peaks >= 2
