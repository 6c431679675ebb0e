import os
import socket
import statistics
import threading
import time
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
import serial
from serial.tools import list_ports

from aligner.errors import InstrumentError
from aligner.readings import serial_source
from aligner.readings.lines import Want
from aligner.readings.serial_source import FoundPort, Port, PortSettings, SerialSource, port_list, ports
from aligner.readings.source import KEEP_AT_MOST, Source
from tests.readings.bench import PtyCounter, Watcher

needs_pty = pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo terminals (Windows)")


@pytest.fixture
def stable(tmp_path: Path) -> Path:
    return tmp_path / "usb-invented-counter-if00"


@pytest.fixture
def watcher() -> Watcher:
    return Watcher()


@pytest.fixture
def source(stable: Path, watcher: Watcher) -> Iterator[SerialSource]:
    source = SerialSource(PortSettings(str(stable)), Want(), on_news=watcher.wake)
    yield source
    source.stop()


@needs_pty
@pytest.mark.parametrize("text", ["383594\\r", "383.594 kHz\\n", "F=383594 Hz\\r\\n", "+3.83594E+05\\r\\n"])
def test_a_counter_in_another_process_is_read(text: str, stable: Path, source: SerialSource, watcher: Watcher) -> None:
    as_source: Source = source
    counter = PtyCounter(text, 20.0, stable)
    try:
        as_source.start()
        live = watcher.wait(source, lambda live: live.stable)
        assert (live.value, live.connected, live.message, live.resolution) == (383594.0, True, "", 1.0)
        assert 5.0 < live.rate_hz < 40.0  # 20 a second; a machine that is busy with other tests is given room
        assert {sample.value for sample in source.window()} == {383594.0}
    finally:
        source.stop()
        counter.unplug()


@needs_pty
def test_a_port_that_is_lost_is_found_again_by_the_same_path(
    stable: Path, source: SerialSource, watcher: Watcher
) -> None:
    counter = PtyCounter("383594\\r\\n", 20.0, stable)
    source.start()
    try:
        watcher.wait(source, lambda live: live.value == 383594.0)
        counter.unplug()
        lost = watcher.wait(source, lambda live: not live.connected)
        assert lost.value is None
        assert str(stable) in lost.message
        assert source.window() == ()
        gone = watcher.wait(source, lambda live: "there is no such port" in live.message)
        assert gone.value is None
        counter = PtyCounter("455001\\r\\n", 20.0, stable)
        back = watcher.wait(source, lambda live: live.value is not None)
        assert (back.value, back.connected) == (455001.0, True)
        assert {sample.value for sample in source.window()} == {455001.0}
    finally:
        source.stop()
        counter.unplug()


@needs_pty
def test_a_source_waits_for_a_port_that_is_not_there_yet(stable: Path, source: SerialSource, watcher: Watcher) -> None:
    source.start()
    missing = watcher.wait(source, lambda live: bool(live.message))
    assert not missing.connected
    counter = PtyCounter("383594\\n", 20.0, stable)
    try:
        watcher.wait(source, lambda live: live.value == 383594.0)
    finally:
        source.stop()
        counter.unplug()


@needs_pty
def test_a_flood_of_5000_lines_a_second_collapses_to_the_newest_and_stays_fresh(
    stable: Path, source: SerialSource, watcher: Watcher
) -> None:
    counter = PtyCounter("{us} Hz\\r\\n", 5000.0, stable)
    source.start()
    try:
        watcher.wait(source, lambda live: live.value is not None)
        taken = threading.Event()
        late: list[float] = []
        watcher.wakes = watcher.looks = 0
        # A busy machine makes all late for a while, and that passes; a backlog would grow with every second.
        while len(late) < 60 or (statistics.median(late[-60:]) >= 0.5 and len(late) < 600):
            live = source.latest()
            assert live is not None
            assert live.value is not None
            late.append(time.monotonic() - live.value / 1e6)
            watcher.looks += 1
            taken.wait(0.05)  # a screen that draws twenty times a second
        assert watcher.wakes <= watcher.looks + 1
        newest = source.latest()
        assert newest is not None
        assert newest.rate_hz > 1000.0  # far more came than was looked at, even on a busy machine
        assert statistics.median(late[-60:]) < 0.5  # nothing piles up
        assert len(source.window()) <= KEEP_AT_MOST
    finally:
        source.stop()
        counter.unplug()


@needs_pty
def test_no_hostile_byte_reaches_what_a_screen_shows(stable: Path, source: SerialSource, watcher: Watcher) -> None:
    text = "\\x1b]52;c;aGVsbG8=\\x07\\x1b[?1049l\\x9b2J[/nope]\\x00\\xff\\xe2\\x80\\xae\\r\\n"
    counter = PtyCounter(text, 20.0, stable)
    source.start()
    try:
        live = watcher.wait(source, lambda live: bool(live.raw))
        assert live.value is None
        assert "nope" in live.raw
        for shown in (live.raw, live.message):
            assert not {unicodedata.category(mark) for mark in shown} & {"Cc", "Cf", "Cs", "Zl", "Zp"}
    finally:
        source.stop()
        counter.unplug()


@needs_pty
def test_a_counter_that_falls_silent_is_no_longer_shown(stable: Path, watcher: Watcher) -> None:
    master, slave = os.openpty()
    stable.symlink_to(os.ttyname(slave))
    source = SerialSource(PortSettings(str(stable)), on_news=watcher.wake)
    source.start()
    try:
        watcher.wait(source, lambda live: live.connected)
        os.write(master, b"half\r\n383594\r\n")
        watcher.wait(source, lambda live: live.value == 383594.0)
        silent = watcher.wait(source, lambda live: live.value is None)
        assert silent.connected
        assert silent.message.startswith("no reading for 3 s")
    finally:
        source.stop()
        os.close(master)
        os.close(slave)


@needs_pty
def test_stopping_ends_the_thread_soon_and_it_may_be_started_again(
    stable: Path, source: SerialSource, watcher: Watcher
) -> None:
    counter = PtyCounter("383594\\n", 20.0, stable)
    before = threading.active_count()
    try:
        for _ in range(2):
            source.start()
            source.start()
            watcher.wait(source, lambda live: live.value == 383594.0)
            assert threading.active_count() == before + 1
            began = time.monotonic()
            source.stop()
            source.stop()
            assert time.monotonic() - began < 1.0
            assert threading.active_count() == before
    finally:
        counter.unplug()


@needs_pty
def test_a_second_program_cannot_take_the_port(stable: Path) -> None:
    counter = PtyCounter("383594\\n", 20.0, stable)
    first = Port(PortSettings(str(stable)))
    try:
        with pytest.raises(InstrumentError, match="another program has it"):
            Port(PortSettings(str(stable)))
    finally:
        first.close()
        counter.unplug()


def test_a_socket_is_read_lost_and_found_again(watcher: Watcher) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        source = SerialSource(PortSettings(f"socket://127.0.0.1:{server.getsockname()[1]}"), on_news=watcher.wake)
        source.start()
        try:
            for hz in (383594, 455001):
                peer, _ = server.accept()
                watcher.wait(source, lambda live: live.connected)
                with peer:
                    peer.sendall(b"half\r\n%d Hz\r\n" % hz)
                    assert watcher.wait(source, lambda live: live.value is not None).value == hz
                lost = watcher.wait(source, lambda live: not live.connected)
                assert lost.value is None
        finally:
            source.stop()


def test_a_loop_gives_back_what_is_sent() -> None:
    port = Port(PortSettings("loop://"))
    port.write(b"383594\n")
    assert port.read() == b"383594\n"
    assert port.read() == b""
    port.close()


@pytest.mark.parametrize("url", ["spy://loop", "rfc2217://localhost:1", "hwgrep://.*", "file:///etc/hosts"])
def test_other_kinds_of_address_are_refused(url: str) -> None:
    with pytest.raises(InstrumentError, match="only socket:// and loop:// may stand before"):
        Port(PortSettings(url))


@pytest.mark.parametrize("frame", ["", "9N1", "8X1", "8N3", "8N11", "8N\x1b"])
def test_a_frame_that_is_none_is_refused(frame: str) -> None:
    with pytest.raises(InstrumentError, match="is no frame: say 8N1, 7E1 or the like"):
        Port(PortSettings("loop://", frame=frame))


def test_a_port_that_is_not_there_names_those_that_are(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serial_source, "ports", lambda: (FoundPort("/dev/ttyINVENTED", "a counter"),))
    with pytest.raises(InstrumentError) as caught:
        Port(PortSettings("/dev/none-of-that-name"))
    assert str(caught.value) == (
        "cannot open /dev/none-of-that-name: there is no such port; ports there are: /dev/ttyINVENTED (a counter)"
    )


def test_without_any_port_it_says_to_plug_one_in(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serial_source, "ports", tuple)
    assert port_list() == "no serial port is there now: plug the instrument in"


def test_found_ports_have_clean_descriptions_and_their_stable_path(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    device = tmp_path / "ttyUSB7"
    device.touch()
    by_id = tmp_path / "by-id"
    by_id.mkdir()
    (by_id / "usb-invented").symlink_to(device)
    found = [
        SimpleNamespace(device=str(device.resolve()), description="count\x1b[2Jer"),
        SimpleNamespace(device="COM3", description=None),
    ]
    monkeypatch.setattr(serial_source, "_BY_ID", by_id)
    monkeypatch.setattr(list_ports, "comports", lambda: found)
    assert set(ports()) == {FoundPort(str(by_id / "usb-invented"), "counter"), FoundPort("COM3", "")}


LOST = [OSError(5, "gone"), serial.SerialException("gone"), TypeError("gone"), ValueError("gone")]
if os.name == "posix":
    import termios

    LOST.append(termios.error(5, "gone"))


@pytest.mark.parametrize("error", LOST, ids=lambda error: type(error).__name__)
def test_whatever_the_library_raises_is_a_lost_port(error: Exception, monkeypatch: pytest.MonkeyPatch) -> None:
    class Failing:
        in_waiting = 0

        def read(self, size: int) -> bytes:
            raise error

        def write(self, data: bytes) -> None:
            raise error

        def close(self) -> None:
            raise error

    monkeypatch.setattr(serial_source, "_opened", lambda settings: Failing())
    port = Port(PortSettings("invented"))
    with pytest.raises(InstrumentError, match="invented is lost"):
        port.read()
    with pytest.raises(InstrumentError, match="invented is lost"):
        port.write(b"")
    port.close()


def test_a_byte_that_was_waited_for_brings_the_rest_of_its_line_and_waits_for_no_more(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    class Slow:
        """Nothing is there at first; then one byte comes, and with it what else is to come."""

        def __init__(self, *coming: bytes) -> None:
            self._coming = list(coming)
            self.in_waiting = 0

        def read(self, size: int) -> bytes:
            assert size == max(1, self.in_waiting), "a read for more than is there would wait for a tenth of a second"
            came = self._coming.pop(0)
            self.in_waiting = len(self._coming[0]) if self._coming else 0
            return came

    def port(*coming: bytes) -> Port:
        monkeypatch.setattr(serial_source, "_opened", lambda settings: Slow(*coming))
        return Port(PortSettings("invented"))

    assert port(b"3", b"84111\r\n").read() == b"384111\r\n"
    assert port(b"3").read() == b"3"
    assert port(b"").read() == b""


def test_modem_lines_are_set_before_the_port_opens_and_otherwise_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[tuple[str, object]] = []

    class Recording:
        def __setattr__(self, name: str, value: object) -> None:
            done.append((name, value))

        def open(self) -> None:
            done.append(("open", None))

    monkeypatch.setattr(serial, "serial_for_url", lambda url, **settings: Recording())
    Port(PortSettings("invented", dtr=False, rts=True))
    assert done == [("dtr", False), ("rts", True), ("open", None)]
    done.clear()
    Port(PortSettings("invented"))
    assert done == [("open", None)]
