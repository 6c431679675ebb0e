import json
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from aligner.cli import main
from aligner.errors import Exit, UsageError
from aligner.rehearsal.command import run
from aligner.rehearsal.runner import Plan, SetEnd, StepEnd, deaf_to_interrupts, rehearse_one
from aligner.rehearsal.truth import Judged
from aligner.shipped import folder


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
    assert run("mw-gang-padder", sets=1, seed=4) is Exit.OUR_BUG


def test_of_a_strip_there_is_no_paper_way_and_none_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    run("if-strip", sets=1, seed=1)
    assert "paper way" not in capsys.readouterr().out
    run("if-strip", sets=1, seed=1, as_json=True)
    found = json.loads(capsys.readouterr().out)
    assert found["paper-touches"] is None
    assert found["paper-aligned"] is None
    assert all(row["paper-touches"] is None for row in found["circuits"].values())


@pytest.mark.skipif(sys.platform == "win32", reason="there no disposition of signals is inherited")
def test_processes_of_a_rehearsal_leave_ctrl_c_to_the_one_that_began_them() -> None:
    before = signal.getsignal(signal.SIGINT)
    ask = "import signal; print(signal.getsignal(signal.SIGINT) is signal.SIG_IGN)"
    with deaf_to_interrupts():
        told = subprocess.run([sys.executable, "-c", ask], capture_output=True, check=True, text=True)
    assert told.stdout == "True\n"
    assert signal.getsignal(signal.SIGINT) is before


def test_a_rehearsal_that_is_interrupted_says_in_one_line_that_nothing_is_kept(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def interrupted(*_: object) -> list[SetEnd]:
        raise KeyboardInterrupt

    monkeypatch.setattr("aligner.rehearsal.command.rehearse", interrupted)
    assert main(["rehearse", "mw-gang-padder", "--sets", "4"]) is Exit.INPUT_ENDED
    assert capsys.readouterr() == ("", "Interrupted; nothing is kept of it.\n")
