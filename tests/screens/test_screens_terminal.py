"""The screens on a real terminal: what somebody else wrote is painted, and nothing of it is obeyed."""

import os
import signal
import struct
import sys
import time
from pathlib import Path

import pytest

from aligner.engine.answers import Done, Reading
from aligner.engine.asks import Confirm, Touch
from aligner.errors import Exit
from aligner.job import Job
from aligner.procedure.library import find
from aligner.procedure.reader import parse_procedure, read_procedure
from aligner.screens.sources import Choice, left_positions, remember

if sys.platform == "win32":
    pytest.skip("there are no pseudo-terminals on Windows", allow_module_level=True)

import fcntl
import pty
import select
import termios

PATIENCE_S = 30.0
HOSTILE = r"[/nope] [bold]\u001b]0;RENAMED\u0007\u001b]52;c;UFdO\u0007\u009b2J painted"


class Terminal:
    """The program on a pseudo-terminal of 80x24, and every byte that it wrote."""

    def __init__(self, *arguments: str) -> None:
        self.written = b""
        self.pid, self._master = pty.fork()
        if self.pid == 0:
            os.environ.update(TERM="xterm-256color", LANG="C.UTF-8", PYTHONUTF8="1")
            os.execv(sys.executable, [sys.executable, "-m", "aligner", *arguments])
        fcntl.ioctl(self._master, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))

    def type(self, keys: bytes) -> None:
        os.write(self._master, keys)

    def read_until(self, wanted: bytes, since: int = 0) -> None:
        """Read until those bytes came after `since`."""
        end = time.monotonic() + PATIENCE_S
        while wanted not in self.written[since:]:
            assert time.monotonic() < end, f"{wanted!r} never came; the last was {self.written[-300:]!r}"
            if select.select([self._master], [], [], 0.1)[0]:
                try:
                    self.written += os.read(self._master, 65536)
                except OSError:
                    raise AssertionError(f"the program ended: {self.written[-600:]!r}") from None

    def hang_up(self) -> None:
        os.close(self._master)

    def ended(self) -> int:
        """The exit code, within the time that a person would wait."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                return os.waitstatus_to_exitcode(status)
            time.sleep(0.05)
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        raise AssertionError("it still runs")

    def end(self) -> None:
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        os.close(self._master)


class NobodysTerminal(Terminal):
    """One that is no session's own, so that nobody is told by a signal when it goes."""

    def __init__(self, *arguments: str) -> None:
        self.written = b""
        self._master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        surroundings = {**os.environ, "TERM": "xterm-256color", "LANG": "C.UTF-8", "PYTHONUTF8": "1"}
        command = [sys.executable, "-m", "aligner", *arguments]
        actions = [(os.POSIX_SPAWN_DUP2, slave, stream) for stream in (0, 1, 2)]
        self.pid = os.posix_spawn(sys.executable, command, surroundings, file_actions=actions, setsid=True)
        os.close(slave)


def test_hostile_titles_names_and_asks_are_painted_and_not_obeyed(tmp_path: Path) -> None:
    text = find("fm-varactor").read_text(encoding="utf-8")
    text = text.replace('title = "FM front end', f'title = "{HOSTILE} FM front end')
    text = text.replace('"Every adjuster', f'"{HOSTILE} Every adjuster')
    job = Job.create(parse_procedure(text, "hostile.toml"), "set \x1b]0;RENAMED\x07[/x]", tmp_path)
    remember(job.path, Choice())
    job.close()
    terminal = Terminal("--jobs", str(tmp_path))
    try:
        terminal.read_until(b"set [/x]")
        terminal.type(b"\r")
        terminal.read_until(b"CAUTION")
        seen = len(terminal.written)
        terminal.type(b"\r")
        terminal.read_until(b"Every adjuster", seen)
        assert terminal.written.count(b"[/nope]") >= 2
        for obeyed in (b"RENAMED", b"\x1b]52", b"\xc2\x9b", b"UFdO"):
            assert obeyed not in terminal.written
    finally:
        terminal.end()


@pytest.mark.parametrize("kind", [Terminal, NobodysTerminal])
def test_a_terminal_that_hangs_up_ends_the_program_and_what_was_turned_is_noted(
    tmp_path: Path, kind: type[Terminal]
) -> None:
    job = Job.create(read_procedure(find("fm-varactor")), "virtual", tmp_path)
    while not isinstance(job.survey.ask, Touch):
        read = Reading(381_260.0) if len(job.history.entries) % 2 else Reading(447_650.0)
        job.answer(Done() if isinstance(job.survey.ask, Confirm) else read)
    remember(job.path, Choice("virtual"))
    job.close()
    terminal = kind("--jobs", str(tmp_path))
    terminal.read_until(b"virtual")
    terminal.type(b"\r")
    terminal.read_until(b"CAUTION")
    for page in (b"Enter: go on", b"NOW"):
        terminal.type(b"\r")
        terminal.read_until(page)
    before = left_positions(job.path)
    terminal.type(b"\x1b[C" * 5 + b"n")
    terminal.read_until(b"note: ")
    terminal.hang_up()
    assert terminal.ended() == Exit.INPUT_ENDED
    assert left_positions(job.path) != before
    Job.open(job.path).close()  # nobody holds it
