"""Whatever becomes of a procedure file, it is read or refused with faults that stand in it."""

from hypothesis import given, settings
from hypothesis import strategies as st

from aligner.errors import ProcedureError
from aligner.procedure.library import find
from aligner.procedure.model import Procedure
from aligner.procedure.reader import parse_procedure

TEXTS = [find(name).read_text(encoding="utf-8") for name in ("fm-varactor", "mw-gang-padder", "template")]
JUNK = (
    "1",
    "-1",
    "0.5",
    "nan",
    "true",
    '""',
    '"x"',
    '"1 V"',
    '"1 MHz"',
    '"0 Hz"',
    "[]",
    "[[]]",
    '["1 V", "2 V", 3]',
    "{}",
    "{ x = 1 }",
    "[{}]",
    '[{ dial = "1 MHz" }]',
    "1979-05-27",
)


@st.composite
def mangled_texts(draw: st.DrawFn) -> str:
    lines = draw(st.sampled_from(TEXTS)).split("\n")
    for _ in range(draw(st.integers(1, 6))):
        place = draw(st.integers(0, len(lines) - 1))
        change = draw(st.sampled_from(["drop", "double", "value", "key", "swap", "characters"]))
        key, equals, _ = lines[place].partition("=")
        if change == "drop":
            lines[place] = ""
        elif change == "double":
            lines.insert(place, lines[place])
        elif change == "value" and equals:
            lines[place] = f"{key}= {draw(st.sampled_from(JUNK))}"
        elif change == "key" and equals:
            lines[place] = f"x{lines[place]}"
        elif change == "swap":
            other = draw(st.integers(0, len(lines) - 1))
            lines[place], lines[other] = lines[other], lines[place]
        else:
            lines[place] = draw(st.text(max_size=8)) + lines[place]
    return "\n".join(lines)


@settings(max_examples=500, deadline=None)
@given(mangled_texts())
def test_a_mangled_file_is_read_or_refused_with_faults_that_stand_in_it(text: str) -> None:
    result = procedure_or_error(text)
    if isinstance(result, Procedure):
        names = {circuit.id for circuit in result.circuits}
        assert all(set(adjuster.circuits) <= names for adjuster in result.adjusters)
        assert result.steps
        return
    assert result.faults
    for fault in result.faults:
        assert 0 <= fault.line <= text.count("\n") + 1
        assert fault.found
        assert fault.cure
        assert str(fault).isprintable()


def procedure_or_error(text: str) -> Procedure | ProcedureError:
    try:
        return parse_procedure(text, "set.toml")
    except ProcedureError as error:
        return error
