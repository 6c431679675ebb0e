"""How fast the screens are, against a bare application of the same framework in the same run. A tool, not a test.

    python tests/bench/screens.py            start: first usable screen; keys: key to paint under a flood of readings
    python tests/bench/screens.py start 15   the start alone, 15 rounds

Numbers of two programs that take turns on one machine can be compared; a number alone says more of the machine.
"""

import os
import pty
import select
import statistics
import struct
import subprocess
import sys
import tempfile
import termios
import threading
import time
from collections.abc import Callable
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
BARE_COMMAND = [sys.executable, "-c", BARE]
PATIENCE_S = 10.0


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
    """From the byte written to the changed byte read, while a counter floods 1,000 lines a second."""
    with tempfile.TemporaryDirectory() as home:
        bare = OnTerminal(BARE_COMMAND, home)
        bare.until(b"BARE READY")
        spans = {"bare": _spans(bare, presses)}
        bare.close()
        counter, port = pty.openpty()
        threading.Thread(target=_flood, args=(counter,), daemon=True).start()
        command = [sys.executable, str(Path(__file__).with_name("guide_on_port.py")), os.ttyname(port), home]
        guide = OnTerminal(command, home)
        guide.until(b"NOW")
        spans["guide, flooded"] = _spans(guide, presses)
        guide.close()
    for name, row in spans.items():
        ordered = sorted(row)
        middle, late = (1e3 * ordered[int(share * len(row))] for share in (0.5, 0.99))
        say(f"{name:<14} median {middle:5.1f} ms   99 % {late:5.1f} ms")


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
        time.sleep(0.03)
    return spans


def _text(painted: bytes) -> bytes:
    """What was painted without the sequences that move and colour."""
    parts = painted.split(b"\x1b[")
    return parts[0] + b"".join(_after_sequence(part) for part in parts[1:])


def _after_sequence(part: bytes) -> bytes:
    end = next((at for at, byte in enumerate(part) if 0x40 <= byte <= 0x7E), len(part) - 1)
    return part[end + 1 :]


def _flood(counter: int) -> None:
    at, count = time.perf_counter(), 0
    while True:
        count += 1
        os.write(counter, b"%d\r\n" % (384_111 + 1111 * (count // 500 % 2)))
        at += 1e-3
        time.sleep(max(0.0, at - time.perf_counter()))


def say(line: str) -> None:
    """Tell."""
    sys.stdout.write(f"{line}\n")


TOOLS: dict[str, Callable[[int], None]] = {"start": starts, "keys": keys}

if __name__ == "__main__":
    wanted = sys.argv[1:2] or list(TOOLS)
    for tool in wanted:
        TOOLS[tool](int(sys.argv[2]) if len(sys.argv) > 2 else 11 if tool == "start" else 200)
