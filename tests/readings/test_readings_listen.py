import io
import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from aligner.errors import Exit, InstrumentError
from aligner.readings.listen import run
from tests.readings.bench import PtyCounter

needs_pty = pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo terminals (Windows)")


def listened(text: str, stable: Path, *, limit: int, raw: bool = False) -> tuple[list[str], str]:
    counter = PtyCounter(text, 50.0, stable)
    out, err = io.StringIO(), io.StringIO()
    try:
        assert run(str(stable), 9600, out, err, limit=limit, raw=raw) is Exit.DONE
    finally:
        counter.unplug()
    return out.getvalue().splitlines(), err.getvalue()


@needs_pty
def test_each_line_is_shown_as_received_and_as_understood_with_the_rate(tmp_path: Path) -> None:
    lines, said = listened("F=383.594 kHz\\r\\n", tmp_path / "port", limit=4)
    assert len(lines) == 4
    assert lines[-1].startswith("F=383.594 kHz ")
    assert " 383 594 Hz " in lines[-1]
    rate = float(lines[-1].split("Hz")[-1].removesuffix("lines a second"))
    assert rate > 0
    assert said.endswith("4 lines, 4 understood, between 383594 and 383594 Hz.\n")


@needs_pty
def test_what_is_not_understood_says_why_and_controls_are_shown_as_escapes(tmp_path: Path) -> None:
    lines, said = listened("\\x1b]0;x\\x07\\xff\\n", tmp_path / "port", limit=2)
    assert lines[-1].startswith("\\x1b]0;x\\x07\\xff ")
    assert "not understood: 2 of 7 characters are no text: noise, or another baud rate" in lines[-1]
    assert "\x1b" not in "".join(lines)
    assert said.endswith("2 lines, 0 understood.\n")


@needs_pty
def test_raw_shows_lines_only_as_received(tmp_path: Path) -> None:
    lines, _ = listened("383594\\t1\\n", tmp_path / "port", limit=3, raw=True)
    assert lines == ["383594\\t1"] * 3


@needs_pty
def test_a_reading_keeps_the_digits_that_the_instrument_showed(tmp_path: Path) -> None:
    lines, _ = listened("98412.0125 kHz\\n", tmp_path / "port", limit=1)
    assert " 98 412 012.5 Hz " in lines[0]


@needs_pty
def test_a_lost_port_is_waited_for(tmp_path: Path) -> None:
    stable = tmp_path / "port"
    counters = [PtyCounter("383594\\n", 50.0, stable)]
    out, err = io.StringIO(), _Trigger("is lost")
    listener = threading.Thread(target=run, args=(str(stable), 9600, out, err), kwargs={"limit": 60})
    listener.start()
    try:
        while len(out.getvalue().splitlines()) < 5:
            listener.join(0.05)
        counters[0].unplug()
        assert err.seen.wait(10)
        counters.append(PtyCounter("455001\\n", 50.0, stable))
        listener.join(15)
        assert not listener.is_alive()
        assert "The port is back." in err.getvalue()
        assert " 455 001 Hz " in out.getvalue().splitlines()[-1]
    finally:
        for counter in counters:
            counter.unplug()


class _Trigger(io.StringIO):
    """A stream that tells when a text was written to it."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self._text = text
        self.seen = threading.Event()

    def write(self, text: str) -> int:
        if self._text in text:
            self.seen.set()
        return super().write(text)


def test_a_port_that_cannot_be_opened_is_an_instrument_error() -> None:
    with pytest.raises(InstrumentError, match="cannot open /dev/none-of-that-name: there is no such port; "):
        run("/dev/none-of-that-name", 9600, io.StringIO(), io.StringIO())


@needs_pty
def test_ctrl_c_ends_it_with_a_summary_and_without_an_error(tmp_path: Path) -> None:
    stable = tmp_path / "port"
    counter = PtyCounter("383594 Hz\\n", 50.0, stable)
    program = (
        "import sys; from aligner.readings.listen import run; sys.exit(run(sys.argv[1], 9600, sys.stdout, sys.stderr))"
    )
    listener = subprocess.Popen(
        [sys.executable, "-c", program, str(stable)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        assert listener.stdout is not None
        assert "383594 Hz" in listener.stdout.readline()
        listener.send_signal(signal.SIGINT)
        _, said = listener.communicate(timeout=15)
    finally:
        listener.kill()
        listener.wait()
        counter.unplug()
    assert listener.returncode == Exit.DONE
    assert "understood, between 383594 and 383594 Hz." in said
    assert "Traceback" not in said
