import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.journal.names import free_files, job_files, jobs_folder, slug


@given(st.text())
def test_a_slug_is_safe_on_every_platform(name: str) -> None:
    assert re.fullmatch(r"[a-z0-9](?:[a-z0-9-]{0,38}[a-z0-9])?", slug(name))


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Kitchen radio", "kitchen-radio"),
        ("../../etc/passwd", "etc-passwd"),
        ("Küche № 2", "kuche-no-2"),
        ("", "job"),
        ("\x1b[2J", "2j"),
        ("…", "job"),
    ],
)
def test_a_slug_keeps_what_can_be_kept(name: str, expected: str) -> None:
    assert slug(name) == expected


@given(st.text())
def test_a_new_file_lies_in_the_folder_whatever_the_name(name: str) -> None:
    folder = Path("jobs")
    assert next(free_files(folder, name)).parent == folder


def test_numbers_go_on_after_the_highest_and_are_not_filled_up(tmp_path: Path) -> None:
    for name in ("set-1.job", "set-7.job", "set-x.job", "other-9.job", "set-3-20.job"):
        (tmp_path / name).touch()
    files = free_files(tmp_path, "Set")
    assert [next(files).name, next(files).name] == ["set-8.job", "set-9.job"]


def test_a_folder_that_is_not_there_has_no_jobs(tmp_path: Path) -> None:
    assert job_files(tmp_path / "none") == ()


def test_the_chosen_folder_wins_over_the_platform_s() -> None:
    assert jobs_folder(Path("mine")) == Path("mine")
    assert jobs_folder().parts[-2:] == ("aligner", "jobs")
