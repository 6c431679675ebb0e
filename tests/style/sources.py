"""The files of this project, for tests that look at the text of the program itself."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
_MADE = {".git", ".venv", "__pycache__", "build", "dist", "node_modules"}


def files(suffix: str = "") -> tuple[Path, ...]:
    """Everything that people wrote: nothing that a tool made and nothing that hides, but the checks."""

    def walk(folder: Path) -> Iterator[Path]:
        for path in sorted(folder.iterdir()):
            hidden = path.name.startswith(".") and path.name not in {".ci", ".gitignore"}
            if path.is_dir() and path.name not in _MADE and not hidden and path.suffix != ".egg-info":
                yield from walk(path)
            elif path.is_file() and path.name.endswith(suffix) and not hidden:
                yield path

    return tuple(walk(ROOT))


def modules(*folders: str) -> tuple[Path, ...]:
    """The Python files under the folders of the project."""
    return tuple(path for path in files(".py") if named(path).startswith(tuple(f"{folder}/" for folder in folders)))


def named(path: Path) -> str:
    """The file's name from the root, with slashes on every platform."""
    return path.relative_to(ROOT).as_posix()


@cache
def tree(path: Path) -> ast.Module:
    """The syntax tree of a file."""
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


def imported(path: Path) -> frozenset[str]:
    """The top names of all packages that a file imports, wherever in the file it does so."""
    names: set[str] = set()
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Import):
            names |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module.partition(".")[0])
    return frozenset(names)
