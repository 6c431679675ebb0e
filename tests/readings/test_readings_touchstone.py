import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.errors import AnswerError
from aligner.readings.touchstone import parse_touchstone

ROWS = "1 0.1 0 0.9 0 0.02 0 0.3 0\n2 0.1 0 0.8 0 0.02 0 0.3 0\n3 0.1 0 0.7 0 0.02 0 0.3 0\n"
V1 = "! invented\n# MHz S MA R 50\n" + ROWS
V2 = (
    "[Version] 2.0\n# kHz S DB R 75\n[Number of Ports] 2\n[Two-Port Data Order] 12_21\n[Number of Frequencies] 3\n"
    "[Reference] 75\n75\n[Begin Information]\nanything [at] all\n[End Information]\n[Network Data]\n"
    "454 -1 0 -12 0 -21 0 -2 0\n455 -1 0 -13 0 -22 0 -2 0 ! peak\n456 -1 0 -14 0 -23 0 -2 0\n"
    "[Noise Data]\n1 2 3 4 5\n[End]\nnothing after the end is read\n"
)


def message(text: str, name: str = "a.s2p", parameter: tuple[int, int] | None = None) -> str:
    with pytest.raises(AnswerError) as caught:
        parse_touchstone(text, name, parameter)
    return str(caught.value)


def test_a_version_2_file_is_read_with_its_own_order_of_parameters() -> None:
    assert parse_touchstone(V2, "a.ts").points == ((454e3, -21.0), (455e3, -22.0), (456e3, -23.0))
    assert parse_touchstone(V2, "a.ts", (1, 2)).points[0] == (454e3, -12.0)
    swapped = V2.replace("12_21", "21_12")
    assert parse_touchstone(swapped, "a.ts").points[0] == (454e3, -12.0)


@pytest.mark.parametrize(("matrix", "row"), [("Lower", "-11 0 -21 0 -22 0"), ("Upper", "-11 0 -21 0 -22 0")])
def test_a_triangle_stands_for_a_symmetric_matrix(matrix: str, row: str) -> None:
    data = "".join(f"{mhz} {row}\n" for mhz in (1, 2, 3))
    head = f"[Version] 2.0\n# MHz S DB R 50\n[Number of Ports] 2\n[Matrix Format] {matrix}\n[Network Data]\n"
    for parameter, level in {(1, 1): -11.0, (2, 1): -21.0, (1, 2): -21.0, (2, 2): -22.0}.items():
        assert parse_touchstone(head + data, "a.ts", parameter).points[0] == (1e6, level)


@pytest.mark.parametrize("matrix", ["Lower", "Upper"])
def test_of_three_ports_each_triangle_has_its_own_order(matrix: str) -> None:
    pairs = [(r, c) for r in range(3) for c in range(3) if (c <= r if matrix == "Lower" else c >= r)]
    row = " ".join(f"-{r + 1}{c + 1} 0" for r, c in pairs)
    head = f"[Version] 2.0\n# MHz S DB R 50\n[Number of Ports] 3\n[Matrix Format] {matrix}\n[Network Data]\n"
    text = head + "".join(f"{mhz} {row}\n" for mhz in (1, 2, 3))
    for r, c in pairs:
        level = -float(f"{r + 1}{c + 1}")
        assert parse_touchstone(text, "a.ts", (r + 1, c + 1)).points[0][1] == level
        assert parse_touchstone(text, "a.ts", (c + 1, r + 1)).points[0][1] == level


def test_noise_data_behind_a_two_port_end_the_sweep() -> None:
    assert len(parse_touchstone(V1 + "1 0.7 0.6 10 0.2\n2 0.8 0.6 20 0.2\n", "a.s2p").points) == 3


def test_rows_that_say_nothing_of_a_circuit_are_left_out_and_counted() -> None:
    sweep = parse_touchstone("# MHz S RI R 50\n0 1 0\n1 0 0\n2 1 0\n3 1 0\n4 0 1\n", "a.s1p")
    assert sweep.points == ((2e6, 0.0), (3e6, 0.0), (4e6, 0.0))
    assert (sweep.left_out, sweep.taken, sweep.unit) == (2, "S11", "dB")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (ROWS, "a.s2p: has no option line such as # MHz S DB R 50, so its unit is not known"),
        (V1.replace(" S ", " Z "), "a.s2p:2: has Z parameters; a level is in S parameters only: export those"),
        (V1.replace("0.8", "o.8"), "a.s2p:4: 'o.8' is no number"),
        (V1.replace("0.8", "nan"), "a.s2p:4: 'nan' is no number"),
        (V1 + "4 0.1 0\n", "a.s2p:6: the row has 3 numbers; 2 ports make 9"),
        (V1.replace("R 50", "Q 50"), "a.s2p:2: 'Q' has no place on an option line"),
        ("# MHz S MA R 50\n" + ROWS.splitlines()[0], "a.s2p: has 1 points; a sweep has 3 to 10000"),
        (V2.replace("Frequencies] 3", "Frequencies] 4"), "a.s2p: says 4 frequencies and has 3"),
        (V2.replace("2.0", "9"), "a.s2p:1: version '9' is not known; 1 and 2 are"),
        ("[Version] 2.0\n[Mixed-Mode Order] D1,2\n", "a.s2p:2: [mixed-mode order] D1,2 is not understood"),
    ],
)
def test_a_fault_names_file_and_line(text: str, says: str) -> None:
    assert message(text) == says


def test_ports_must_be_known_and_have_the_parameter() -> None:
    assert message(V1, "a.txt") == "a.txt: must say 1 to 32 ports, by its ending (.s2p) or [Number of Ports]"
    assert message(V1, parameter=(3, 1)) == "a.s2p: has 2 ports and no S31"
    assert message(V1, "a.s99p") == "a.s99p: must say 1 to 32 ports, by its ending (.s2p) or [Number of Ports]"


@given(st.text(alphabet=st.sampled_from("#[]!0123456789.eE+- \nSMHzVersionumbf"), max_size=200))
def test_no_text_does_more_than_be_refused(text: str) -> None:
    refused = ""
    try:
        parse_touchstone(text, "a.s2p")
    except AnswerError as error:
        refused = str(error)
    assert not refused or refused.startswith("a.s2p")
