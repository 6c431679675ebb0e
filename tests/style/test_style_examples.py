"""The README shows what is so: its procedure is read, its talk with the pipe is held again, its pictures are of now."""

import html
import json
import re
from pathlib import Path

import pytest

from aligner.errors import Exit, ProcedureError
from aligner.procedure.library import find
from aligner.procedure.reader import parse_procedure, read_procedure
from aligner.screens.commands import GUIDE
from tests.pipe.conversation import Line, talk
from tests.style.sources import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
PICTURES = re.findall(r"!\[[^\]]*\]\(([^)]*)\)", README)
OSCILLATOR = """
format = 1
title = "Oscillator of an FM front end"
about = "Invented."
[set]
intermediate = "10.7 MHz"
oscillator = "above"
[[band]]
id = "fm"
range = ["87.5 MHz", "108 MHz"]
[tuning]
by = "voltage"
range = ["2 V", "8 V"]
[counter]
shows = "divided"
prescaler = 256
gate = "100 ms"
[[circuit]]
id = "oscillator"
role = "oscillator"
adjuster = [
  { id = "oscillator-coil", does = "inductance", kind = "air-coil" },
  { id = "oscillator-trimmer", does = "parallel", kind = "rotary-trimmer" },
]
[[step]]
id = "coverage"
kind = "coverage"
points = [{ volts = "2 V", received = "87.5 MHz" }, { volts = "8 V", received = "108 MHz" }]
tolerance = "50 kHz"
"""


def _blocks(fence: str) -> list[str]:
    found = re.findall(r"^```(\w*)\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
    return [text for kind, text in found if kind == fence]


def _gist(line: Line) -> tuple[object, ...]:
    """What of a line does not hang on the last digits of the model."""
    return tuple(line.get(key) for key in ("tell", "ask", "id", "step", "quantity", "adjuster", "point", "state"))


def test_the_procedure_that_the_readme_shows_has_no_fault() -> None:
    (shown,) = _blocks("toml")
    assert [step.kind for step in parse_procedure(shown, "README.md").steps] == [
        "prepare", "coverage", "tracking", "read-back",
    ]  # fmt: skip


def test_the_faults_that_the_readme_shows_are_found_in_its_procedure() -> None:
    (sound,) = _blocks("toml")
    (shown,) = [block for block in _blocks("") if block.startswith("set.toml:")]
    faulty = sound.replace('"455 kHz"', '"455"').replace('circuit = "antenna"', 'circuit = "aerial"')
    with pytest.raises(ProcedureError) as caught:
        parse_procedure(faulty.replace("compression", "compresion", 1), "set.toml")
    assert [str(fault) for fault in caught.value.faults] == shown.splitlines()


def test_the_full_procedure_uses_the_kinds_of_steps_that_the_readme_says() -> None:
    named = re.search(r"Kinds: (.*?);", README, re.DOTALL)
    assert named is not None
    used = {step.kind for step in read_procedure(find("fm-varactor-full")).steps}
    assert used == set(re.findall(r"`([a-z-]+)`", named[1])) - {"trap"}


def test_the_talk_with_the_pipe_goes_as_the_readme_shows(tmp_path: Path) -> None:
    (shown,) = [block for block in _blocks("") if '"tell":"job"' in block]
    lines = shown.splitlines()
    said = [json.loads(line[2:]) for line in lines if line.startswith("> ")]
    told = [json.loads(line) for line in lines if not line.startswith("> ")]
    procedure = tmp_path / "oscillator.toml"
    procedure.write_text(OSCILLATOR, encoding="utf-8")
    held = talk(procedure, tmp_path, *said, engine=None)
    assert [_gist(line) for turn in held.turns for line in turn] == [_gist(line) for line in told[1:]]
    assert told[-1] == held.last
    assert held.code == Exit.DONE


@pytest.mark.parametrize("name", PICTURES)
def test_the_keys_in_each_picture_are_those_of_the_program(name: str) -> None:
    drawn = html.unescape((ROOT / name).read_text(encoding="utf-8")).replace("\u00a0", " ")
    rows = re.findall(r"<text[^>]*>([^<]*)</text>", drawn)
    foot = next(row for row in reversed(rows) if row.startswith("Enter take"))
    keys = {f"{command.shown} {command.short}" for command in GUIDE if command.short}
    assert set(foot.strip().split("  ")) <= keys


def test_the_readme_shows_pictures() -> None:
    assert "demo_data/pictures/guide.svg" in PICTURES
