"""In the packages of physics every number a public function takes or gives has its unit in brackets in the docstring.

Either in a numpydoc entry, `name : float [Hz]`, or in the sentence of a short docstring: `name [Hz]`, `name (n,) [Hz]`.
What is no number (a frozen type, whose own fields carry units; a choice among words) needs none.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import aligner

PACKAGES = ("circuits", "estimate")
FOLDER = Path(aligner.__file__).parent
UNIT = re.compile(r"\[[^\[\]]+\]")

NUMERIC = re.compile(r"\b(float|int|complex|Array|Reals|Rows|NDArray|ndarray)\b")

Function = ast.FunctionDef | ast.AsyncFunctionDef


def public_functions(tree: ast.Module) -> Iterator[tuple[str, Function]]:
    """Functions of the module and methods of its classes, by name; names with an underscore are nobody else's."""
    for node in tree.body:
        if isinstance(node, Function) and not node.name.startswith("_"):
            yield node.name, node
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for inner in node.body:
                if isinstance(inner, Function) and not inner.name.startswith("_"):
                    yield f"{node.name}.{inner.name}", inner


def parameters(function: Function) -> list[str]:
    """Names of the parameters that are numbers or arrays of them (or whose type is not told), without self and cls."""
    given = function.args
    every = [*given.posonlyargs, *given.args, *given.kwonlyargs]
    every += [extra for extra in (given.vararg, given.kwarg) if extra]
    return [one.arg for one in every if one.arg not in ("self", "cls") and is_numeric(one.annotation)]


def is_numeric(annotation: ast.expr | None) -> bool:
    """Whether a type is made of numbers; a type that is not told may be."""
    return annotation is None or bool(NUMERIC.search(ast.unparse(annotation)))


def entries(docstring: str) -> dict[str, str]:
    """The head line of each parameter of a numpydoc docstring; one line may name several parameters."""
    found: dict[str, str] = {}
    for line in docstring.splitlines():
        head = re.match(r"\s*\**(\w+(?:\s*,\s*\**\w+)*)\s*:\s*(.*)", line)
        if head:
            found.update(dict.fromkeys(re.findall(r"\w+", head[1]), head[2]))
    return found


def has_unit(docstring: str, parameter: str) -> bool:
    """Whether the parameter's entry, or the sentence that names it, has a unit."""
    in_sentence = re.search(rf"\b{parameter}\b\s*(?:\([^()]*\)\s*)?\[[^\[\]]+\]", docstring)
    return bool(in_sentence or UNIT.search(entries(docstring).get(parameter, "")))


def faults(source: str) -> list[str]:
    """What lacks its unit in a module's source."""
    missing = []
    for name, function in public_functions(ast.parse(source)):
        docstring = ast.get_docstring(function) or ""
        missing += [f"{name}: {one}" for one in parameters(function) if not has_unit(docstring, one)]
        _, _, entry = docstring.partition("Returns\n-------\n")
        if function.returns is not None and is_numeric(function.returns) and not UNIT.search(entry or docstring):
            missing.append(f"{name}: what it returns")
    return missing


def modules() -> list[Path]:
    """All modules of the packages of physics."""
    return sorted(path for package in PACKAGES for path in (FOLDER / package).rglob("*.py"))


@pytest.mark.parametrize("path", modules(), ids=lambda path: f"{path.parent.name}/{path.name}")
def test_every_number_taken_or_given_has_its_unit_in_brackets(path: Path) -> None:
    assert faults(path.read_text(encoding="utf-8")) == []


def test_the_walk_sees_the_packages() -> None:
    assert {path.parent.name for path in modules()} >= {"circuits"}
    assert len(modules()) > 10


def test_a_parameter_without_unit_is_found() -> None:
    source = '''
def width(resonance_hz: float, quality: float) -> float:
    """Width.

    Parameters
    ----------
    resonance_hz : float [Hz]
        Resonance.
    quality : float
        Loaded Q.

    Returns
    -------
    float
        Width.
    """
    return resonance_hz / quality
'''
    assert faults(source) == ["width: quality", "width: what it returns"]


def test_a_function_without_docstring_is_found() -> None:
    assert faults("def width(quality: float) -> float: ...") == ["width: quality", "width: what it returns"]


def test_a_short_docstring_may_name_units_in_its_sentence() -> None:
    source = """
def hz(lny: Array, frame: Frame) -> Array:
    '''Frequencies [Hz] of ln y, lny (n,) [1], in a frame.'''
"""
    assert faults(source) == []
    assert faults(source.replace(" [1]", "")) == ["hz: lny"]


def test_several_parameters_may_share_a_line() -> None:
    source = '''
def ratio(low_hz: float, high_hz: float) -> float:
    """Ratio.

    Parameters
    ----------
    low_hz, high_hz : float [Hz]
        Ends.

    Returns
    -------
    float [1]
        Ratio.
    """
    return high_hz / low_hz
'''
    assert faults(source) == []
