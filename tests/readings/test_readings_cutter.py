from hypothesis import given
from hypothesis import strategies as st

from aligner.readings.cutter import LINE_LIMIT, LineCutter

LINE = st.binary(min_size=1, max_size=30).filter(lambda line: not {10, 13} & set(line) and line.strip(b" \t\0"))
END = st.sampled_from([b"\r", b"\n", b"\r\n"])


def cut(chunks: list[bytes], *, partial_first: bool = False) -> list[bytes]:
    cutter = LineCutter(partial_first=partial_first)
    return [line for chunk in chunks for line in cutter.feed(chunk)]


def test_cr_lf_and_both_end_a_line() -> None:
    assert cut([b"1\r2\n3\r\n4\n\n\r5"]) == [b"1", b"2", b"3", b"4"]


def test_the_first_line_after_opening_is_left_out_for_it_may_be_half_of_one() -> None:
    assert cut([b"94 Hz\r", b"\n383595 Hz\r\n"], partial_first=True) == [b"383595 Hz"]


@given(st.lists(st.tuples(LINE, END), min_size=1, max_size=8), st.lists(st.integers(1, 7), min_size=1))
def test_however_the_port_cuts_the_bytes_the_lines_are_the_same(
    rows: list[tuple[bytes, bytes]], sizes: list[int]
) -> None:
    whole = b"".join(line + end for line, end in rows)
    chunks: list[bytes] = []
    while whole:
        size = sizes[len(chunks) % len(sizes)]
        chunks.append(whole[:size])
        whole = whole[size:]
    assert cut(chunks) == [line for line, _ in rows]


def test_a_line_without_end_comes_out_once_cut_short_and_what_follows_is_read_again() -> None:
    lines = cut([b"9" * (LINE_LIMIT + 50), b"9" * 20, b"\n", b"383594\n"])
    assert lines == [b"9" * (LINE_LIMIT + 1), b"383594"]


def test_a_flood_without_any_line_end_takes_no_memory() -> None:
    cutter = LineCutter()
    for _ in range(1000):
        cutter.feed(b"\xff" * 4096)
    assert len(cutter._rest) <= LINE_LIMIT


def test_nothing_but_blanks_and_nuls_is_no_line() -> None:
    assert cut([b"\0\0\r\n \t\n5\n"]) == [b"5"]
