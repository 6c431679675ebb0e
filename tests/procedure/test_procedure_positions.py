"""The scanner of places agrees with the parser of the standard library on documents of every form."""

import tomllib
from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aligner.procedure.positions import line_numbers

KEYS = ("a", "b", "c-1", '"d e"', "'f.g'", '"h\\u0041\\""', "7")
NAMES = ("a", "b", "c-1", "d e", "f.g", 'hA"', "7")
TRICKY = (
    '"# [no] {heading} = 1"',
    "'C:\\[x]'",
    '"a \\" ] b"',
    '"""\n[no.heading]\nx = 1 "" \\""" # """',
    "'''\n[[no]]\n'x' # ''\n'''",
    '"""""x"""""',
    "''''x''''",
    '"""a \\\n   b"""',
    '""',
    "''",
    "true",
    "-1.5e3",
    "1979-05-27 07:32:00",
    "1979-05-27T07:32:00.5-07:00",
)
GAPS = ("", " ", "\n", " # note ] } ,\n", "\n\n\t")


@st.composite
def values(draw: st.DrawFn, depth: int = 0) -> str:
    kind = draw(st.sampled_from(["number", "text", "list", "table"] if depth < 3 else ["number", "text"]))
    if kind == "number":
        return str(draw(st.integers(10**8, 10**9)))
    if kind == "text":
        return draw(st.sampled_from(TRICKY))
    if kind == "list":
        gap = draw(st.sampled_from(GAPS))
        members = draw(st.lists(values(depth=depth + 1), max_size=3))
        comma = draw(st.sampled_from(["", ","])) if members else ""
        return "[" + gap + f"{gap},{gap}".join(members) + gap + comma + gap + "]"
    pairs = draw(st.lists(st.tuples(dotted_keys(), values(depth=depth + 1)), max_size=3))
    return "{ " + ", ".join(f"{key} = {value}" for key, value in pairs) + " }"


def dotted_keys() -> st.SearchStrategy[str]:
    return st.lists(st.sampled_from(KEYS), min_size=1, max_size=3).map(" . ".join)


def statements() -> st.SearchStrategy[str]:
    pairs = st.tuples(dotted_keys(), st.sampled_from(["=", " = "]), values()).map("".join)
    headings = dotted_keys().map(lambda key: f"[{key}] # heading")
    lists = dotted_keys().map(lambda key: f"  [[ {key} ]]")
    return st.one_of(pairs, pairs, headings, lists, st.sampled_from(["# x = 1", "\n"]))


def paths(value: object, here: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], object]]:
    if here:
        yield here, value
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from paths(inner, (*here, key))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from paths(inner, (*here, place))


def sound_document(drawn: list[str]) -> tuple[str, dict[tuple[str | int, ...], range]]:
    """The statements that go together, and for each path the lines of the statement that made it."""
    text = ""
    made: dict[tuple[str | int, ...], range] = {}
    for statement in drawn:
        longer = text + statement + "\n"
        try:
            document = tomllib.loads(longer)
        except tomllib.TOMLDecodeError:
            continue
        lines = range(text.count("\n") + 1, longer.count("\n") + 1)
        made |= {path: lines for path, _ in paths(document) if path not in made}
        text = longer
    return text, made


@settings(max_examples=400, deadline=None)
@given(st.lists(statements(), max_size=12))
def test_every_path_of_the_parser_has_a_line_and_no_other_has(drawn: list[str]) -> None:
    text, made = sound_document(drawn)
    found = line_numbers(text)
    assert set(found) == set(made)
    for path, line in found.items():
        assert line in made[path]


@settings(max_examples=400, deadline=None)
@given(st.lists(statements(), max_size=12))
def test_the_line_of_a_path_holds_its_key_or_its_number(drawn: list[str]) -> None:
    text, _ = sound_document(drawn)
    shown = text.split("\n")
    found = line_numbers(text)
    for path, value in paths(tomllib.loads(text)):
        line = shown[found[path] - 1]
        key = path[-1]
        if isinstance(key, str):
            assert KEYS[NAMES.index(key)] in line
        elif isinstance(value, int) and not isinstance(value, bool):
            assert str(value) in line


def test_places_in_a_document_counted_by_hand() -> None:
    text = """format = 1
[set]
intermediate = "455 kHz"

[[step]]
id = "a"
points = [
  { dial = "600 kHz" }, { dial = "700 kHz" },
  # a note with ] in it
  { dial = "800 kHz" },
]
[[step]]
id = "b"
[[step.limits]]
point = "x"
"""
    found = line_numbers(text)
    assert found[("format",)] == 1
    assert found[("set",)] == 2
    assert found[("set", "intermediate")] == 3
    assert found[("step", 0)] == 5
    assert found[("step", 0, "points", 1, "dial")] == 8
    assert found[("step", 0, "points", 2)] == 10
    assert found[("step", 1)] == 12
    assert found[("step", 1, "limits", 0, "point")] == 15


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_lines_are_counted_alike_with_either_line_end(line_end: str) -> None:
    text = line_end.join(["a = 1", "", "[b]", 'c = """', "x", '"""', "d = 2", ""])
    assert line_numbers(text)[("b", "d")] == 7
