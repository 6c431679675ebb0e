"""A conversation with the pipe held in this process, cut into its turns."""

import io
import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from aligner.errors import Exit
from aligner.job import Engine
from aligner.pipe import run
from aligner.procedure.model import Way
from tests import plain_engine

Line = dict[str, Any]


@dataclass(frozen=True)
class Talk:
    """What came out: the first line, and for the start and for each line that went in its lines. code: how it ended."""

    job: Line
    turns: list[list[Line]]
    code: Exit

    @property
    def last(self) -> Line:
        """The last line of all."""
        return self.turns[-1][-1]


def talk(
    argument: str | Path,
    folder: Path,
    *said: object,
    by: Way | None = None,
    name: str | None = None,
    engine: Engine | None = plain_engine,
) -> Talk:
    """Say each of these (bytes as they are, all else as JSON), then end the input; every rule of turns is checked."""
    out = io.BytesIO()
    code = run(str(argument), folder, io.BytesIO(_spoken(said)), out, by=by, name=name, engine=engine)
    return cut(out.getvalue(), code, len(said))


def _spoken(said: Iterable[object]) -> bytes:
    return b"".join(line if isinstance(line, bytes) else json.dumps(line).encode() + b"\n" for line in said)


def cut(out: bytes, code: Exit, spoken: int) -> Talk:
    """The output cut into turns; AssertionError where it breaks a rule of turn-taking."""
    assert out.endswith(b"\n")
    assert b"\r" not in out
    job, *rest = [json.loads(line, parse_constant=_no_constant) for line in out.decode("utf-8").splitlines()]
    assert job["tell"] == "job"
    assert job["pipe"] == 1
    turns: list[list[Line]] = [[]]
    for line in rest:
        turns[-1].append(line)
        if _ends_turn(line):
            turns.append([])
    assert turns.pop() == []
    for turn in turns:
        _check(turn)
    done = turns[-1][-1].get("tell") == "done"
    assert code == (Exit.DONE if done else Exit.INPUT_ENDED)
    assert len(turns) <= spoken + 1 if done else len(turns) == spoken + 1
    return Talk(job, turns, code)


def _no_constant(name: str) -> None:
    raise AssertionError(f"{name} is no JSON")


def _ends_turn(line: Line) -> bool:
    assert ("ask" in line) != ("tell" in line)
    return "ask" in line or line["tell"] == "done"


def _check(turn: list[Line]) -> None:
    tells = [line["tell"] for line in turn[:-1]]
    assert set(tells) <= {"problem", "doubt", "step"}
    assert all(tell == "step" for tell in tells[1:])
    steps = [line["step"] for line in turn[:-1] if line["tell"] == "step"]
    assert len(set(steps)) == len(steps)
    if "problem" in tells:
        assert len(turn) == 2
