"""What the reader makes of sound files, and of files that are none."""

import re
import unicodedata
from collections.abc import Callable
from pathlib import Path

import pytest

from aligner.errors import Exit, ProcedureError
from aligner.procedure.model import CoverageStep, Generator, Limit, Place, ReadBackStep, TrackingStep
from aligner.procedure.reader import SIZE_LIMIT, parse_procedure, read_procedure


def fault_in(text: str) -> str:
    with pytest.raises(ProcedureError) as caught:
        parse_procedure(text, "set.toml")
    assert len(caught.value.faults) == 1
    return str(caught.value.faults[0])


def test_quantities_are_read_in_si_units_without_a_rounding_error(voltage_set: str) -> None:
    procedure = parse_procedure(voltage_set, "folder/my-set.toml")
    assert procedure.name == "my-set"
    assert procedure.text == voltage_set
    assert procedure.intermediate_hz == 10.7e6
    assert (procedure.bands[0].low_hz, procedure.bands[0].high_hz) == (87.5e6, 108e6)
    assert procedure.tuning.span == (2.0, 8.0)
    assert procedure.counter.prescaler == 64


def test_what_is_left_out_has_its_usual_value(voltage_set: str) -> None:
    procedure = parse_procedure(voltage_set, "set.toml")
    assert procedure.counter.gate_s == 1.0
    assert procedure.counter.offset_hz is None
    assert procedure.adjuster("antenna-coil").counted is True
    assert procedure.adjuster("oscillator-coil").counted is False
    coverage, tracking = procedure.step("coverage"), procedure.step("antenna")
    assert isinstance(coverage, CoverageStep)
    assert (coverage.circuit, coverage.band, coverage.leader) == ("oscillator", "fm", "oscillator")
    assert isinstance(tracking, TrackingStep)
    assert (tracking.tolerance_hz, tracking.tolerance_db) == (150e3, None)


def test_without_meter_there_is_none_and_without_generator_the_usual_one(gang_set: str) -> None:
    procedure = parse_procedure(gang_set, "set.toml")
    assert procedure.meter is None
    assert procedure.generator == Generator()


def test_a_tracking_step_without_tolerance_is_held_to_a_loss(gang_set: str) -> None:
    step = parse_procedure(gang_set, "set.toml").step("antenna")
    assert isinstance(step, TrackingStep)
    assert (step.by, step.tolerance_hz, step.tolerance_db) == (("level",), None, 0.3)


def test_a_dial_says_what_is_received_and_a_mark_does_not(gang_set: str) -> None:
    step = parse_procedure(gang_set, "set.toml").step("coverage")
    assert isinstance(step, CoverageStep)
    assert [(point.place, point.received_hz) for point in step.points] == [
        (Place(dial=600e3), 600e3),
        (Place(dial=1000e3), 1000e3),
        (Place(mark="right dot"), 1400e3),
    ]


def test_an_end_of_the_gang_receives_the_end_of_the_band(gang_set: str) -> None:
    text = gang_set.replace('{ dial = "600 kHz" }', '{ end = "low" }')
    step = parse_procedure(text, "set.toml").step("coverage")
    assert isinstance(step, CoverageStep)
    assert step.points[0].place == Place(end="low")
    assert step.points[0].received_hz == 525e3


@pytest.mark.parametrize(
    ("limit", "meant"),
    [
        (
            '{ point = "1000 kHz", quantity = "frequency", within = "3 kHz" }',
            Limit(Place(dial=1e6), "frequency", 3e3, "", 1e6),
        ),
        (
            '{ mark = "dot", received = "1400 kHz", quantity = "frequency", within = "3 kHz" }',
            Limit(Place(mark="dot"), "frequency", 3e3, "", 1.4e6),
        ),
        (
            '{ point = "1000 kHz", quantity = "resonance", circuit = "antenna", within = "8 kHz" }',
            Limit(Place(received=1e6), "resonance", 8e3, "antenna", 1e6),
        ),
        (
            '{ point = "1000 kHz", quantity = "level", within = "3 dB" }',
            Limit(Place(received=1e6), "level", 3.0, "", 1e6),
        ),
        (
            '{ point = "1000 kHz", quantity = "volts", within = "50 mV" }',
            Limit(Place(received=1e6), "volts", 0.05, "", 1e6),
        ),
    ],
)
def test_a_limit_names_its_place_in_full_or_for_short(gang_set: str, limit: str, meant: Limit) -> None:
    text = gang_set.replace('{ point = "1000 kHz", quantity = "frequency", within = "3 kHz" }', limit)
    step = parse_procedure(text, "set.toml").step("final")
    assert isinstance(step, ReadBackStep)
    assert step.limits == (meant,)


def test_a_limit_of_a_set_tuned_by_voltage_says_what_is_received_there(voltage_set: str) -> None:
    step = parse_procedure(voltage_set, "set.toml").step("final")
    assert isinstance(step, ReadBackStep)
    assert step.limits == (Limit(Place(volts=2.0), "frequency", 75e3, "", 87.5e6),)


def test_a_shared_adjuster_stands_in_each_of_its_circuits(gang_set: str) -> None:
    shared = '[[adjuster]]\nid = "both"\ndoes = "parallel"\nkind = "piston-trimmer"\n'
    text = gang_set + shared + 'circuits = ["oscillator", "antenna"]\n'
    procedure = parse_procedure(text, "set.toml")
    assert procedure.adjuster("both").circuits == ("oscillator", "antenna")
    assert procedure.circuit("oscillator").adjusters == ("oscillator-padder", "both")
    assert procedure.circuit("antenna").adjusters == ("antenna-trimmer", "both")


def test_presets_of_the_tuning_voltage_move_all_circuits(voltage_set: str) -> None:
    presets = '[[tuning.adjuster]]\nid = "low"\nsets = "low-end"\n[[tuning.adjuster]]\nid = "high"\nsets = "high-end"\n'
    procedure = parse_procedure(voltage_set + presets, "set.toml")
    assert procedure.tuning.presets == (("low", "low-end"), ("high", "high-end"))
    assert procedure.adjuster("low").does == "tuning-voltage"
    assert procedure.adjuster("low").circuits == ("oscillator", "antenna")


def test_a_step_may_couple_the_generator_otherwise(gang_set: str) -> None:
    text = gang_set + '[step.generator]\ninto = "mixer"\nthrough = "100 nF"\n'
    step = parse_procedure(text, "set.toml").step("final")
    assert isinstance(step, ReadBackStep)
    assert step.generator == Generator("mixer", "100 nF", "none")


@pytest.mark.parametrize("role", ["if", "detector", "trap"])
def test_circuits_of_every_role_are_read(gang_set: str, role: str) -> None:
    more = f'[[circuit]]\nid = "more"\nrole = "{role}"\nbands = ["mw"]\nq = 60\n'
    circuit = parse_procedure(gang_set + more, "set.toml").circuit("more")
    assert (circuit.role, circuit.bands, circuit.q) == (role, ("mw",), 60.0)


def test_two_texts_have_two_digests_and_one_text_has_one(gang_set: str) -> None:
    first = parse_procedure(gang_set, "a.toml").digest
    assert first == parse_procedure(gang_set, "b.toml").digest
    assert first != parse_procedure(gang_set + "#", "a.toml").digest


def test_all_faults_come_at_once_in_the_order_of_the_file(voltage_set: str) -> None:
    text = voltage_set.replace("titel", "title").replace('"10.7 MHz"', '"10.7 mhz"')
    text = text.replace('kind = "ferrite-core"', 'kind = "ferrit"').replace('"150 kHz"', "150")
    text = text.replace('circuit = "antenna"', 'circuit = "anntena"')
    with pytest.raises(ProcedureError) as caught:
        parse_procedure(text, "set.toml")
    assert [(fault.line, fault.key) for fault in caught.value.faults] == [
        (5, "set.intermediate"),
        (33, "circuit[2].adjuster[1].kind"),
        (46, "step[3].circuit"),
        (49, "step[3].tolerance"),
    ]
    assert caught.value.exit_code == Exit.USAGE
    assert str(caught.value).count("\n") == 3


def test_an_empty_file_is_told_all_that_it_needs() -> None:
    with pytest.raises(ProcedureError) as caught:
        parse_procedure("", "set.toml")
    assert [fault.key for fault in caught.value.faults] == [
        "format",
        "title",
        "set",
        "band",
        "tuning",
        "circuit",
        "step",
    ]


def test_a_newer_form_is_refused_and_nothing_else_is_said() -> None:
    assert fault_in("format = 2\nnew = true\n") == (
        "set.toml:1: format: form 2, newer than this version can read; "
        "use a newer version of the program, or write format = 1"
    )


def test_text_that_is_no_toml_is_refused_with_its_line() -> None:
    assert fault_in("format = 1\ntitle = \n").startswith("set.toml:2: it is not sound TOML: Invalid value; mend this")
    assert fault_in('title = "x').startswith("set.toml: it is not sound TOML: ")


@pytest.mark.parametrize(
    "text",
    [
        "x = " + "[" * 5000 + "]" * 5000,
        ".".join(["a"] * 100_000) + " = 1",
        '"a" . ' * 40_000 + "a = 1",
        "format = " + "9" * 5000,
        "format = 0x" + "f" * 5000,
        "format = 1e400",
        "format = nan",
        "title = '\x00'",
        "a" * 250_000,
        '"' * 250_000,
        "= " * 100_000,
        "[" * 250_000,
    ],
)
def test_a_hostile_file_is_refused_soon(text: str) -> None:
    with pytest.raises(ProcedureError):
        parse_procedure(text, "set.toml")


def test_numbers_beyond_all_sense_are_faults(gang_set: str, faults_of: Callable[[str, str, str], list[str]]) -> None:
    for number in ("0x" + "f" * 5000, "inf", "nan", "-1", "0", "true", "1e13"):
        assert len(faults_of(gang_set, 'trimmer-across = "tuning"', f"q = {number}")) == 1


def test_a_file_that_is_too_large_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    path.write_bytes(b"#" * (SIZE_LIMIT + 1))
    with pytest.raises(ProcedureError, match="larger than 256 KiB"):
        read_procedure(path)
    with pytest.raises(ProcedureError, match="larger than 256 KiB"):
        parse_procedure("#" * (SIZE_LIMIT + 1), "large.toml")


def test_a_file_that_is_not_utf_8_is_refused_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "latin.toml"
    path.write_bytes(b'format = 1\ntitle = "Empf\xe4nger"\n')
    with pytest.raises(ProcedureError) as caught:
        read_procedure(path)
    assert caught.value.faults[0].line == 2
    assert caught.value.faults[0].found == "it is not text in UTF-8"


@pytest.mark.parametrize("name", ["nowhere.toml", ".", "nul\0.toml"])
def test_what_is_no_file_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(ProcedureError, match="there is no such file"):
        read_procedure(tmp_path / name)


def test_a_file_with_byte_order_mark_and_other_line_ends_is_read(tmp_path: Path, gang_set: str) -> None:
    path = tmp_path / "set.toml"
    path.write_bytes(b"\xef\xbb\xbf" + gang_set.replace("\n", "\r\n").encode())
    assert read_procedure(path).title == "A set tuned by a gang"


def test_texts_are_cleaned(gang_set: str) -> None:
    text = gang_set.replace("A set tuned", r"\u001b[2J\u001b]0;x\u0007A \u202Eset tuned")
    assert parse_procedure(text, "set.toml").title == "A set tuned by a gang"


def test_faults_are_cleaned_too() -> None:
    hostile = r"\u001b]0;gotcha\u0007\u202E"
    text = f'format = 1\n"x{hostile}" = 1\n[set]\noscillator = "{hostile}"\nintermediate = "{hostile}"\n'
    with pytest.raises(ProcedureError) as caught:
        parse_procedure(text, "a\x1b[2J.toml")
    assert "a.toml:2: x: unknown key" in str(caught.value)
    printed = str(caught.value).replace("\n", "")
    assert not any(unicodedata.category(mark) in ("Cc", "Cf") for mark in printed)


def test_long_texts_are_faults(gang_set: str) -> None:
    message = fault_in(gang_set.replace("A set tuned by a gang", "x" * 121))
    assert message == "set.toml:2: title: text of 121 characters; write at most 120 characters"


def test_a_list_that_is_far_too_long_is_a_fault(gang_set: str) -> None:
    points = ", ".join(f'"{600 + place} kHz"' for place in range(201))
    message = fault_in(gang_set.replace('["600 kHz", "1400 kHz"]', f"[{points}]"))
    assert message == "set.toml:38: step[2].points: a list of 201; write at most 200"


def test_found_values_are_shown_short(gang_set: str) -> None:
    message = fault_in(gang_set.replace('role = "signal"', f'role = "{"x" * 10_000}"'))
    assert len(message) < 200
    assert re.search(r'"x{59}…"', message)
