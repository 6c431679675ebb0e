"""The checks of style can fail: each is shown something that it must find, and something that it must leave alone."""

import ast

import pytest

from tests.style.test_style_code import _EMPTY_NAMES, _OUT_OF_PLACE, _asserts, _catches_all
from tests.style.test_style_imports import _acts


def _first(code: str) -> ast.stmt:
    return ast.parse(code).body[0]


@pytest.mark.parametrize(
    "code", ["print(1)", "for x in y:\n    pass", "if x:\n    y()", "with x:\n    pass", "assert x"]
)
def test_a_module_that_acts_is_found(code: str) -> None:
    assert _acts(_first(code))


@pytest.mark.parametrize(
    "code", ["'words'", "x = f(1)", "import x", "def f() -> None:\n    g()", "if TYPE_CHECKING:\n    x()"]
)
def test_a_module_that_only_names_things_is_left_alone(code: str) -> None:
    assert not _acts(_first(code))


@pytest.mark.parametrize("kind", ["", " Exception", " BaseException", " (OSError, Exception)", " Exception as error"])
def test_catching_everything_is_found_unless_it_is_handed_on(kind: str) -> None:
    for end, found in (("pass", True), ("raise", False), ("raise ValueError from None", True)):
        statement = _first(f"try:\n    x()\nexcept{kind}:\n    y()\n    {end}")
        assert isinstance(statement, ast.Try)
        assert _catches_all(statement.handlers[0]) is found


@pytest.mark.parametrize(
    ("code", "can_fail"),
    [
        ("def test_x():\n    assert x", True),
        ("def test_x():\n    with pytest.raises(E):\n        x()", True),
        ("def test_x():\n    np.testing.assert_allclose(x, y)", True),
        ("def test_x():\n    x()", False),
        ("def test_x():\n    'assert'", False),
    ],
)
def test_a_test_that_cannot_fail_is_found(code: str, can_fail: bool) -> None:
    assert _asserts(_first(code), {}) is can_fail


def test_a_test_may_assert_through_a_function_of_its_file() -> None:
    own: dict[str, ast.AST] = {"seen": _first("def seen():\n    assert x")}
    assert _asserts(_first("def test_x():\n    seen()"), own)


@pytest.mark.parametrize("name", ["hom" + "e/somebody", "roo" + "t/x", "tm" + "p/x", "wor" + "k/main"])
def test_a_path_of_one_machine_is_found_and_another_is_not(name: str) -> None:
    assert _OUT_OF_PLACE.search(f'open("/{name}")')
    assert not _OUT_OF_PLACE.search('open("/dev/ttyUSB0")')
    assert not _OUT_OF_PLACE.search(f"https://example.org/{name}")


@pytest.mark.parametrize("name", ["aligner/uti" + "ls.py", "Port_Manag" + "er", "tests/help" + "ers/x.py"])
def test_a_name_that_says_nothing_is_found_and_others_are_not(name: str) -> None:
    assert _EMPTY_NAMES.search(name)
    assert not _EMPTY_NAMES.search("aligner/procedure/helpful.py")
