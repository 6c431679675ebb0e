import contextlib
import json
import random
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from aligner.errors import Exit
from aligner.job import Job
from aligner.journal.listing import summaries
from tests import plain_engine

PROGRAM = Path(__file__).with_name("plain_pipe.py")
LONG_ENOUGH_S = 60.0  # a start takes a fifth of a second; a pipe that hangs must still end the test

Line = dict[str, Any]


class Pipe:
    """The pipe in a process of its own."""

    def __init__(self, argument: str, folder: Path) -> None:
        self.process = subprocess.Popen(
            [sys.executable, str(PROGRAM), argument, str(folder)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.stdin, self.stdout = self.process.stdin, self.process.stdout

    def say(self, plain: object) -> None:
        self.stdin.write(json.dumps(plain).encode() + b"\n")
        self.stdin.flush()

    def turn(self) -> list[Line]:
        """The lines up to the open ask or `done`; none where the pipe has ended."""
        lines: list[Line] = []
        while raw := self.stdout.readline():
            if not raw.endswith(b"\n"):
                return []
            lines.append(json.loads(raw))
            if "ask" in lines[-1] or lines[-1]["tell"] == "done":
                return lines
        return []

    def end(self) -> int:
        with contextlib.suppress(OSError):
            self.stdin.close()
        return self.process.wait(LONG_ENOUGH_S)


@contextlib.contextmanager
def piping(argument: str, folder: Path) -> Iterator[Pipe]:
    pipe = Pipe(argument, folder)
    try:
        yield pipe
    finally:
        if pipe.process.poll() is None:
            pipe.process.kill()
        pipe.process.wait(LONG_ENOUGH_S)
        for stream in (pipe.stdin, pipe.stdout, pipe.process.stderr):
            if stream is not None:
                with contextlib.suppress(OSError):
                    stream.close()


def test_each_line_comes_as_soon_as_it_is_said(tmp_path: Path) -> None:
    with piping("fm-varactor", tmp_path) as pipe:
        assert pipe.turn()[-1]["id"] == 1
        pipe.say({"id": 1, "done": True})
        assert pipe.turn()[-1]["id"] == 2
        assert pipe.end() == Exit.INPUT_ENDED


def answer_to(ask: Line, drawn: random.Random) -> Line:
    """What keeps the job going without an end: readings, each taken back again, and notes."""
    if drawn.random() < 0.3:
        return {"note": "n" * 300}
    known: dict[str, Line] = {"confirm": {"done": True}, "read": {"reading": 5.0}, "touch": {"undo": True}}
    return {"id": ask["id"], **known[ask["ask"]]}


def killed_at_random(folder: Path, drawn: random.Random) -> tuple[int, Line, int]:
    """Some turns, then the kill in the midst of those that follow.

    Returns the entries at the start, the newest ask that was shown, and how many answers were shown as taken.
    """
    with piping("fm-varactor-1", folder) as pipe:
        first = pipe.turn()
        ask, shown = first[-1], 0
        timer = threading.Timer(drawn.uniform(0.0, 0.06), pipe.process.kill)
        turns_before = drawn.randrange(1, 5)
        with contextlib.suppress(OSError):  # the pipe may be dead before what we say has gone in
            while True:
                if shown == turns_before:
                    timer.start()
                pipe.say(answer_to(ask, drawn))
                turn = pipe.turn()
                if not turn:
                    break
                assert all(line.get("tell") != "problem" for line in turn)
                ask, shown = turn[-1], shown + 1
        timer.join()
        return first[0]["entries"], ask, shown


def test_kill_at_any_instant_loses_nothing_that_was_shown_and_resumes_at_the_same_ask(tmp_path: Path) -> None:
    drawn = random.Random(20240611)
    with piping("fm-varactor", tmp_path) as pipe:
        pipe.turn()
    shown_in_all = 0
    for _ in range(8):
        begun, ask, shown = killed_at_random(tmp_path, drawn)
        with contextlib.closing(Job.look(tmp_path / "fm-varactor-1.job", engine=plain_engine)) as job:
            kept = len(job.history.entries)
            expected = job.survey.ask
        assert kept - begun in {shown, shown + 1}  # one more where the kill fell between its keeping and its showing
        with piping("fm-varactor-1", tmp_path) as again:
            turn = again.turn()
        assert turn[0]["entries"] == kept
        assert expected is not None
        assert turn[-1]["id"] == expected.id
        if kept - begun == shown:
            assert turn[-1] == ask
        shown_in_all += shown
    assert shown_in_all >= 8


@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are a thing of POSIX")
@pytest.mark.parametrize("name", ["SIGTERM", "SIGINT", "SIGHUP"])
def test_a_signal_ends_the_pipe_in_good_order(tmp_path: Path, name: str) -> None:
    with piping("fm-varactor", tmp_path) as pipe:
        pipe.turn()
        pipe.say({"id": 1, "done": True})
        last = pipe.turn()[-1]
        pipe.process.send_signal(signal.Signals[name])
        assert pipe.process.wait(LONG_ENOUGH_S) == Exit.INPUT_ENDED
        assert pipe.process.stderr is not None
        assert pipe.process.stderr.read() == b""
    assert [path.name for path in tmp_path.iterdir()] == ["fm-varactor-1.job"]
    with piping("fm-varactor-1", tmp_path) as again:
        assert again.turn()[-1] == last


def test_a_second_writer_is_refused_with_the_code_of_the_disk_and_may_come_after(tmp_path: Path) -> None:
    with piping("fm-varactor", tmp_path) as first:
        first.turn()
        with piping("fm-varactor-1", tmp_path) as second:
            assert second.turn() == []
            assert second.end() == Exit.JOURNAL
            assert second.process.stderr is not None
            assert b"another program is working on this job" in second.process.stderr.read()
        first.say({"id": 1, "done": True})
        assert first.turn()[-1]["id"] == 2
        assert [row.entries for row in summaries(tmp_path)] == [1]
    with piping("fm-varactor-1", tmp_path) as third:
        assert third.turn()[-1]["id"] == 2


@pytest.mark.skipif(sys.platform == "win32", reason="a closed pipe is told otherwise there")
def test_a_reader_that_goes_away_is_no_crash(tmp_path: Path) -> None:
    with piping("fm-varactor", tmp_path) as pipe:
        pipe.turn()
        pipe.stdout.close()
        pipe.say({"id": 1, "done": True})
        assert pipe.process.wait(LONG_ENOUGH_S) == Exit.INPUT_ENDED
        assert pipe.process.stderr is not None
        assert pipe.process.stderr.read() == b""


def test_pipes_that_start_at_once_never_share_a_job(tmp_path: Path) -> None:
    with contextlib.ExitStack() as stack:
        pipes = [stack.enter_context(piping("fm-varactor", tmp_path)) for _ in range(4)]
        files = {pipe.turn()[0]["file"] for pipe in pipes}
    assert len(files) == 4
