"""`aligner check --plan`: through the real command line."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from aligner import cli
from aligner.errors import Exit

ROOT = Path(__file__).resolve().parents[2]


def test_the_plan_of_a_shipped_procedure_is_shown_and_is_done(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["check", "fm-varactor", "--plan"]) == Exit.DONE
    seen = capsys.readouterr()
    assert seen.err == ""
    for heading in ("Counter", "Parts", "Tracking of", "Image", "Why each adjuster once", "Cannot be told"):
        assert any(line.startswith(heading) for line in seen.out.splitlines()), heading


def test_the_plan_as_json_is_one_object(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["check", "mw-gang-padder", "--plan", "--json"]) == Exit.DONE
    plan = json.loads(capsys.readouterr().out)
    assert plan["intermediate_hz"] == 455e3
    assert [band["id"] for band in plan["bands"]] == ["mw"]


def test_json_without_plan_is_refused_with_what_was_meant(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["check", "fm-varactor", "--json"]) == Exit.USAGE
    assert "--plan --json" in capsys.readouterr().err


def test_a_plain_check_does_not_wait_for_the_numerical_libraries() -> None:
    program = (
        "import sys\nfrom aligner import cli\n"
        "code = cli.main(['check', 'fm-varactor'])\n"
        "print(code, sorted({'numpy', 'scipy', 'textual', 'serial'} & set(sys.modules)))"
    )
    ran = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, cwd=ROOT, check=True)
    assert ran.stdout.splitlines()[-1] == "0 []"
