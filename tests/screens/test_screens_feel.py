"""What the arrow keys learn of an adjuster, and how far a press goes."""

import itertools
import random
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

from aligner.engine.asks import Aim, Amount, Point, Touch
from aligner.engine.capture import Sample
from aligner.engine.history import History
from aligner.screens.desk import Desk, Turn
from aligner.screens.feel import Feel, known_feel
from aligner.screens.fingers import FINEST, PLAIN_FINEST, START, Fingers
from aligner.screens.held import LET_GO_S, Held
from aligner.screens.keys import press
from aligner.screens.paint import entry_row
from aligner.screens.sources import EVERYTHING, VirtualSource
from aligner.screens.virtual import placed
from tests.screens.scripted import CORE, PEAK, TOUCH, ScriptedEngine, desk_with, procedure

PLAY = 15e3
"""Of one trace of a resonance at 100 MHz [Hz], one standard deviation (demo_data/population.toml)."""

STEP = 5e3
"""What such an instrument is taken to show, where the aim is 20 kHz wide to either side [Hz]."""

SEEN = msgspec.structs.replace(
    TOUCH, id=9, step="interstage", adjuster="interstage-coil", circuit="interstage", direction="less",
    aim=Aim("resonance", 83.669e6, 20e3),
)  # fmt: skip


class Hand:
    """An adjuster whose reading rises by `effect` a turn, seen through noise."""

    def __init__(self, effect: float, play: float = 0.0, seed: int = 1) -> None:
        self.feel, self.at, self.reading = Feel(), 0.0, 90e6
        self._effect, self._play, self._chance = effect, play, random.Random(seed)
        self.look(8)

    def look(self, times: int = 1) -> None:
        for _ in range(times):
            self.shown = self.reading + self._chance.gauss(0.0, self._play)
            self.feel.see(self.shown, self.at, STEP, self.reading)

    def turn(self, by: float, effect: float | None = None) -> None:
        self.feel.press(1.0 if by > 0 else -1.0, self.at, self.shown)
        self.at, self.reading = self.at + by, self.reading + by * (self._effect if effect is None else effect)
        self.look()


def test_a_press_that_changes_the_reading_clearly_tells_sense_and_effect() -> None:
    hand = Hand(-4e6, PLAY)
    hand.turn(1 / 16)
    assert hand.feel.raising == -1.0
    assert hand.feel.per_turn == pytest.approx(4e6 / 90e6, rel=0.3)


def test_noise_alone_teaches_no_sense_in_hundreds_of_tiny_presses() -> None:
    learned = []
    for seed in range(40):
        hand = Hand(0.0, PLAY, seed)
        for at in range(10):
            hand.turn(1 / 1024 if at % 2 else -1 / 1024)
            hand.look(8)
        learned.append(hand.feel.raising)
    assert sum(map(bool, learned)) <= 1


def test_several_small_presses_one_way_tell_together_what_none_tells_alone() -> None:
    hand = Hand(4e6)
    for _ in range(7):
        hand.turn(1 / 1024)  # 4 kHz each, six steps of 5 kHz are clear
    assert hand.feel.raising == 0.0
    hand.turn(1 / 1024)
    assert hand.feel.raising == 1.0


def test_a_tiny_press_near_the_aim_does_not_overturn_what_bold_ones_told() -> None:
    for seed in range(40):
        hand = Hand(4e6, PLAY, seed)
        hand.turn(1 / 8)
        for at in range(10):
            hand.turn(-1 / 1024 if at % 2 else 1 / 1024)
            hand.look(4)
        assert hand.feel.raising == 1.0


def test_one_clear_press_to_the_contrary_is_not_believed_and_a_second_is() -> None:
    hand = Hand(4e6)
    hand.turn(1 / 16)
    hand.turn(1 / 16, effect=-4e6)
    assert hand.feel.raising == 1.0
    hand.turn(1 / 16, effect=-4e6)
    assert hand.feel.raising == -1.0  # a rotary trimmer on its way round


def test_a_contrary_press_counts_for_nothing_once_another_has_agreed() -> None:
    hand = Hand(4e6)
    for effect in (4e6, -4e6, 4e6, -4e6, 4e6):
        hand.turn(1 / 16, effect)
        assert hand.feel.raising == 1.0


def test_the_model_tells_sense_and_effect_of_what_was_counted_before() -> None:
    core = replace(procedure().adjuster("antenna-coil"), counted=True)
    ask = msgspec.structs.replace(CORE, aim=Aim("resonance", 90e6, 20e3), amount=Amount(-1.5, "turn", 0.1))
    known = known_feel(ask, core, 93e6)
    assert known.raising == -1.0  # less inductance by turning anticlockwise
    assert known.per_turn == pytest.approx(3e6 / 1.5 / 93e6)
    assert known_feel(msgspec.structs.replace(ask, direction="more"), core, 93e6).raising == 1.0
    assert known_feel(CORE, core, -3.0).raising == 0.0  # a level rises and falls
    unknown = msgspec.structs.replace(ask, amount=None)
    assert known_feel(unknown, core, 93e6).raising == 0.0
    assert known_feel(unknown, replace(core, rotation="more"), 93e6).raising == -1.0
    assert known_feel(unknown, replace(core, rotation="less"), 93e6).raising == 1.0


def desk_at(ask: Touch, *values: float, turnable: bool = True) -> Desk:
    desk = desk_with(ask, serves=EVERYTHING, turnable=turnable)
    desk.sample(tuple(Sample(10.0 + 0.125 * at, value) for at, value in enumerate(values)))
    return desk


def pressed(desk: Desk, key: str, per_turn: float = 0.0) -> float:
    """That key on a virtual set without noise whose reading rises by so much a turn; how far it turned."""
    [turn] = press(desk, key, None)
    assert isinstance(turn, Turn)
    assert desk.stream is not None
    assert desk.stream.live is not None
    newest = desk.stream.window.samples[-1]
    desk.stream.stands(desk.stream.turned + turn.turns, turn.turns)
    desk.sample((Sample(newest.at_s + 0.125, newest.value + turn.turns * per_turn),))
    return turn.turns


def asked_next(desk: Desk, ask: Touch, reading: float) -> None:
    """That is asked next, with this reading."""
    survey = ScriptedEngine((ask,)).survey(desk.procedure, History())
    desk.tell(History(), survey)
    newest_s = 1000.0 + ask.id
    desk.sample((Sample(newest_s, reading),))


def test_what_an_adjuster_does_is_remembered_for_its_next_touch_and_for_no_other() -> None:
    desk = desk_at(TOUCH, 390_000.0)
    assert "try one" in entry_row(desk, 80)
    pressed(desk, "left", -16_000.0)
    asked_next(desk, msgspec.structs.replace(TOUCH, id=20, adjuster="oscillator-trimmer"), 460_000.0)
    assert "try one" in entry_row(desk, 80)
    asked_next(desk, msgspec.structs.replace(TOUCH, id=21), 385_700.0)
    assert "Left raises, Right lowers" in entry_row(desk, 80)


def test_the_first_press_of_a_known_adjuster_is_no_greater_than_what_is_still_to_go() -> None:
    desk = desk_at(TOUCH, 390_000.0)
    pressed(desk, "left", -16_000.0)
    asked_next(desk, msgspec.structs.replace(TOUCH, id=21), 385_700.0)
    to_go = 80.0 / 16_000.0
    turned = pressed(desk, "right", -16_000.0)
    assert to_go / 4 <= turned <= to_go


def test_a_known_adjuster_comes_into_its_aim_in_a_few_presses_without_passing_it() -> None:
    desk = desk_at(TOUCH, 401_730.0)
    assert desk.stream is not None
    passed: list[bool] = []
    while (shown := desk.stream.gauge()) is not None and not shown.inside and len(passed) < 40:
        passed.append(shown.off < 0)
        pressed(desk, "right", -16_000.0)
    assert not any(passed)
    assert len(passed) <= 16  # a whole turn and more, to a thousandth of one


def test_back_from_a_wrong_direction_the_presses_do_not_stay_fine() -> None:
    desk = desk_at(TOUCH, 390_000.0)
    wrong = [pressed(desk, "left", -16_000.0) for _ in range(8)]
    back = [pressed(desk, "right", -16_000.0) for _ in range(4)]
    assert sum(back) >= -sum(wrong)


def test_an_effect_that_was_overrated_does_not_hold_the_presses_small_for_ever() -> None:
    fingers = Fingers()
    first = fingers.press(1.0, to_go=0.001)
    assert FINEST < first <= 0.001
    assert max(fingers.press(1.0, to_go=0.001) for _ in range(40)) >= 8 * first


def test_turning_back_again_and_again_makes_no_press_finer_than_a_hand_can_use() -> None:
    fingers = Fingers()
    presses = [abs(fingers.press(sense)) for sense in (1.0, -1.0) * 10]
    assert min(presses) == presses[-1] == PLAIN_FINEST
    assert abs(fingers.press(1.0, 1 / 8)) == PLAIN_FINEST / 8


def test_a_press_that_is_finer_already_is_not_made_bolder_by_turning_back() -> None:
    fingers = Fingers()
    near = fingers.press(1.0, to_go=1 / 2048)
    assert abs(fingers.press(-1.0)) <= near


def test_control_is_named_where_there_is_room() -> None:
    assert "; Shift finer, Ctrl coarser   Enter" in entry_row(desk_with(PEAK, serves=EVERYTHING, turnable=True), 120)


def test_shift_is_finer_and_control_coarser_than_a_press_near_the_aim() -> None:
    plain = Fingers().press(1.0, to_go=1 / 64)
    assert plain == 1 / 64
    assert Fingers().press(1.0, 1 / 8, to_go=1 / 64) == plain / 8
    assert Fingers().press(1.0, 8.0, to_go=1 / 64) == 8 * START


def test_away_from_the_aim_a_press_is_as_the_hand_wants_it() -> None:
    assert Fingers().press(-1.0, to_go=1 / 1024) == -START


def test_shift_is_named_wherever_arrow_keys_turn() -> None:
    for ask in (TOUCH, CORE, PEAK):
        assert "Shift finer" in entry_row(desk_with(ask, serves=EVERYTHING, turnable=True), 80)


def told_key(desk: Desk) -> str:
    """The key that leads to the aim by the prompt; Left where none is named."""
    shown = desk.stream.gauge() if desk.stream is not None else None
    words = entry_row(desk, 80)
    if shown is None or shown.inside or "raises" not in words:
        return "" if shown is None or shown.inside else "left"
    up, down = ("right", "left") if "Right raises" in words else ("left", "right")
    return up if shown.way == "up" else down


@pytest.mark.parametrize("job", [f"set-{at}" for at in range(6)])
def test_who_follows_the_prompt_on_the_virtual_set_gets_there_and_is_never_told_another_sense(job: str) -> None:
    clock = itertools.count()
    source = VirtualSource(placed(procedure(), Path(f"{job}.job")), lambda: next(clock) / 8)
    source.show(SEEN)
    aim = msgspec.structs.replace(SEEN.aim, value=1.04 * source.on_bench.display(msgspec.to_builtins(SEEN))[1])
    ask = msgspec.structs.replace(SEEN, aim=aim)
    desk = desk_with(ask, serves=EVERYTHING, turnable=True)
    source.show(ask)
    assert desk.stream is not None
    desk.stream.fingers.allow(source.boldest(ask.adjuster))

    def look(times: int) -> None:
        for _ in range(times):
            source.latest()
            desk.sample(source.window())

    senses, presses = [], 0
    look(9)
    while (key := told_key(desk)) and presses < 60:
        [turn] = press(desk, key, None)
        assert isinstance(turn, Turn)
        desk.stream.stands(source.turn(turn.adjuster, turn.turns), turn.turns)
        presses += 1
        look(1 if presses % 3 else 8)  # a key held down, and now and then a pause
        senses.append(desk.stream.raising)
    assert len(set(filter(None, senses))) == 1
    assert presses < 40


def held_down(job: str, key: str, up: float) -> tuple[list[float], Desk, float]:
    """The distances from the aim, in its half widths, of that key pressed 80 times, every 0.15 s, and of its first."""
    now = itertools.count(400)  # twentieths of a second
    clock = [0.0]
    source = VirtualSource(placed(procedure(), Path(f"{job}.job")), lambda: clock[0])
    ask = msgspec.structs.replace(TOUCH, adjuster="oscillator-trimmer", point=Point(volts=8.0))
    source.show(ask)
    aim = msgspec.structs.replace(ask.aim, value=up * source.on_bench.display(msgspec.to_builtins(ask))[1])
    ask = msgspec.structs.replace(ask, aim=aim)
    desk = desk_with(ask, serves=EVERYTHING, turnable=True)
    desk.hands_free = False
    source.show(ask)
    assert desk.stream is not None
    desk.stream.fingers.allow(source.boldest(ask.adjuster))
    off: list[float] = []
    for at in now:
        clock[0] = at / 20
        effects = press(desk, key, None, clock[0]) if at % 3 == 0 and at > 420 else []
        for turn in effects:
            assert isinstance(turn, Turn)
            desk.stream.stands(source.turn(turn.adjuster, turn.turns), turn.turns)
        source.latest()
        desk.sample(source.window())
        assert desk.stream.live is not None
        if effects or not off:
            off.append((desk.stream.live - aim.value) / aim.within)
        if at > 420 + 3 * 80:
            break
    return off, desk, clock[0]


@pytest.mark.parametrize(("key", "up"), [("right", 1.04), ("left", 0.97), ("left", 1.04), ("right", 0.97)])
@pytest.mark.parametrize("job", ["set-1", "set-2", "set-3"])
def test_a_key_that_is_kept_pressed_brings_the_reading_to_its_aim_and_not_on(job: str, key: str, up: float) -> None:
    off, desk, now_s = held_down(job, key, up)
    assert abs(off[-1]) <= 1.0 or (off[-1] * off[0] < 0.0 and abs(off[-1]) < abs(off[0]) / 10)
    assert all(value * off[0] > 0.0 for value in off[:-1])  # it never went on after the crossing
    assert "turns no further" in desk.message
    assert press(desk, key, None, now_s + LET_GO_S / 2) == []
    assert press(desk, key, None, now_s + 2 * LET_GO_S) != []


def test_a_held_key_goes_on_while_the_reading_runs_the_wrong_way_and_single_presses_are_never_stopped() -> None:
    below, above = (desk_at(TOUCH, value).stream for value in (380_000.0, 390_000.0))
    assert below is not None
    assert above is not None
    held = Held()
    assert not any(held.arrived("left", at / 10, below.gauge()) for at in range(20))
    assert held.arrived("left", 2.0, above.gauge())
    assert held.arrived("left", 2.0 + LET_GO_S, above.gauge())
    assert not held.arrived("right", 2.4, above.gauge())
    assert not any(held.arrived("left", 10.0 * at, (below, above)[at % 2].gauge()) for at in range(6))


def test_a_press_that_brought_the_aim_nearer_as_was_thought_does_not_make_the_next_bolder_than_what_is_left() -> None:
    fingers, left = Fingers(), 1.0
    for _ in range(40):
        turned = fingers.press(1.0, to_go=left)
        assert turned <= left
        left -= turned / 2
        if left < PLAIN_FINEST:
            break
