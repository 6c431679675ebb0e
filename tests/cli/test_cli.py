"""The command line: commands, exit codes, and what is said where nothing can be shown."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NoReturn

import pytest

from aligner import __version__, cli
from aligner.errors import (
    AlignerError,
    AnswerError,
    Exit,
    InputEnded,
    InstrumentError,
    JournalError,
    ProcedureError,
    QuantityError,
    UsageError,
)
from aligner.job import Job
from aligner.procedure.library import find
from aligner.procedure.reader import read_procedure

ROOT = Path(__file__).resolve().parents[2]


def _raising(error: BaseException) -> Callable[[object], NoReturn]:
    def command(_: object) -> NoReturn:
        raise error

    return command


def _run_raising(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> int:
    monkeypatch.setattr(cli, "_version", _raising(error))
    return cli.main(["version"])


def _aligner(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "aligner", *arguments]
    return subprocess.run(command, capture_output=True, text=True, cwd=ROOT, stdin=subprocess.DEVNULL, check=False)


def test_the_version_is_shown(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["version"]) == Exit.DONE
    assert capsys.readouterr().out == f"aligner {__version__}\n"


@pytest.mark.parametrize("arguments", [[], ["demo"]])
def test_without_a_terminal_the_screens_say_so_and_name_the_pipe(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(arguments) == Exit.USAGE
    seen = capsys.readouterr()
    assert "need a terminal" in seen.err
    assert "aligner pipe" in seen.err
    assert seen.out == ""


def test_a_terminal_that_can_only_write_lines_is_none_for_the_screens(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TERM", "dumb")
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    assert cli.main([]) == Exit.USAGE
    assert "need a terminal" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (UsageError("no such job"), Exit.USAGE),
        (ProcedureError(()), Exit.USAGE),
        (InputEnded("input ended"), Exit.INPUT_ENDED),
        (InstrumentError("no port"), Exit.INSTRUMENT),
        (JournalError("no space"), Exit.JOURNAL),
        (KeyboardInterrupt(), Exit.INPUT_ENDED),
    ],
)
def test_each_kind_of_error_has_its_exit_code_and_no_crash_file(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], error: BaseException, code: Exit
) -> None:
    assert _run_raising(monkeypatch, error) == code
    seen = capsys.readouterr().err
    assert str(error) in seen
    assert "crash-" not in seen


def test_a_message_that_quotes_a_hostile_file_obeys_nobody(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _run_raising(monkeypatch, UsageError("line 1\x1b]0;title\x07\nline 2\x9b31m")) == Exit.USAGE
    assert capsys.readouterr().err == "line 1\nline 2\n"


@pytest.mark.parametrize(
    "error", [ValueError("secret"), AnswerError("secret"), QuantityError("secret"), AlignerError("secret")]
)
def test_whatever_should_not_have_come_so_far_is_our_fault_and_leaves_a_crash_file(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], error: Exception
) -> None:
    assert _run_raising(monkeypatch, error) == Exit.OUR_BUG
    seen = capsys.readouterr().err
    path = Path(seen.partition("find it is in ")[2].partition(".txt")[0] + ".txt")
    text = path.read_text(encoding="utf-8")
    assert f"aligner {__version__}" in text
    assert type(error).__qualname__ in text
    assert "in command" in text
    assert "secret" not in text


def test_a_reader_that_goes_away_is_met_with_silence(tmp_path: Path) -> None:
    program = (
        "import os, sys\nfrom aligner import cli, errors\n"
        "def much(_):\n    print('x' * 200000)\n    return errors.Exit.DONE\n"
        "cli._version = much\nsys.exit(cli.main(['version']))"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", program], stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT, text=True
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    said = process.stderr.read()
    process.stderr.close()
    assert process.wait() == Exit.INPUT_ENDED
    assert said == ""


@pytest.mark.parametrize("arguments", [["jobs", "--jobs"], ["--jobs"]])
def test_the_folder_of_jobs_may_be_named_before_or_after_the_command(
    arguments: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command = [*arguments, str(tmp_path), *(["jobs"] if arguments == ["--jobs"] else [])]
    assert cli.main(command) == Exit.DONE
    assert str(tmp_path) in capsys.readouterr().out


@pytest.mark.parametrize(
    "arguments",
    [
        ["nonsense"],
        ["rehearse", "x", "--sets", "0"],
        ["rehearse", "x", "--spreads", "nan"],
        ["rehearse", "x", "--spreads", "50"],
        ["check"],
        ["jobs", "--nonsense"],
    ],
)
def test_a_wrong_command_line_is_refused_with_the_usage(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        cli.main(arguments)
    assert ended.value.code == Exit.USAGE
    assert "usage: aligner" in capsys.readouterr().err


def test_a_procedure_without_fault_passes_its_check_and_a_missing_one_is_named(tmp_path: Path) -> None:
    assert _aligner("check", "fm-varactor").returncode == Exit.DONE
    missing = _aligner("check", str(tmp_path / "none.toml"))
    assert missing.returncode == Exit.USAGE
    assert "none.toml" in missing.stderr + missing.stdout


@pytest.mark.parametrize("command", ["version", "jobs", "check --help"])
def test_a_command_that_computes_nothing_does_not_wait_for_the_numerical_libraries(command: str) -> None:
    program = (
        "import sys\nfrom aligner import cli\n"
        f"try:\n    cli.main({command.split()!r})\nexcept SystemExit:\n    pass\n"
        "print(sorted({'numpy', 'scipy', 'textual', 'serial'} & set(sys.modules)))"
    )
    ran = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, cwd=ROOT, check=True)
    assert ran.stdout.splitlines()[-1] == "[]"


@pytest.mark.parametrize("command", ["", "demo", "jobs", "pipe", "check", "listen", "rehearse", "version"])
@pytest.mark.parametrize("columns", [80, 120])
def test_no_line_of_the_help_is_wider_than_the_window(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], command: str, columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    with pytest.raises(SystemExit):
        cli.main([*([command] if command else []), "--help"])
    shown = capsys.readouterr().out
    assert max(len(line) for line in shown.splitlines()) < columns
    assert "usage: aligner" in shown


def test_after_the_screens_it_is_said_how_to_go_on_with_what_is_unfinished(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("aligner.cli._demand_terminal", lambda: None)
    monkeypatch.setattr("aligner.screens.app.run", lambda _folder, **_: Exit.DONE)
    assert cli.main(["--jobs", str(tmp_path)]) == Exit.DONE
    assert capsys.readouterr().err == ""
    Job.create(read_procedure(find("fm-varactor")), "a set", tmp_path).close()
    assert cli.main(["--jobs", str(tmp_path)]) == Exit.DONE
    assert capsys.readouterr().err == "1 unfinished job is kept. To go on: aligner, then Enter.\n"


@pytest.mark.parametrize(("closed", "told"), [("stdin", True), ("stdout", False)])
def test_a_pipe_whose_input_or_output_was_closed_keeps_the_job_and_is_no_fault_of_ours(
    closed: str, tmp_path: Path, *, told: bool
) -> None:
    begin = f"import sys; sys.{closed} = None; from aligner.cli import main; sys.exit(main(sys.argv[1:]))"
    command = [sys.executable, "-c", begin, "--jobs", str(tmp_path), "pipe", "fm-varactor"]
    done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (Exit.INPUT_ENDED, "")
    assert ('"ask":"confirm"' in done.stdout) == told
    assert [path.name for path in tmp_path.glob("*.job")] == ["fm-varactor-1.job"]
