"""How fast the screens are, against a bare application of the same framework in the same run. A tool, not a test.

    python tests/bench/screens.py            start: first usable screen; keys: key to paint under a flood of readings
    python tests/bench/screens.py start 15   the start alone, 15 rounds
    python tests/bench/screens.py callbacks  which callbacks of the event loop are long: a flood, then the demo's job

Numbers of two programs that take turns on one machine can be compared; a number alone says more of the machine.
"""

import contextlib
import json
import os
import pty
import select
import statistics
import struct
import subprocess
import sys
import tempfile
import termios
import time
import tty
from collections.abc import Callable, Iterator
from fcntl import ioctl
from pathlib import Path

BARE = """
from textual.app import App
from textual.widgets import Static
class Bare(App):
    def compose(self):
        yield Static("BARE READY", id="row")
    def on_key(self, event):
        self.query_one("#row").update("> " + (event.character or "") * (event.key != "backspace"))
Bare().run()
"""
FLOOD = """
import os, time
at, count = time.perf_counter(), 0
while True:
    count += 1
    os.write(1, b"%d\\r\\n" % (384_111 + 1111 * (count // 500 % 2) + count % 3))
    at += 1e-3
    time.sleep(max(0.0, at - time.perf_counter()))
"""
BARE_COMMAND = [sys.executable, "-c", BARE]
PATIENCE_S = 10.0
LONGEST_MS = 16.0
ROUNDS = 5
A_LOOK_S, GOLDEN = 0.125, 0.618
"""The guide looks at its source so often [s]; keys come at every moment between two looks."""


class OnTerminal:
    """A program on a terminal of its own, 80 by 24."""

    def __init__(self, command: list[str], home: str) -> None:
        self.master, slave = pty.openpty()
        ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        surroundings = {**os.environ, "TERM": "xterm-256color", "XDG_DATA_HOME": home}
        self.begun = time.perf_counter()
        self.process = subprocess.Popen(
            command, stdin=slave, stdout=slave, stderr=slave, env=surroundings, start_new_session=True
        )
        os.close(slave)
        self.seen = b""

    def read(self, wait_s: float) -> bytes:
        """What was painted, waiting at most so long for the first of it."""
        ready, _, _ = select.select([self.master], [], [], wait_s)
        more = os.read(self.master, 65536) if ready else b""
        self.seen += more
        return more

    def until(self, mark: bytes) -> float:
        """The time [s] from the start until that was painted."""
        while mark not in self.seen:
            if time.perf_counter() - self.begun > PATIENCE_S:
                raise TimeoutError(f"{mark!r} was never painted; the end of what was: {self.seen[-400:]!r}")
            self.read(0.5)
        return time.perf_counter() - self.begun

    def close(self) -> None:
        """End it."""
        self.process.terminate()
        self.process.wait(5)
        os.close(self.master)


def starts(rounds: int) -> None:
    """Bare and ours by turns; the medians and their ratio."""
    times: dict[str, list[float]] = {"bare": [], "list of jobs": []}
    with tempfile.TemporaryDirectory() as home:
        programs = (
            ("bare", BARE_COMMAND, b"BARE READY"),
            ("list of jobs", [sys.executable, "-m", "aligner"], b"new job"),
        )
        for _ in range(rounds):
            for name, command, mark in programs:
                shown = OnTerminal(command, home)
                times[name].append(shown.until(mark))
                shown.close()
    medians = {name: statistics.median(row) for name, row in times.items()}
    for name, median in medians.items():
        say(f"{name:<14} {1e3 * median:6.0f} ms   ({1e3 * min(times[name]):.0f} to {1e3 * max(times[name]):.0f})")
    say(f"ratio          {medians['list of jobs'] / medians['bare']:6.2f}")


def keys(presses: int) -> None:
    """From the byte written to the changed byte read, while a counter floods 1,000 lines a second; by turns."""
    spans: dict[str, list[float]] = {"bare": [], "guide, flooded": []}
    with tempfile.TemporaryDirectory() as home, flooded() as port:
        guide = [sys.executable, str(Path(__file__).with_name("guide_on_port.py")), port, home]
        for _ in range(ROUNDS):
            with drained(port):  # the machine does the same work beside both
                spans["bare"] += _pressed(BARE_COMMAND, home, b"BARE READY", presses // ROUNDS)
            spans["guide, flooded"] += _pressed(guide, home, b"NOW", presses // ROUNDS)
    late = {}
    for name, row in spans.items():
        ordered = sorted(row)
        middle, late[name] = (1e3 * ordered[int(share * len(row))] for share in (0.5, 0.99))
        say(f"{name:<14} median {middle:5.1f} ms   99 % {late[name]:5.1f} ms   longest {1e3 * ordered[-1]:5.1f} ms")
    say(f"99 % more than bare: {late['guide, flooded'] - late['bare']:.1f} ms")


def _pressed(command: list[str], home: str, mark: bytes, presses: int) -> list[float]:
    shown = OnTerminal(command, home)
    shown.until(mark)
    spans = _spans(shown, presses)
    shown.close()
    return spans


def callbacks(presses: int) -> None:
    """The long callbacks: bare, while a counter floods and keys are pressed, and while the demo is led to its end."""
    with tempfile.TemporaryDirectory() as home, flooded() as port:
        script = Path(home, "bare.py")
        script.write_text(BARE)
        bare = _watched(home, str(script))
        bare.until(b"BARE READY")
        with drained(port):
            _spans(bare, presses)
        _told("bare", bare, home, b"\x11")
        guide = _watched(home, str(Path(__file__).with_name("guide_on_port.py")), port, home)
        guide.until(b"NOW")
        _spans(guide, presses)
        _told("guide, flooded", guide, home, b"qq")
        demo = _watched(home, "aligner", "demo")
        demo.until(b"CAUTION")
        for key in (b"a" * 16 + b"ccpkq?q" + b"a" * 40).decode():
            os.write(demo.master, key.encode())
            _wait(demo, 0.6)
        _told("demo to its end", demo, home, b"qq")


def _watched(home: str, *command: str) -> OnTerminal:
    watched = Path(__file__).with_name("watched.py")
    return OnTerminal([sys.executable, str(watched), str(Path(home, "long.json")), *command], home)


def _wait(shown: OnTerminal, wait_s: float) -> None:
    end = time.perf_counter() + wait_s
    while time.perf_counter() < end and shown.process.poll() is None:
        with contextlib.suppress(OSError):  # it has ended
            shown.read(0.05)


def _told(name: str, shown: OnTerminal, home: str, leave: bytes) -> None:
    for key in leave.decode():
        os.write(shown.master, key.encode())
        _wait(shown, 1.5)
    shown.close()
    long = json.loads(Path(home, "long.json").read_text())
    # The framework waits for its driver when it ends; nobody is kept waiting by that.
    long = [row for row in long if not row[2].endswith("ExitApp")]
    say(f"{name}: {sum(row[0] > LONGEST_MS for row in long)} callbacks over {LONGEST_MS:.0f} ms, by their own time:")
    for wall_ms, own_ms, what in long:
        if own_ms > LONGEST_MS:
            say(f"  {own_ms:6.1f} ms (in {wall_ms:.1f} ms)   {what[:200]}")


def _spans(shown: OnTerminal, presses: int) -> list[float]:
    """Digits typed into a line and taken away again, each until it is seen."""
    spans = []
    time.sleep(1.0)
    for count in range(presses):
        digit = b"%d" % (count % 10)
        while shown.read(0.0):
            pass
        begun = time.perf_counter()
        os.write(shown.master, digit)
        painted = b""
        while digit not in _text(painted) and time.perf_counter() - begun < PATIENCE_S:
            painted += shown.read(0.2)
        spans.append(time.perf_counter() - begun)
        os.write(shown.master, b"\x7f")
        shown.read(0.5)
        time.sleep(0.03 + A_LOOK_S * (count * GOLDEN % 1))
    return spans


def _text(painted: bytes) -> bytes:
    """What was painted without the sequences that move and colour."""
    parts = painted.split(b"\x1b[")
    return parts[0] + b"".join(_after_sequence(part) for part in parts[1:])


def _after_sequence(part: bytes) -> bytes:
    end = next((at for at, byte in enumerate(part) if 0x40 <= byte <= 0x7E), len(part) - 1)
    return part[end + 1 :]


@contextlib.contextmanager
def flooded() -> Iterator[str]:
    """A serial port on which a counter prints 1,000 lines a second, no two alike, from a process of its own."""
    counter, port = pty.openpty()
    tty.setraw(port)
    flood = subprocess.Popen([sys.executable, "-c", FLOOD], stdout=counter)
    yield os.ttyname(port)
    flood.kill()
    flood.wait()
    os.close(counter)
    os.close(port)


@contextlib.contextmanager
def drained(port: str) -> Iterator[None]:
    """The flood goes on while nobody looks at it: without a reader it would stand still."""
    with Path(port).open("rb") as lines:
        drain = subprocess.Popen(["cat"], stdin=lines, stdout=subprocess.DEVNULL)
        yield
        drain.kill()
        drain.wait()


def say(line: str) -> None:
    """Tell."""
    sys.stdout.write(f"{line}\n")


TOOLS: dict[str, Callable[[int], None]] = {"start": starts, "keys": keys, "callbacks": callbacks}
USUAL = {"start": 11, "keys": 500, "callbacks": 200}

if __name__ == "__main__":
    wanted = sys.argv[1:2] or list(TOOLS)
    for tool in wanted:
        TOOLS[tool](int(sys.argv[2]) if len(sys.argv) > 2 else USUAL[tool])
