import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.errors import AnswerError
from aligner.readings.sweep_csv import parse_csv
from aligner.readings.sweeps import GREATEST_BYTES, read_sweep

POINTS = ((454e3, -3.5), (455e3, 0.0), (456e3, -3.25))


@pytest.mark.parametrize(
    "text",
    [
        "454000,-3.5\n455000,0\n456000,-3.25\n",
        "Frequency (kHz),Level (dB)\n454,-3.5\n455,0\n456,-3.25\n",
        "Frequenz [kHz];Pegel [dB]\n454,0;-3,5\n455,0;0,0\n456,0;-3,25\n",
        "freq MHz\tdBm\n0.454\t-3.5\n0.455\t0\n0.456\t-3.25\n",
        "freq MHz\tdBm\n0,454\t-3,5\n0,455\t0\n0,456\t-3,25\n",
        "454 kHz;-3,5 dB\n455 kHz;0 dB\n456 kHz;-3,25 dB\n",
        "Invented analyser, made up\nspan 2 kHz\n\n# F/Hz, S21/dB\n456000, -3.25\n454000, -3.5\n455000, 0\n",
        "454000 -3.5\n455000 0\n456000 -3.25\n",
        '"Level (dB)","Frequency (kHz)"\n"-3.5","454"\n"0","455"\n"-3.25","456"\n',
        "4.54e5,-3.5\n! a remark\n4.55E+05,0.0\n4.56e5,-3.25\n",
        "Hz;dB\n454.000;-3,5\n455.000;0\n456.000;-3,25\n".replace("454.000", "454000")
        .replace("455.000", "455 000")
        .replace("456.000", "456000"),
    ],
)
def test_a_table_may_be_written_in_any_of_these_forms(text: str) -> None:
    sweep = parse_csv(text, "a.csv")
    assert sweep.points == POINTS
    assert sweep.unit == "dB"


def test_volts_are_read_as_volts() -> None:
    sweep = parse_csv("f kHz;Voltage mV\n10600;-120,5\n10700;0\n10800;118\n", "a.csv")
    assert sweep.points == ((10.6e6, -0.1205), (10.7e6, 0.0), (10.8e6, 0.118))
    assert (sweep.unit, sweep.taken) == ("V", "f kHz, Voltage mV")


def test_of_several_columns_one_may_be_chosen() -> None:
    text = "Frequency (kHz),S11 dB,S21 dB\n454,-1,-3.5\n455,-1,0\n456,-1,-3.25\n"
    assert parse_csv(text, "a.csv", column="s21 db").points == POINTS
    with pytest.raises(AnswerError) as caught:
        parse_csv(text, "a.csv", column="S12 dB")
    assert str(caught.value) == "a.csv: has no column 'S12 dB'; columns there are: S11 dB, S21 dB"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("454,1\n455,2\n456,3\n", "a.csv: says no unit of frequency; write it into the heading: Frequency (kHz)"),
        ("f kHz,dB\n454,1\n455,x\n456,3\n", "a.csv:3: 'x' is no number with or without unit"),
        ("f kHz,dB\n454,1\n455\n456,3\n", "a.csv:3: has 1 columns; column 2 is wanted"),
        (
            "454,000;1\n455,000;2\n456,000;3\n",
            "a.csv:1: '454,000' may mean 454.000 or 454000: say which the decimal mark is",
        ),
        ("f kHz,dB\n454,1\n455,2\n", "a.csv: has 2 points; a sweep has 3 to 10000"),
        ("f kHz,dB\n454,1\n455,2 V\n456,3\n", "a.csv: has some levels in dB and others in V"),
        ("f kHz,T\n454,1 ms\n455,2\n456,3\n", "a.csv:2: the level is neither in dB nor in V"),
        ("f kHz,dB\n454 V,1\n455,2\n456,3\n", "a.csv:2: the frequency is not in Hz, kHz, MHz or GHz"),
        ("", "a.csv: has no row that begins with a number"),
        ("1," + "1" * 3000, "a.csv:1: the line is longer than 2000 characters"),
        ("f kHz,dB\n" + "454,1\n" * 10_001, "a.csv: has 10001 points; a sweep has 3 to 10000"),
    ],
)
def test_a_fault_names_file_and_line(text: str, says: str) -> None:
    with pytest.raises(AnswerError) as caught:
        parse_csv(text, "a.csv")
    assert str(caught.value) == says


@given(st.text(max_size=120))
def test_no_text_does_more_than_be_refused(text: str) -> None:
    refused = ""
    try:
        parse_csv(text, "a.csv")
    except AnswerError as error:
        refused = str(error)
    assert not refused or refused.startswith("a.csv")
    assert "\x1b" not in refused


@given(
    st.lists(st.tuples(st.integers(10_000, 10**9), st.integers(-12_000, 12_000)), min_size=3, max_size=20),
    st.sampled_from([",", ";", "\t"]),
)
def test_what_is_written_comes_back(rows: list[tuple[int, int]], separator: str) -> None:
    mark = "." if separator == "," else ","
    text = "f (Hz)" + separator + "level (dB)\n"
    text += "".join(f"{hz}{separator}{level / 100:.2f}\n".replace(".", mark) for hz, level in rows)
    assert parse_csv(text, "a.csv").points == tuple(sorted((float(hz), level / 100) for hz, level in rows))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
def test_files_of_spreadsheets_are_read_in_their_encodings(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes("Fréquence (kHz);niveau (dB)\r\n454;-3,5\r\n455;0\r\n456;-3,25\r\n".encode(encoding))
    assert read_sweep(path).points == POINTS


def test_a_touchstone_file_is_known_by_its_ending(tmp_path: Path) -> None:
    path = tmp_path / "IF.S1P"
    path.write_text("# kHz S DB R 50\n454 -3.5 0\n455 0 0\n456 -3.25 0\n")
    assert read_sweep(path).points == POINTS


def test_what_is_no_plain_file_or_too_large_is_refused_without_reading_it(tmp_path: Path) -> None:
    large = tmp_path / "large.csv"
    with large.open("wb") as file:
        file.truncate(GREATEST_BYTES + 1)
    for path, says in (
        (large, "large.csv: is larger than 4 MiB, which no sweep is"),
        (tmp_path, f"{tmp_path.name}: is no file that can be read"),
        (tmp_path / "none.csv", "none.csv: is no file that can be read"),
    ):
        with pytest.raises(AnswerError) as caught:
            read_sweep(path)
        assert str(caught.value) == says


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_named_pipe_does_not_hang_it(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.csv")
    with pytest.raises(AnswerError, match="no file that can be read"):
        read_sweep(tmp_path / "pipe.csv")


def test_a_file_name_cannot_harm_the_screen(tmp_path: Path) -> None:
    with pytest.raises(AnswerError) as caught:
        read_sweep(tmp_path / "a\x1b[2J.csv")
    assert "\x1b" not in str(caught.value)
