"""What a crash file holds, and what it must never hold."""

import os
import stat
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from aligner import __version__
from aligner.crash import crash_text, running_job, write_crash


@pytest.fixture(autouse=True)
def _no_job_open() -> Iterator[None]:
    running_job(None)
    yield
    running_job(None)


def _failure() -> Exception:
    try:
        try:
            raise KeyError("a note of the person")
        except KeyError as first:
            raise RuntimeError("the name of the set") from first
    except RuntimeError as error:
        return error


def test_versions_job_and_the_way_of_the_failure_are_kept(tmp_path: Path) -> None:
    path = write_crash(_failure(), tmp_path / "set-1.job", tmp_path)
    assert path is not None
    text = path.read_text(encoding="utf-8")
    for part in (f"aligner {__version__}", "Python 3", "textual ", "scipy ", str(tmp_path / "set-1.job")):
        assert part in text
    assert text.index("builtins.KeyError") < text.index("builtins.RuntimeError")
    assert "in _failure" in text


def test_what_a_failure_says_is_left_out_for_it_could_quote_the_person() -> None:
    # The source lines of this very file hold the words, so they are looked for as an error shows them.
    lines = [line for line in crash_text(_failure()).splitlines() if "in _failure" not in line]
    assert not any("a note of the person" in line or "the name of the set" in line for line in lines)


def test_the_job_said_to_be_open_is_named(tmp_path: Path) -> None:
    running_job(tmp_path / "open.job")
    assert f"job file: {tmp_path / 'open.job'}" in crash_text(_failure(), tmp_path / "open.job")
    path = write_crash(_failure(), folder=tmp_path)
    assert path is not None
    assert "open.job" in path.read_text(encoding="utf-8")


def test_where_the_folder_cannot_be_written_another_place_is_found(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    path = write_crash(_failure(), folder=tmp_path / "file" / "folder")
    assert path is not None
    path.unlink()
    assert path.parent != tmp_path


def test_a_recursion_without_end_gives_a_short_file() -> None:
    def deeper() -> None:
        deeper()

    with pytest.raises(RecursionError) as seen:
        deeper()
    assert len(crash_text(seen.value).splitlines()) < 100


@pytest.mark.skipif(sys.platform == "win32" or os.geteuid() == 0, reason="needs a user whom permissions stop")
def test_a_folder_without_permission_is_passed_over(tmp_path: Path) -> None:
    tmp_path.chmod(stat.S_IRUSR | stat.S_IXUSR)
    path = write_crash(_failure(), folder=tmp_path)
    tmp_path.chmod(stat.S_IRWXU)
    assert path is not None
    assert path.parent != tmp_path
