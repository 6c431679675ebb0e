"""What a gang set may say of an oscillator without a padder that is turned: cut plates, or a fixed padder."""

import pytest

from aligner.errors import ProcedureError
from aligner.procedure.library import find
from aligner.procedure.model import Procedure
from aligner.procedure.reader import parse_procedure

GANG = find("mw-cut-plates").read_text(encoding="utf-8")
PADDED = find("mw-gang-padder").read_text(encoding="utf-8")
VOLTAGE = find("fm-varactor").read_text(encoding="utf-8")


def read(text: str) -> Procedure:
    return parse_procedure(text, "set.toml")


def test_a_section_is_cut_plain_or_not_said() -> None:
    assert read(GANG).circuit("oscillator").section == "cut"
    assert read(GANG.replace('section = "cut"', 'section = "plain"')).circuit("oscillator").section == "plain"
    assert read(PADDED).circuit("oscillator").section is None


def test_a_fixed_padder_is_a_value_and_no_adjuster() -> None:
    circuit = read(GANG.replace('section = "cut" ', 'padder = "470 pF"')).circuit("oscillator")
    assert circuit.padder_f == pytest.approx(470e-12)
    assert circuit.adjusters == ("oscillator-core", "oscillator-trimmer")


def test_a_fixed_padder_beside_one_that_is_turned_is_a_fault() -> None:
    text = PADDED.replace('trimmer-across = "tuning"', 'trimmer-across = "tuning"\npadder = "470 pF"', 1)
    with pytest.raises(ProcedureError, match="leave it out: the padder that can be turned is described"):
        read(text)


def test_a_set_tuned_by_voltage_has_no_section() -> None:
    text = VOLTAGE.replace('role = "oscillator"', 'role = "oscillator"\nsection = "cut"', 1)
    with pytest.raises(ProcedureError, match="a section of a gang in a set that has none"):
        read(text)


def test_a_wrong_word_for_a_section_names_the_near_one() -> None:
    with pytest.raises(ProcedureError, match='did you mean "cut"'):
        read(GANG.replace('section = "cut"', 'section = "cutt"'))
