"""Files and functions stay small enough to be read at one sitting."""

import ast

from tests.style.sources import modules, named, tree

LARGEST_FILE = 400
LARGEST_FUNCTION = 40

# What is longer, and how long it is. These lists may only shrink: an entry that is not needed any more must go, and a
# file or function in the list must not grow.
LONG_FILES: dict[str, int] = {}
LONG_FUNCTIONS: dict[str, int] = {}


def _long_files() -> dict[str, int]:
    sizes = {named(path): len(path.read_text(encoding="utf-8").splitlines()) for path in modules("aligner", "tests")}
    return {name: size for name, size in sizes.items() if size > LARGEST_FILE}


def _long_functions() -> dict[str, int]:
    sizes = {
        f"{named(path)}::{node.name}": (node.end_lineno or 0) - node.lineno + 1 - _docstring(node)
        for path in modules("aligner", "tests")
        for node in ast.walk(tree(path))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    }
    return {name: size for name, size in sizes.items() if size > LARGEST_FUNCTION}


def _docstring(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of the docstring: physics states its equation, units and source there, and nobody shall save on them."""
    first = node.body[0]
    if ast.get_docstring(node) is None or first.end_lineno is None:
        return 0
    return first.end_lineno - first.lineno + 1


def test_no_file_is_longer_than_it_may_be() -> None:
    assert _long_files() == LONG_FILES


def test_no_function_is_longer_than_it_may_be() -> None:
    assert _long_functions() == LONG_FUNCTIONS
