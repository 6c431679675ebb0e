"""Peaks by the arrow keys: what is said leads a hand that knows nothing to the middle, and on past it."""

import math
import re
from itertools import pairwise
from pathlib import Path
from statistics import fmean

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.engine.asks import Ask, Confirm, GeneratorSetting, Peak, Point, Touch
from aligner.engine.capture import Sample
from aligner.procedure.library import find
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.set_file import demo_set
from aligner.screens.app import AlignerApp
from aligner.screens.desk import Desk, Turn
from aligner.screens.glance import Glance, Paper, glance
from aligner.screens.keys import press
from aligner.screens.leads import lead, share
from aligner.screens.peaks import FALL_DB, middle, search
from aligner.screens.sources import EVERYTHING, VirtualSource
from aligner.screens.virtual import FeltSet
from tests.screens.driving import AppPilot, kept, rested, shown_guide, taken, until, words_on
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
    assert by_a_meter(*wrong) == "No peak this way: back, over the start and on"
    assert by_a_meter(*wrong, -20.0, -10.0).startswith("A new highest")


def filled(*values: float) -> int:
    return seen(desk_with(FINE, serves=EVERYTHING), *values).bar.count("\u2588")


def test_the_bar_fills_from_the_first_rise_on_and_is_full_in_the_middle_alone() -> None:
    climbing = [filled(-20.0, *range(-19, top)) for top in (-19, -17, -12, -5)]
    assert climbing[0] == 0
    assert sorted(set(climbing)) == climbing
    assert "\u2591" in seen(desk_with(FINE, serves=EVERYTHING), -20.0, -12.0, -14.99).bar
    assert "\u2591" not in seen(desk_with(FINE, serves=EVERYTHING), -20.0, -12.0, -15.1, -12.0, -15.0, -12.0).bar


def test_the_bar_is_empty_and_nothing_near_enough_while_the_hand_must_turn_the_other_way() -> None:
    for wrong in ((-20.0, -21.0), (-20.0, -22.9)):
        shown = seen(desk_with(FINE, serves=EVERYTHING), *wrong)
        assert "the other way" in shown.hand
        assert "\u2588" not in shown.bar
        assert "Near enough" not in shown.amount


def test_turned_back_too_early_the_bar_fills_as_it_comes_up_to_the_best_again() -> None:
    desk = desk_with(FINE, serves=EVERYTHING, turnable=True)
    stream = desk.stream
    assert stream is not None
    bars = []
    for at, (turned, level) in enumerate(((0.0, -20.0), (0.5, -12.0), (0.7, -14.0), (0.65, -13.4), (0.6, -12.7))):
        stream.turned = turned
        desk.sample((Sample(10.0 + at, level),))
        shown = glance(desk, Paper(80))
        bars.append((shown.hand, shown.bar.count("\u2588")))
    assert ["back up" in hand for hand, _ in bars] == [False, False, False, True, True]
    assert bars[3][1] < bars[4][1]
    assert "Near enough" not in glance(desk, Paper(80)).amount


def test_a_hair_back_on_the_way_up_the_key_is_still_the_one_that_climbed() -> None:
    desk = desk_with(FINE, serves=EVERYTHING, turnable=True)
    stream = desk.stream
    assert stream is not None
    said = []
    for at, (turned, level) in enumerate(((0.0, -20.0), (0.5, -12.0), (0.4, -12.2), (0.5, -12.0), (0.6, -12.2))):
        if at:
            stream.turn(math.copysign(1.0, turned - stream.turned), 1.0)
        stream.turned = turned
        desk.sample((Sample(10.0 + at, level),))
        said.append(glance(desk, Paper(80)).hand)
    assert said[1:] == ["Highest so far: go on with Right, past it by 3 dB"] * 4


@given(st.lists(st.floats(-40.0, 0.0), min_size=2, max_size=12), st.booleans())
def test_the_bar_never_fills_while_the_reading_goes_against_the_words(levels: list[float], fine: bool) -> None:
    desk = desk_with(FINE if fine else PEAK, serves=EVERYTHING)
    ask, before = desk.ask, None
    assert isinstance(ask, Peak)
    for at, level in enumerate(levels):
        desk.sample((Sample(10.0 + at, level),))
        found = desk.found
        assert found is not None
        leads = lead(desk, ask, found)
        full = share(leads, found)
        assert 0.0 <= full <= 1.0
        assert (full == 1.0) == (leads == "stop") or leads in {"fall", "beyond"}
        wanted = {"climb": 1.0, "home": 1.0, "over": 1.0, "fall": -1.0, "beyond": -1.0}.get(leads, 0.0)
        if before is not None and before[0] == leads and wanted * (level - before[2]) < 0.0:
            assert full <= before[1] + 1e-12
        before = leads, full, level


def test_the_near_enough_is_told_in_steps_of_the_meter() -> None:
    shown = seen(desk_with(FINE, serves=EVERYTHING), -20.0, -12.0, -15.1)
    assert shown.amount == "Near enough: each side to 0.1 dB of 3 dB"
    for far in ((-20.0, -12.0, -16.8), (-20.0, -23.1)):
        assert "Near enough" not in seen(desk_with(FINE, serves=EVERYTHING), *far).amount
    shown = seen(desk_with(PEAK, serves=EVERYTHING), -20.0, -12.0, -15.1)
    assert shown.amount == "Near enough: within 0.3 dB; then Enter"


def level(at: float) -> float:
    """A single tuned circuit with its peak at 0.7 turn, one turn from peak to 3 dB."""
    return -12.0 - 10 * math.log10(1 + (10 ** (FALL_DB / 10) - 1) * (at - 0.7) ** 2)


@pytest.mark.parametrize("play", [0.0, 0.2])
def test_the_middle_is_found_between_coarse_looks_whatever_the_play_of_the_thread(play: float) -> None:
    """Turned on from -2 to 2, back to -0.4, and on again by two presses; turning back takes up the play."""
    desk = desk_with(FINE, serves=EVERYTHING, turnable=True)
    stream = desk.stream
    assert stream is not None
    settings = [-2.0 + 0.4 * step for step in (*range(11), *range(9, 3, -1), 4.5, 5)]
    sense = 1.0
    for at_s, (was, at) in enumerate(pairwise((settings[0], *settings))):
        back = (at - was) * sense < 0.0
        sense = -sense if back else sense
        stream.stands(stream.turned + at - was + (play * sense if back else 0.0), at - was)
        desk.sample((Sample(10.0 + at_s, level(at)),))
    assert stream.felt == pytest.approx(settings[-1] - settings[0])
    found = middle(list(stream.trace), stream.turns)
    assert found is not None
    at, half = found[0] + settings[0], found[1]
    assert at == pytest.approx(0.7, abs=0.01)
    assert half == pytest.approx(1.0, abs=0.01)


def test_past_a_peak_the_key_goes_on_as_the_hand_came_and_back_from_beyond() -> None:
    desk = desk_with(CORE, serves=EVERYTHING, turnable=True)
    assert seen(desk, -1.0).hand.endswith(": Right (clockwise)")
    assert seen(desk, -1.0, -9.0).hand.endswith(": Left (anticlockwise)")
    assert "core further in" in glance(desk, Paper(80)).hand
    uncounted = desk_with(msgspec.structs.replace(CORE, amount=None), serves=EVERYTHING)
    assert seen(uncounted, -1.0).hand.endswith(", on the way you came")


def test_past_a_peak_and_too_far_the_key_is_the_one_that_was_seen_to_bring_it_back() -> None:
    """With the thread's play the tool may be back beyond where it began while the core still stands too far."""
    desk = desk_with(CORE, serves=EVERYTHING, turnable=True)
    stream = desk.stream
    assert stream is not None
    seen(desk, -1.0)
    for at_s, sense, turned, value in ((20.0, 1.0, 0.06, -12.0), (21.0, -1.0, 0.01, -9.0), (22.0, -1.0, -0.01, -8.0)):
        stream.turn(sense, 1.0)
        stream.turned = turned
        desk.sample((Sample(at_s, value),))
    assert stream.live == -8.0
    assert glance(desk, Paper(80)).hand.endswith(": Left (anticlockwise)")


def test_a_middle_closer_than_a_hand_can_turn_is_reached() -> None:
    """A trimmer that needs a hundredth of a turn from the peak to 3 dB: a twentieth of that is nobody's turn."""
    desk = desk_with(FINE, serves=EVERYTHING, turnable=True)
    stream = desk.stream
    assert stream is not None
    stream.turns = (-0.03, -0.02, -0.01, 0.0, 0.01, 0.02, 0.01, 0.005, 0.0, -0.01, -0.02, -0.01)
    stream.trace = tuple(level(0.7 + at / 0.01) for at in stream.turns)
    stream.turned = 0.0009
    found = search(FINE, stream)
    assert found is not None
    assert found.left == pytest.approx(-0.0009, abs=1e-4)
    assert found.stop


@pytest.mark.parametrize("adjuster", ["interstage-coil", "interstage-trimmer"])
def test_whatever_the_readings_play_about_the_words_lead_to_within_a_quarter_of_a_decibel(adjuster: str) -> None:
    procedure = read_procedure(find("fm-varactor"))
    ask = Peak(
        id=1, step="interstage", text="Peak it.", adjuster=adjuster, circuit="interstage",
        point=Point(received=98e6), generator=GeneratorSetting(98e6), fine=True,
    )  # fmt: skip
    sources = [VirtualSource(FeltSet(demo_set(procedure, seed))) for seed in range(12)]
    stopped = [stop_by_words(desk_with(ask, serves=EVERYTHING, turnable=True), source) for source in sources]
    assert min(stopped) > highest(sources[0], ask) - 0.25


def stop_by_words(desk: Desk, source: VirtualSource) -> float:
    """Do on that set what is said until it says STOP; the level there, freed of its noise."""
    ask, key, said = desk.ask, "left", ""
    source.show(ask)
    for _ in range(MOST_PRESSES):
        source.latest()
        desk.sample(source.window()[-1:])
        said = glance(desk, Paper(80)).hand
        if "STOP" in said:
            return mean_level(source, ask)
        key = named(said, key)
        [turn] = press(desk, key, None)
        assert isinstance(turn, Turn)
        assert desk.stream is not None
        desk.stream.stands(source.turn(turn.adjuster, turn.turns), turn.turns)
    raise AssertionError(f"not led to the peak: still {said!r}")


def mean_level(source: VirtualSource, ask: Ask | None) -> float:
    return fmean(source.on_bench.display(msgspec.to_builtins(ask))[1] for _ in range(20))


def highest(source: VirtualSource, ask: Peak) -> float:
    """The level on the top, by steps of a hand finer than any peak is sharp."""
    levels = []
    for sense in (1.0, -1.0):
        for _ in range(40):
            source.turn(ask.adjuster, sense / 512)
            levels.append(mean_level(source, ask))
    return max(levels)


def named(said: str, before: str) -> str:
    """The one key that is named; of both, or none, the one before."""
    keys = re.findall(r"\b(Left|Right)\b", said)
    return keys[0].lower() if len(keys) == 1 else before


async def follow(pilot: AppPilot, desk: Desk, ask: Peak | Touch) -> None:
    """Do what is said until it says STOP, each time after a look at what the press has done."""
    rested(desk)
    key = "left"
    for _ in range(MOST_PRESSES):
        said = glance(desk, Paper(80)).hand
        if "STOP" in said or desk.ask is not ask:
            return
        key, looked_s = named(said, key), desk.since_s
        await pilot.press(key)
        await until(pilot, lambda: desk.since_s > looked_s or desk.ask is not ask)  # noqa: B023 - waited for at once
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
        while desk.ask is not None and desk.ask.step != "interstage":
            await kept(pilot, desk, "a")  # its owner sets the oscillator
        await kept(pilot, desk, "w", "2")
        peaks = 0
        while (ask := desk.ask) is not None and ask.step == "interstage":
            await by_keys(pilot, desk, ask)
            peaks += isinstance(ask, Peak)
        assert desk.survey is not None
        states = {report.id: report.state for report in desk.survey.steps}
        assert states["interstage"] == "held", words_on(app)
        assert peaks >= 2
