"""The procedures that come with the program, and how they and a person's own are found."""

import io
import tomllib
from pathlib import Path

import pytest

from aligner.errors import Exit, UsageError
from aligner.procedure.check_command import check
from aligner.procedure.library import find, procedures_in, shipped
from aligner.procedure.model import ReadBackStep, TrackingStep
from aligner.procedure.reader import parse_procedure, read_procedure


@pytest.mark.parametrize("path", shipped(), ids=lambda path: path.stem)
def test_every_shipped_procedure_is_sound_and_says_that_it_is_invented(path: Path) -> None:
    procedure = read_procedure(path)
    assert procedure.name == path.stem
    assert "invented" in procedure.text.lower().split("format = 1")[0]
    assert procedure.hazards
    assert all(adjuster.where for adjuster in procedure.adjusters)


def test_the_fm_set_has_the_ids_that_scripts_use() -> None:
    procedure = read_procedure(find("fm-varactor"))
    assert [(step.id, step.kind) for step in procedure.steps] == [
        ("connect", "prepare"),
        ("coverage", "coverage"),
        ("interstage", "tracking"),
        ("antenna", "tracking"),
        ("final", "read-back"),
    ]
    assert {circuit.id: circuit.adjusters for circuit in procedure.circuits} == {
        name: (f"{name}-coil", f"{name}-trimmer") for name in ("oscillator", "interstage", "antenna")
    }
    assert {adjuster.id for adjuster in procedure.adjusters if adjuster.counted} == {"interstage-coil", "antenna-coil"}
    assert procedure.adjuster("oscillator-coil").kind == "air-coil"
    assert all(len(step.points_hz) == 3 for step in procedure.steps if isinstance(step, TrackingStep))
    assert (procedure.oscillator, procedure.intermediate_hz) == ("above", 10.7e6)


def test_the_fm_counter_stands_behind_a_prescaler_between_known_ends() -> None:
    """383.594 and 463.672 kHz at the ends of the band: common practice, no source; (f + IF) / prescaler by hand."""
    procedure = read_procedure(find("fm-varactor"))
    counter, band = procedure.counter, procedure.bands[0]
    assert counter.shows == "divided"
    assert (band.low_hz + procedure.intermediate_hz) / counter.prescaler == pytest.approx(383.594e3, abs=0.5)
    assert (band.high_hz + procedure.intermediate_hz) / counter.prescaler == pytest.approx(463.672e3, abs=0.5)


def test_the_medium_wave_set_has_the_ids_that_scripts_use() -> None:
    procedure = read_procedure(find("mw-gang-padder"))
    assert [(step.id, step.kind) for step in procedure.steps] == [
        ("connect", "prepare"),
        ("coverage", "coverage"),
        ("antenna", "tracking"),
        ("final", "read-back"),
    ]
    assert procedure.circuit("oscillator").adjusters == (
        "oscillator-coil",
        "oscillator-trimmer",
        "oscillator-padder",
    )
    assert procedure.circuit("antenna").adjusters == ("antenna-coil", "antenna-trimmer")
    assert procedure.circuit("oscillator").trimmer_across == "tuning"
    assert [point.received_hz for point in procedure.steps[1].points] == [600e3, 1000e3, 1400e3]  # type: ignore[union-attr]


@pytest.mark.parametrize("name", ["fm-varactor", "mw-gang-padder"])
def test_the_last_limits_are_wider_than_what_was_aligned_to(name: str) -> None:
    procedure = read_procedure(find(name))
    final = procedure.steps[-1]
    assert isinstance(final, ReadBackStep)
    tolerance = procedure.steps[1].tolerance_hz  # type: ignore[union-attr]
    assert tolerance is not None
    assert all(limit.within > tolerance for limit in final.limits)


def test_no_component_value_is_needed() -> None:
    for name in ("fm-varactor", "mw-gang-padder"):
        text = find(name).read_text(encoding="utf-8")
        document = tomllib.loads(text)
        assert not {"curve", "law"} & set(document["tuning"])
        assert not any({"travel", "turn"} & set(row) for each in document["circuit"] for row in each["adjuster"])


def test_the_commented_keys_of_the_template_are_keys_of_the_form() -> None:
    """Each commented line is made real, alone or with its heading; the reader may not know it for an unknown key."""
    text = find("template").read_text(encoding="utf-8")
    for old, new in (
        ('# law = "straight-capacitance"', 'law = "straight-capacitance"'),
        ('# range = ["12 pF", "365 pF"]', 'range = ["12 pF", "365 pF"]'),
        ("# curve =", "curve ="),
        ('# bands = ["mw"]', 'bands = ["mw"]'),
        ("# q = 80", "q = 80"),
        ('# section = "cut"', 'section = "cut"'),
        ('# padder = "470 pF"', 'padder = "470 pF"'),
        ("# counted = true", "counted = true"),
        ("# travel =", "travel ="),
        ("# rotation =", "rotation ="),
        ('# turn = "2 uH"', 'turn = "2 uH"'),
        ('# leader = "signal"', 'leader = "signal"'),
        (
            '# [[circuit.adjuster]]\n# id = "oscillator-padder"\n# does = "series"\n# kind =',
            '[[circuit.adjuster]]\nid = "oscillator-padder"\ndoes = "series"\nkind =',
        ),
    ):
        assert text.count(old) == 1, old
        parse_procedure(text.replace(old, new), "template.toml")


def test_the_commented_circuits_and_steps_of_the_template_are_without_fault_together() -> None:
    """Every paragraph of comment that begins with a step or a circuit is made real, and the whole is read."""
    paragraphs = find("template").read_text(encoding="utf-8").split("\n\n")
    made = [_uncommented(row) if row.startswith(("# [[step]]", "# [[circuit]]")) else row for row in paragraphs]
    procedure = parse_procedure("\n\n".join(made), "template.toml")
    kinds = {step.kind for step in procedure.steps}
    assert {"warm-up", "if-peak", "if-sweep", "detector", "trap", "image", "seal"} <= kinds
    assert {circuit.role for circuit in procedure.circuits} == {"oscillator", "signal", "if", "detector", "trap"}


def _uncommented(paragraph: str) -> str:
    return "\n".join(line.removeprefix("# ") for line in paragraph.splitlines())


def test_a_persons_own_procedure_comes_before_a_shipped_one(tmp_path: Path) -> None:
    own = tmp_path / "fm-varactor.toml"
    own.write_text(find("template").read_text(encoding="utf-8"), encoding="utf-8")
    assert find("fm-varactor", tmp_path) == own
    assert find("mw-gang-padder", tmp_path) == find("mw-gang-padder")
    assert find(str(own)) == own
    assert procedures_in(tmp_path) == (own,)
    assert procedures_in(tmp_path / "nowhere") == ()


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("fm-varacter", 'There is no procedure of the name "fm-varacter"; did you mean "fm-varactor"?'),
        ("nowhere.toml", 'There is no procedure file "nowhere.toml"; check the path.'),
        ("../fm-varactor", 'There is no procedure file "../fm-varactor"; check the path.'),
        ("", 'There is no procedure of the name ""; known here: fm-gang-ratio, fm-presets, fm-varactor'),
        ("a\x1b[2Jb", 'There is no procedure of the name "ab"; known here: fm-gang-ratio, fm-presets, fm-varactor'),
        ("nul\0.toml", 'There is no procedure file "nul.toml"; check the path.'),
    ],
)
def test_what_is_not_there_gets_a_cure(name: str, message: str) -> None:
    with pytest.raises(UsageError) as caught:
        find(name)
    assert str(caught.value).startswith(message)


def test_check_says_that_a_sound_file_has_no_fault() -> None:
    out = io.StringIO()
    assert check("fm-varactor", out) == Exit.DONE
    assert out.getvalue() == f"{find('fm-varactor')}: no fault\n"


def test_check_names_all_faults_a_line_each(tmp_path: Path) -> None:
    path = tmp_path / "set.toml"
    text = find("fm-varactor").read_text(encoding="utf-8")
    path.write_text(
        text.replace('"10.7 MHz"', '"10.7 mhz"').replace('role = "signal"', 'role = "signel"'), encoding="utf-8"
    )
    out = io.StringIO()
    assert check(str(path), out) == Exit.USAGE
    lines = out.getvalue().splitlines()
    line = text.split("\n").index('intermediate = "10.7 MHz"') + 1
    assert len(lines) == 3
    assert (
        lines[0] == f'{path}:{line}: set.intermediate: "10.7 mhz" with the unknown unit "mhz"; did you mean "10.7 MHz"?'
    )
    assert all('role: "signel"; did you mean "signal"?' in line for line in lines[1:])
