"""Every shipped procedure is without fault, and ends rightly on virtual sets; the whole jobs also by the pipe."""

import json
import subprocess
import sys
from pathlib import Path
from typing import IO, Any

import pytest

from aligner.procedure.library import shipped
from aligner.procedure.model import Procedure
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.draw import draw
from aligner.rehearsal.population import read_population
from aligner.rehearsal.runner import Plan, rehearse_one
from aligner.rehearsal.set import VirtualSet
from aligner.rehearsal.set_file import demo_set
from aligner.shipped import folder

SEED = 2
SETS = 2
MOST_ASKS = 300
ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("path", shipped(), ids=lambda path: path.stem)
def test_a_shipped_procedure_ends_rightly_on_virtual_sets(path: Path) -> None:
    plan = Plan(path, folder("demo_data") / "population.toml", SETS, SEED)
    for index in range(SETS):
        end = rehearse_one(plan, index)
        assert not end.failure, end.failure
        assert end.finished
        assert {name: step for name, step in end.steps.items() if not step.right} == {}
        assert sum(end.touches.values()) == end.engine_touches


@pytest.mark.parametrize("path", shipped(), ids=lambda path: path.stem)
def test_a_shipped_procedure_names_hazards_and_where_everything_is(path: Path) -> None:
    procedure = read_procedure(path)
    assert procedure.hazards
    assert "nvented" in path.read_text(encoding="utf-8")
    assert [adjuster.id for adjuster in procedure.adjusters if not adjuster.where] == []
    assert procedure.steps[0].kind == "prepare"


class Partner:
    """A virtual set at the other end of a pipe process."""

    def __init__(self, procedure: Procedure, virtual: VirtualSet, jobs: Path) -> None:
        source = folder("procedures") / f"{procedure.name}.toml"
        command = [sys.executable, "-m", "aligner", "pipe", str(source), "--jobs", str(jobs)]
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=ROOT)
        self._virtual = virtual
        self.states: dict[str, dict[str, Any]] = {}
        self.problems: list[str] = []

    def work(self) -> dict[str, Any]:
        """Answer ask after ask; the last line of all."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        for _ in range(MOST_ASKS):
            line = self._heard(self._process.stdout)
            if line.get("tell") == "done":
                self._process.stdin.close()
                self._process.stdout.close()
                assert self._process.wait(30) == 0
                return line
            said = {**self._virtual.answer(line), "at_s": self._virtual.bench.at_s}
            self._process.stdin.write(json.dumps(said).encode() + b"\n")
            self._process.stdin.flush()
        raise AssertionError("it never came to an end")

    def _heard(self, out: IO[bytes]) -> dict[str, Any]:
        """The next ask, or that it is done; notices are kept."""
        while True:
            line: dict[str, Any] = json.loads(out.readline())
            if line.get("tell") == "step":
                self.states[line["step"]] = line
            elif line.get("tell") == "problem":
                self.problems.append(line["why"])
            elif "ask" in line or line.get("tell") == "done":
                return line


def test_the_whole_fm_job_runs_by_pipe_and_finds_the_strip_that_is_30_khz_off(tmp_path: Path) -> None:
    procedure = read_procedure(folder("procedures") / "fm-varactor-full.toml")
    virtual = demo_set(procedure)
    partner = Partner(procedure, virtual, tmp_path)
    done = partner.work()
    assert partner.problems == []
    assert set(done["steps"].values()) == {"held"}
    virtual.bench.settle_strip()
    truly = virtual.bench.electrical.parts.intermediate - procedure.intermediate_hz
    # Filters alone stand 30 kHz off; how the cans were left moves the whole by a few kilohertz.
    assert truly == pytest.approx(30e3, abs=5e3)
    assert partner.states["sweep"]["error"] == pytest.approx(truly, abs=4e3)
    for step in ("coverage", "interstage", "antenna", "image", "final"):
        assert "IF reckoned with: 10.7" in partner.states[step]["why"]


def test_the_set_with_three_bands_runs_by_pipe_and_is_switched_in_mid_job(tmp_path: Path) -> None:
    procedure = read_procedure(folder("procedures") / "lw-mw-sw.toml")
    population = read_population(folder("demo_data") / "population.toml")
    partner = Partner(procedure, VirtualSet(procedure, draw(procedure, population, SEED, 0), population, 0), tmp_path)
    done = partner.work()
    assert partner.problems == []
    assert set(done["steps"].values()) <= {"held", "at-limit"}
    for band in ("mw", "lw", "sw"):
        assert done["steps"][f"coverage-{band}"] == "held"


@pytest.mark.parametrize("name", ["mw-fixed-rod", "fm-presets"])
def test_a_rod_that_leads_and_presets_that_set_the_scale_are_worked_by_pipe(name: str, tmp_path: Path) -> None:
    procedure = read_procedure(folder("procedures") / f"{name}.toml")
    population = read_population(folder("demo_data") / "population.toml")
    partner = Partner(procedure, VirtualSet(procedure, draw(procedure, population, SEED, 0), population, 0), tmp_path)
    done = partner.work()
    assert partner.problems == []
    assert set(done["steps"].values()) == {"held"}
    led = partner.states["coverage"].get("why", "")
    assert ("the dial gives way" in led) == (name == "mw-fixed-rod")
