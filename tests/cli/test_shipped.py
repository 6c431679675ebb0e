"""The shipped folders are found from any folder, in a checkout and in an installed package."""

import subprocess
import sys
from importlib import metadata
from pathlib import Path
from typing import Literal

import pytest

from aligner import shipped

ROOT = Path(__file__).resolve().parents[2]
_FOLDERS = pytest.mark.parametrize("name", ["procedures", "demo_data"])


def _installed_plainly() -> bool:
    """Whether the package lies in this interpreter's own folders, and not only as a pointer to a checkout."""
    try:
        files = metadata.distribution("aligner").files or []
    except metadata.PackageNotFoundError:
        return False
    return any(str(file) == "aligner/cli.py" for file in files)


@_FOLDERS
def test_the_folder_is_found(name: Literal["procedures", "demo_data"]) -> None:
    assert any(path.is_file() for path in shipped.folder(name).rglob("*"))


@pytest.mark.skipif(not _installed_plainly(), reason="the package is not installed, or only as a pointer to a checkout")
@_FOLDERS
def test_the_installed_package_brings_the_same_files_and_is_found_from_any_folder(name: str, tmp_path: Path) -> None:
    program = f"from aligner import shipped; print(shipped.folder({name!r}))"
    ran = subprocess.run(
        [sys.executable, "-I", "-c", program], capture_output=True, text=True, cwd=tmp_path, check=True
    )
    found = Path(ran.stdout.strip())
    assert ROOT not in found.parents or ".venv" in found.parts
    here = {path.relative_to(ROOT / name) for path in (ROOT / name).rglob("*") if path.is_file()}
    assert {path.relative_to(found) for path in found.rglob("*") if path.is_file()} >= here


def test_a_broken_installation_is_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(shipped, "_PACKAGE", tmp_path / "aligner")
    with pytest.raises(FileNotFoundError, match="install the program again"):
        shipped.folder("procedures")
