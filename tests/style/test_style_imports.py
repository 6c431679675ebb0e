"""The core knows no screen, no instrument, no clock and no chance; and nothing happens when a module is imported."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from tests.style.sources import ROOT, imported, modules, named, tree

CORE = ("aligner/circuits", "aligner/procedure", "aligner/estimate", "aligner/engine")
NOT_IN_CORE = {
    "asyncio",
    "datetime",
    "random",
    "rich",
    "secrets",
    "serial",
    "sqlite3",
    "textual",
    "threading",
    "time",
}
NUMERICAL = {"numpy", "scipy"}
COMPUTE = ("aligner/circuits/", "aligner/estimate/", "aligner/rehearsal/")
# Outside of these folders only what is in this list handles arrays; it may only shrink.
HANDLE_ARRAYS = {
    "aligner/engine/beliefs.py",
    "aligner/engine/bench.py",
    "aligner/engine/by_level.py",
    "aligner/engine/by_presets.py",
    "aligner/engine/by_rocking.py",
    "aligner/engine/curves_read.py",
    "aligner/engine/curves_tracking.py",
    "aligner/engine/looking_touches.py",
    "aligner/engine/past_peak.py",
    "aligner/engine/peaking.py",
    "aligner/engine/shared.py",
    "aligner/engine/touches.py",
    "aligner/engine/tracking.py",
}


def _who_imports(package: str) -> list[str]:
    return [named(path) for path in modules("aligner") if package in imported(path)]


def test_the_core_imports_no_screen_instrument_clock_or_chance() -> None:
    found = {named(path): sorted(imported(path) & NOT_IN_CORE) for path in modules(*CORE)}
    assert len(found) > 10
    assert {name: wrong for name, wrong in found.items() if wrong} == {}


@pytest.mark.parametrize("package", ["serial", "sqlite3"])
def test_one_file_alone_knows_the_outside_library(package: str) -> None:
    assert len(_who_imports(package)) == 1


@pytest.mark.parametrize("package", ["textual", "rich"])
def test_only_the_screens_know_how_they_are_drawn(package: str) -> None:
    assert [name for name in _who_imports(package) if not name.startswith("aligner/screens/")] == []


def test_numerical_libraries_are_used_only_where_physics_is_computed() -> None:
    users = {*_who_imports("numpy"), *_who_imports("scipy")}
    assert {name for name in users if not name.startswith(COMPUTE)} == HANDLE_ARRAYS


@pytest.mark.parametrize(
    "name", ["aligner.job", "aligner.journal.listing", "aligner.procedure.library", "aligner.pipe"]
)
def test_what_the_first_screen_and_the_list_of_jobs_need_does_not_load_numerical_libraries(name: str) -> None:
    program = f"import sys, {name}\nprint(sorted({NUMERICAL!r} & set(sys.modules)))"
    ran = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, cwd=ROOT, check=True)
    assert ran.stdout == "[]\n"


def test_importing_the_whole_core_loads_no_screen_instrument_or_database() -> None:
    names = [named(path).removesuffix(".py").replace("/", ".") for path in modules(*CORE, "aligner/sheet")]
    names = [name.removesuffix(".__init__") for name in names]
    program = (
        "import importlib, sys\n"
        f"for name in {names!r}:\n    importlib.import_module(name)\n"
        "print(sorted({'textual', 'rich', 'serial', 'sqlite3'} & set(sys.modules)), len(sys.modules))"
    )
    ran = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, cwd=ROOT, check=True)
    assert ran.stdout.startswith("[] ")


def _acts(statement: ast.stmt) -> bool:
    """Whether a statement of a module does more than name, define and import things."""
    if isinstance(statement, ast.Expr):
        return not isinstance(statement.value, ast.Constant)
    if isinstance(statement, ast.If):
        text = ast.unparse(statement.test)
        return text not in {"TYPE_CHECKING", "__name__ == '__main__'"} and not text.startswith("sys.platform")
    if isinstance(statement, ast.Try):
        return any(map(_acts, statement.body))
    return isinstance(statement, ast.For | ast.While | ast.With | ast.Assert | ast.Raise)


@pytest.mark.parametrize("path", modules("aligner"), ids=named)
def test_nothing_happens_at_import(path: Path) -> None:
    assert [statement.lineno for statement in tree(path).body if _acts(statement)] == []
