"""The README's commands are the ones that are checked, and what it says of the command line is so."""

import re
import subprocess
import sys

from aligner.cli import main
from tests.style.sources import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")


def _setting_up() -> list[str]:
    return [line for line in README.splitlines() if line.startswith("python3 -m venv ")]


def test_one_command_ends_in_the_demonstration_and_one_in_the_tests() -> None:
    demo, tests = _setting_up()
    assert demo.endswith(" && .venv/bin/aligner demo")
    assert "-m pytest" in tests
    assert ".[test]" in tests


def test_both_commands_start_from_nothing_but_python() -> None:
    start = "python3 -m venv .venv && .venv/bin/pip install "
    assert [line.startswith(start) for line in _setting_up()] == [True, True]


def test_the_check_of_everything_takes_the_commands_from_the_readme() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "readme_command 'aligner demo'" in script
    assert "readme_command '-m pytest'" in script
    assert "pytest -" not in script.replace("'-m pytest'", "")


def test_every_command_that_the_readme_shows_exists() -> None:
    shown = set(re.findall(r"^(?:\.venv/bin/)?aligner ([a-z]+)", README, re.MULTILINE))
    usage = subprocess.run(
        [sys.executable, "-m", "aligner", "--help"], capture_output=True, text=True, cwd=ROOT, check=True
    ).stdout
    known = set(re.findall(r"^    ([a-z]+) ", usage, re.MULTILINE))
    assert shown <= known
    assert main(["version"]) == 0
