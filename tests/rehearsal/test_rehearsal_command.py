import json
import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from aligner.errors import Exit, UsageError
from aligner.rehearsal.command import run
from aligner.rehearsal.runner import Plan, SetEnd, StepEnd, rehearse_one
from aligner.rehearsal.truth import Judged
from aligner.shipped import folder

_UNDER_WAY_S = 3.0  # long after the first process begins, and long before 400 sets are done
_LONG_ENOUGH_S = 60.0  # a set under way is finished first; one that hangs must still end the test


def test_the_outcome_as_json_has_every_figure(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("mw-gang-padder", sets=2, seed=1, as_json=True) is Exit.DONE
    found = json.loads(capsys.readouterr().out)
    assert found["sets"] == 2
    assert found["touches"]["median"] > 0
    assert found["paper-touches"]["median"] > 0
    assert set(found["circuits"]) == {"oscillator", "antenna"}
    assert 0.0 <= found["rightly-ended"] <= 1.0
    assert found["failures"] == []


def test_the_outcome_as_text_names_touches_and_the_paper_way(capsys: pytest.CaptureFixture[str]) -> None:
    run("mw-gang-padder", sets=1, seed=2)
    shown = capsys.readouterr()
    assert "paper way" in shown.out
    assert "rightly ended" in shown.out
    assert shown.err == ""  # no bar where nobody sees it


def test_a_way_that_the_procedure_does_not_list_is_refused() -> None:
    with pytest.raises(UsageError, match="resonance"):
        run("mw-cut-plates", sets=1, seed=1, by="stage-voltage")


def test_the_same_set_ends_the_same_every_time() -> None:
    plan = Plan(folder("procedures") / "mw-gang-padder.toml", folder("demo_data") / "population.toml", 1, 4)
    first, second = rehearse_one(plan, 0), rehearse_one(plan, 0)
    assert (first.touches, first.steps, first.paper) == (second.touches, second.steps, second.paper)


def judged(error: float, best: float) -> Judged:
    return Judged("s", 100.0, error, best)


@pytest.mark.parametrize(
    ("state", "error", "best", "right"),
    [
        ("held", 99.0, 0.0, True),
        ("held", 101.0, 0.0, False),
        ("at-limit", 150.0, 140.0, True),
        ("at-limit", 150.0, 20.0, False),
        ("set-aside", 10.0, 0.0, False),
        ("to-do", 10.0, 0.0, False),
    ],
)
def test_a_step_ends_rightly_held_in_truth_or_at_limit_in_need(
    state: str, error: float, best: float, *, right: bool
) -> None:
    assert StepEnd(state, judged(error, best), None, None).right is right


def test_an_unfinished_set_is_never_right() -> None:
    end = SetEnd(0, finished=False, steps={"s": StepEnd("held", judged(1.0, 0.0), None, None)})
    assert end.aligned
    assert not end.right


def test_a_set_that_breaks_the_engine_does_not_end_the_rehearsal(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("made to fail")

    monkeypatch.setattr("aligner.rehearsal.runner.lead", broken)
    plan = Plan(folder("procedures") / "mw-gang-padder.toml", folder("demo_data") / "population.toml", 1, 4)
    end = rehearse_one(plan, 0)
    assert "made to fail" in end.failure
    assert not end.right


def test_of_a_strip_there_is_no_paper_way_and_none_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    run("if-strip", sets=1, seed=1)
    assert "paper way" not in capsys.readouterr().out
    run("if-strip", sets=1, seed=1, as_json=True)
    found = json.loads(capsys.readouterr().out)
    assert found["paper-touches"] is None
    assert found["paper-aligned"] is None
    assert all(row["paper-touches"] is None for row in found["circuits"].values())


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C comes to processes otherwise there")
def test_ctrl_c_ends_a_rehearsal_on_several_cores_with_one_line() -> None:
    # In a session of its own, and to all of its processes, as a terminal sends it.
    command = [sys.executable, "-m", "aligner", "rehearse", "mw-gang-padder", "--sets", "400"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True) as begun:
        threading.Timer(_UNDER_WAY_S, os.killpg, (begun.pid, signal.SIGINT)).start()
        out, narrated = begun.communicate(timeout=_LONG_ENOUGH_S)
    assert narrated.decode().splitlines() == ["Interrupted; nothing is kept of it."]
    assert out == b""
    assert begun.returncode == Exit.INPUT_ENDED
