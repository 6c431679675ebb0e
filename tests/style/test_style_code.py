"""Rules of the house that no common tool checks."""

import ast
import re
from pathlib import Path

import pytest

from tests.style.sources import files, modules, named, tree

# Where everything may be caught: at the edge of a thread or of the program, where nobody else would hear of a fault.
# The list may only shrink, or grow by another edge.
CATCH_ALL = {
    "aligner/cli.py",
    "aligner/job.py",
    "aligner/rehearsal/runner.py",
}

_TEXT = {".py", ".md", ".toml", ".txt", ".csv", ".svg", ".jsonl", ".json", "", ".gitignore", ".s1p", ".s2p"}
# Written in pieces, or this very file would be found.
_OUT_OF_PLACE = re.compile(
    "|".join(
        (
            r"(?<![\w.~])/(?:wor" + r"k|roo" + r"t|hom" + r"e|User" + r"s|op" + r"t|tm" + r"p)/\w",
            r"[A-Z]:\\User" + r"s",
            r"pyp" + r"i\.org|pythonh" + r"osted|npm" + r"js",
            r"(?i:desig" + r"n section|desig" + r"n\.md|styl" + r"e\.md|reference" + r"s\.md|dependencie" + r"s\.md)",
            r"(?i:\bissu" + r"e #?\d)",
            r"\b(?:TOD" + r"O|FIXM" + r"E|XX" + r"X)\b",
        )
    )
)
_EMPTY_NAMES = re.compile(r"(?i)(?:^|[_/])(?:uti" + r"ls?|help" + r"ers?|manag" + r"ers?)(?:$|[_./])")


def _catches_all(handler: ast.ExceptHandler) -> bool:
    """Whether a handler takes everything and does not hand it on."""
    kinds = "" if handler.type is None else ast.unparse(handler.type)
    takes_all = handler.type is None or bool(re.search(r"\b(?:Exception|BaseException)\b", kinds))
    last = handler.body[-1]
    return takes_all and not (isinstance(last, ast.Raise) and last.exc is None)


def test_everything_is_caught_only_at_the_edges() -> None:
    found = {
        named(path)
        for path in modules("aligner")
        for node in ast.walk(tree(path))
        if isinstance(node, ast.ExceptHandler) and _catches_all(node)
    }
    assert found == CATCH_ALL


@pytest.mark.parametrize("path", [path for path in files() if path.suffix in _TEXT], ids=named)
def test_no_file_names_a_machine_a_paper_or_unfinished_work(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").splitlines()
    assert [(at, line.strip()) for at, line in enumerate(lines, 1) if _OUT_OF_PLACE.search(line)] == []


def test_no_file_or_class_has_a_name_that_says_nothing() -> None:
    names = [named(path) for path in files()]
    classes = [
        node.name for path in modules("aligner") for node in ast.walk(tree(path)) if isinstance(node, ast.ClassDef)
    ]
    split = [re.sub(r"(?<=[a-z])(?=[A-Z])", "_", name) for name in classes]
    assert [name for name in (*names, *split) if _EMPTY_NAMES.search(name)] == []


def _asserts(node: ast.AST, own: dict[str, ast.AST], depth: int = 3) -> bool:
    """Whether a test, or a function of the same file that it calls, can fail by what it sees."""
    for part in ast.walk(node):
        if isinstance(part, ast.Assert):
            return True
        if isinstance(part, ast.Call):
            name = ast.unparse(part.func)
            if re.search(r"(?:^|\.)(?:raises|warns|fail|assert\w*)$", name):
                return True
            if depth and name in own and own[name] is not node and _asserts(own[name], own, depth - 1):
                return True
    return False


@pytest.mark.parametrize("path", [path for path in modules("tests") if path.name.startswith("test_")], ids=named)
def test_every_test_asserts_something(path: Path) -> None:
    functions = [node for node in ast.walk(tree(path)) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]
    own: dict[str, ast.AST] = {node.name: node for node in functions}
    tests = [node for node in functions if node.name.startswith("test_")]
    assert tests or any(isinstance(node, ast.ClassDef) for node in tree(path).body)
    assert [node.name for node in tests if not _asserts(node, own)] == []
