"""A bench for tests: a counter in a process of its own behind a pty that can be unplugged, and a patient watcher."""

import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

from aligner.readings.serial_source import SerialSource
from aligner.readings.source import Live

# The counter prints its lines again and again until it is ended; {n} is a count, {us} its clock in microseconds.
_COUNTER = """
import os, sys, time
fd, text, rate = int(sys.argv[1]), sys.argv[2].encode("latin-1").decode("unicode_escape"), float(sys.argv[3])
count, start = 0, time.monotonic()
while True:
    due = int((time.monotonic() - start) * rate) + 1
    if count >= due:
        time.sleep(min(0.01, 1 / rate))
        continue
    lines = ""
    while count < due:
        lines += text.replace("{n}", str(count)).replace("{us}", str(int(time.monotonic() * 1e6)))
        count += 1
    data = lines.encode("latin-1")
    while data:
        data = data[os.write(fd, data):]
"""


class PtyCounter:
    """A counter on a pty; `plug` gives the pty the stable name under which the program finds it."""

    def __init__(self, text: str, rate_hz: float, stable: Path) -> None:
        master, slave = os.openpty()
        self._process = subprocess.Popen(
            [sys.executable, "-c", _COUNTER, str(master), text, str(rate_hz)], pass_fds=[master]
        )
        os.close(master)
        self._slave = slave
        self._stable = stable
        stable.unlink(missing_ok=True)
        stable.symlink_to(os.ttyname(slave))

    def unplug(self) -> None:
        """End the process, which held the only end of the wire, and take the name away."""
        self._process.kill()
        self._process.wait()
        self._stable.unlink(missing_ok=True)
        if self._slave >= 0:
            os.close(self._slave)
            self._slave = -1


class Watcher:
    """What a screen does: it looks when it is woken. `wakes` counts the wakes, `looks` the looks."""

    def __init__(self) -> None:
        self._news = threading.Event()
        self.wakes = 0
        self.looks = 0

    def wake(self) -> None:
        self.wakes += 1
        self._news.set()

    def wait(self, source: SerialSource, wanted: Callable[[Live], bool], limit_s: float = 15.0) -> Live:
        """Return the first news that is as wanted; a test that waits longer has failed."""
        until = time.monotonic() + limit_s
        live: Live | None = None
        while time.monotonic() < until:
            self._news.wait(0.1)
            self._news.clear()
            live = source.latest()
            self.looks += 1
            if live is not None and wanted(live):
                return live
        raise AssertionError(f"not seen within {limit_s} s; the last was {live}")
