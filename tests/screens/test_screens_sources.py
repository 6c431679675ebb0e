"""Sources of readings as the guide uses them, and the fingers on the virtual set."""

import math
import socket
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.engine.answers import Cannot, Done, SweepSeen, WandSeen
from aligner.engine.asks import Aim, Point, Sweep, Wand
from aligner.screens.app import AlignerApp
from aligner.screens.ask_source import SourceScreen
from aligner.screens.fingers import BOLDEST, FINEST, PATIENCE, Fingers, boldest, step_words
from aligner.screens.seat import Seat
from aligner.screens.sources import (
    AT_STOP,
    Choice,
    Plugged,
    VirtualSource,
    left_positions,
    plugged,
    remember,
    remembered,
)
from tests.screens.driving import until, words_on
from tests.screens.scripted import CONFIRM, READ, TOUCH, ShownSource, pipe_shaped, procedure

WAND = Wand(id=6, step="antenna", text="Wand.", circuit="antenna", point=Point(received=98e6))
SWEEP = Sweep(id=7, step="if", text="Sweep.", quantity="level", from_hz=10.5e6, to_hz=10.9e6, count=5)


@dataclass
class OneScrew:
    """A set with one screw: 10 kHz a turn, stops at 0 and 2 turns."""

    at: float = 1.0
    asked: list[Mapping[str, object]] = field(default_factory=list)
    given: dict[str, object] = field(default_factory=dict)

    def display(self, ask: Mapping[str, object]) -> tuple[str, float]:
        self.asked.append(ask)
        return "frequency", math.nan if self.at == 0.0 else 380_000.0 + 10_000.0 * self.at

    def turn(self, adjuster: str, turns: float) -> bool:
        wanted = self.at + turns
        self.at = min(2.0, max(0.0, wanted))
        return wanted == self.at

    def answer(self, ask: Mapping[str, object]) -> dict[str, object]:
        self.asked.append(ask)
        return self.given

    def positions(self) -> dict[str, float]:
        return {"oscillator-coil": self.at}

    def clockwise(self, adjuster: str) -> float:
        return self.at


def ticking() -> VirtualSource:
    moments = count(1.0, 0.125)
    return VirtualSource(OneScrew(), lambda: next(moments))


def test_the_counter_follows_the_hand_on_the_virtual_set() -> None:
    source = ticking()
    source.show(TOUCH)
    first, turned, second = source.latest(), source.turn("oscillator-coil", 0.5), source.latest()
    assert first is not None
    assert second is not None
    assert (first.value, turned, second.value) == (390_000.0, 0.5, 395_000.0)
    assert [sample.value for sample in source.window()] == [390_000.0, 395_000.0]


def test_at_a_stop_the_tool_turns_no_further_and_it_is_said() -> None:
    source = ticking()
    source.show(TOUCH)
    assert source.turn("oscillator-coil", 5.0) == 1.0
    live = source.latest()
    assert live is not None
    assert live.message == AT_STOP


def test_a_note_in_the_middle_of_a_touch_leaves_the_turns_as_they_were_counted() -> None:
    source = ticking()
    source.show(TOUCH)
    source.turn("oscillator-coil", 0.5)
    source.show(TOUCH)
    assert source.turn("oscillator-coil", 0.25) == 0.75


def test_each_ask_counts_its_turns_anew_and_has_readings_of_its_own() -> None:
    source = ticking()
    source.show(TOUCH)
    source.latest()
    source.turn("oscillator-coil", 0.5)
    source.show(READ)
    assert source.window() == ()
    assert source.turn("oscillator-coil", 0.25) == 0.25


def test_the_virtual_set_is_asked_in_the_shape_of_the_pipe() -> None:
    source = ticking()
    source.show(TOUCH)
    source.latest()
    assert isinstance(source.on_bench, OneScrew)
    assert source.on_bench.asked == [pipe_shaped(TOUCH)]
    assert source.on_bench.asked[0]["ask"] == "touch"


def test_nothing_is_shown_while_nothing_is_read() -> None:
    source = ticking()
    source.show(CONFIRM)
    assert source.latest() is None
    source.show(READ)
    source.turn("x", -9.0)
    live = source.latest()
    assert live is not None
    assert (live.value, live.message) == (None, "Nothing can be read here.")


def test_wand_and_sweep_are_answered_by_the_set_itself() -> None:
    source = ticking()
    assert isinstance(source.on_bench, OneScrew)
    source.on_bench.given = {"id": 6, "none": -3.0, "ferrite": -2.0, "brass": -5.0}
    assert source.answer(WAND) == WandSeen(-2.0, -5.0, -3.0)
    source.on_bench.given = {"id": 6, "ferrite": "up", "brass": "down"}
    assert source.answer(WAND) == WandSeen("up", "down")
    source.on_bench.given = {"id": 7, "points": [[1.0, 2.0], [3.0, 4.0], [5.0, 6.0]]}
    assert source.answer(SWEEP) == SweepSeen(((1.0, 2.0), (3.0, 4.0), (5.0, 6.0)))
    source.on_bench.given = {"id": 6, "cannot": "no-reading"}
    assert source.answer(WAND) == Cannot("no-reading")
    source.on_bench.given = {"id": 1, "done": True}
    assert source.answer(CONFIRM) == Done()


def test_a_silent_instrument_shows_no_reading_of_now(tmp_path: Path) -> None:
    source = ShownSource()
    seat = Seat(Plugged(Choice("serial", "/dev/counter"), source), tmp_path / "a.job")
    source.show(400_000.0)
    assert seat.look() == source.window()
    source.samples.clear()
    source.show(400_000.0, since_s=-1e9)
    assert seat.look() is None
    assert "silent" in seat.message


def test_the_set_is_left_as_the_hands_left_it(tmp_path: Path) -> None:
    source = ticking()
    seat = Seat(Plugged(Choice("virtual"), source), tmp_path / "a.job")
    source.turn("oscillator-coil", 0.25)
    seat.stop()
    assert left_positions(tmp_path / "a.job") == {"oscillator-coil": 1.25}
    assert left_positions(tmp_path / "none.job") == {}


def test_the_keyboard_is_the_absence_of_a_source() -> None:
    assert plugged(Choice(), procedure(), None).source is None
    assert not plugged(Choice(), procedure(), None).serves


def test_the_virtual_set_of_a_job_is_the_same_each_time(tmp_path: Path) -> None:
    job = tmp_path / "virtual-1.job"
    one, other = (plugged(Choice("virtual"), procedure(), job).virtual for _ in range(2))
    assert one is not None
    assert other is not None
    assert one.positions() == other.positions()
    one.turn("antenna-coil", 0.5)
    remember(job, Choice("virtual"), one.positions())
    again = plugged(Choice("virtual"), procedure(), job).virtual
    assert again is not None
    assert again.positions() == one.positions() != other.positions()


def test_turning_back_takes_up_the_play_at_once() -> None:
    virtual = plugged(Choice("virtual"), procedure(), None).virtual
    assert virtual is not None
    virtual.turn("antenna-coil", 0.25)
    there = virtual.positions()["antenna-coil"]
    virtual.turn("antenna-coil", -0.25)
    assert abs(abs(virtual.positions()["antenna-coil"] - there) - 0.25) < 1e-9


def test_fingers_grow_bolder_one_way_and_finer_when_they_turn_back() -> None:
    fingers = Fingers()
    assert [fingers.press(1.0) for _ in range(PATIENCE)] == [1 / 16] * PATIENCE
    assert step_words(fingers.step()) == "a press: 1/8 turn"
    assert fingers.press(1.0) == 1 / 8
    assert fingers.press(-1.0) == -1 / 32


def test_fine_presses_stay_fine_however_often_they_come() -> None:
    fingers = Fingers()
    assert {fingers.press(1.0, 1 / 8) for _ in range(50)} == {1 / 128}


@pytest.mark.parametrize(("travel", "most"), [(None, 1 / 16), (3.0, 1 / 4), (4.0, 1 / 2), (20.0, 1.0)])
@pytest.mark.parametrize("factor", [1.0, 8.0])
def test_no_press_takes_more_than_an_eighth_of_the_way_between_stops(
    travel: float | None, most: float, factor: float
) -> None:
    fingers = Fingers()
    fingers.allow(boldest(travel))
    assert max(fingers.press(1.0, factor) for _ in range(100)) == most


def test_the_fingers_feel_how_much_way_an_adjuster_of_the_virtual_set_has() -> None:
    virtual = plugged(Choice("virtual"), procedure(), None).virtual
    assert virtual is not None
    assert virtual.boldest("oscillator-trimmer") == 1 / 16  # it turns round and round
    assert virtual.boldest("oscillator-coil") == 1 / 2  # four turns of travel


@given(st.lists(st.sampled_from([1.0, -1.0]), max_size=80), st.sampled_from([1 / 8, 1.0, 8.0]))
def test_no_press_is_nothing_and_none_goes_wild(senses: list[float], factor: float) -> None:
    fingers = Fingers()
    for sense in senses:
        turns = fingers.press(sense, factor)
        assert turns * sense >= FINEST
        assert abs(turns) <= 8 * BOLDEST


def test_an_instrument_on_a_port_reads_what_was_chosen() -> None:
    assert plugged(Choice("serial", "loop://"), procedure(), None).serves == {"frequency"}
    assert plugged(Choice("serial", "loop://", shown="MHz"), procedure(), None).serves == {"frequency"}
    assert plugged(Choice("serial", "loop://", shown="dB"), procedure(), None).serves == {"level"}
    assert plugged(Choice("serial", "loop://", shown="V"), procedure(), None).serves == {"volts"}


class Far:
    """An instrument on the network, which takes one caller."""

    def __init__(self, *, prints: bytes = b"", answers: dict[bytes, bytes] | None = None) -> None:
        self._prints, self._answers = prints, answers or {}
        self._door = socket.create_server(("127.0.0.1", 0))
        self.port = f"socket://127.0.0.1:{self._door.getsockname()[1]}"
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def _serve(self) -> None:
        caller, _ = self._door.accept()
        with caller, self._door:
            while self._prints:
                try:
                    caller.sendall(self._prints)
                except OSError:
                    return  # the caller has hung up
                time.sleep(0.05)
            heard = b""
            while more := caller.recv(4096):
                *lines, heard = (heard + more).split(b"\n")
                caller.sendall(b"".join(self._answers.get(line, b"") for line in lines))


def read_of(choice: Choice) -> float | None:
    source = plugged(choice, procedure(), None).source
    assert source is not None
    source.start()
    try:
        end = time.monotonic() + 20.0
        while time.monotonic() < end:
            live = source.latest()
            if live is not None and live.value is not None:
                return live.value
            time.sleep(0.02)
        return None
    finally:
        source.stop()


def test_an_instrument_that_is_asked_is_asked() -> None:
    far = Far(answers={b"*IDN?": b"ours,invented,0,1\n", b"SYST:ERR?": b'0,"none"\n', b"READ?": b"+3.83594E+05\n"})
    assert read_of(Choice("serial", far.port, asked=True)) == 383_594.0


def test_field_decimal_mark_and_unit_of_a_line_are_those_that_were_chosen() -> None:
    far = Far(prints=b"7; 98,412; 3\r\n")
    assert read_of(Choice("serial", far.port, shown="MHz", field="2", decimal=",")) == 98_412_000.0
    far = Far(prints=b"T=21.5 F=383594\r\n")
    assert read_of(Choice("serial", far.port, field="F")) == 383_594.0


def test_how_an_instrument_is_read_is_kept_with_the_job(tmp_path: Path) -> None:
    choice = Choice("serial", "COM5", 115200, asked=True, shown="dB", field="2", decimal=",")
    remember(tmp_path / "a.job", choice)
    assert remembered(tmp_path / "a.job") == choice


async def test_keys_change_how_an_instrument_is_read_and_a_port_may_be_typed(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    chosen: list[Choice | None] = []
    async with app.run_test(size=(80, 24)) as pilot:
        screen = SourceScreen(Choice())
        app.push_screen(screen, chosen.append)
        await until(pilot, lambda: app.screen is screen)
        await pilot.press("b", "a", "r", "d", "f", *"2", "enter")
        await until(pilot, lambda: app.screen is screen)
        for words in ("115200 baud", "answers READ?", "bare numbers in kHz", "number on the line: 2", "mark: comma"):
            assert words in words_on(app)
        await pilot.press("o", *"socket://far:5025", "enter")
        await until(pilot, lambda: bool(chosen))
    wanted = Choice("serial", "socket://far:5025", 115200, asked=True, shown="kHz", field="2", decimal=",")
    assert chosen == [wanted]


def test_a_resonance_that_is_left_alone_stands_still_enough_to_be_taken_by_itself(tmp_path: Path) -> None:
    """Over 1.5 s no wider than the aim (20 kHz at 100 MHz): traces alone scatter by three times that."""
    virtual = plugged(Choice("virtual"), procedure(), tmp_path / "still.job").virtual
    assert virtual is not None
    ask = msgspec.structs.replace(TOUCH, circuit="antenna", aim=Aim("resonance", 98e6, 20e3))
    virtual.show(ask)
    still = 0
    for _ in range(20):
        virtual.turn("antenna-coil", 0.0625)
        shown = [live.value for _ in range(24) if (live := virtual.latest()) is not None and live.value is not None]
        still += max(shown[-12:]) - min(shown[-12:]) <= 20e3
    assert still >= 18
