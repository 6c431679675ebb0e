import contextlib
import io
import time
from dataclasses import replace
from pathlib import Path

import pytest

from aligner.errors import UsageError
from aligner.journal.listing import find_job, print_jobs, summaries
from aligner.journal.store import Journal
from tests.journal.samples import HEAD, reading


def make(folder: Path, name: str, changed: float, *, step: str = "coverage", finished: bool = False) -> Path:
    with contextlib.closing(Journal.create(folder, replace(HEAD, name=name))) as journal:
        journal.append(reading(1), changed - 10.0)
        journal.append(reading(2), changed)
        journal.mark(2, step, finished=finished)
        return journal.path


def test_the_job_changed_last_comes_first_and_damaged_ones_last(tmp_path: Path) -> None:
    make(tmp_path, "old", HEAD.created + 100)
    make(tmp_path, "new", HEAD.created + 200, finished=True)
    (tmp_path / "broken.job").write_bytes(b"junk" * 1000)
    (tmp_path / "empty.job").touch()
    (tmp_path / "notes.txt").write_text("no job")
    rows = summaries(tmp_path)
    assert [row.job for row in rows] == ["new-1", "old-1", "broken", "empty"]
    new, old, broken, empty = rows
    assert (new.name, new.title, new.entries, new.finished, new.step) == ("new", HEAD.title, 2, True, "")
    assert (old.finished, old.step, old.created, old.changed) == (
        False,
        "coverage",
        HEAD.created,
        HEAD.created + 100,
    )
    assert "damaged" in broken.fault
    assert "empty" in empty.fault


def test_the_open_step_is_known_by_its_title_and_by_its_id_where_there_is_none(tmp_path: Path) -> None:
    procedure = '[[step]]\nid = "coverage"\ntitle = "Oscillator over the band"\n[[step]]\nid = "final"\n'
    for step in ("coverage", "final"):
        with contextlib.closing(Journal.create(tmp_path, replace(HEAD, name=step, procedure=procedure))) as journal:
            journal.mark(0, step, finished=False)
    assert {row.step: row.step_title for row in summaries(tmp_path)} == {
        "coverage": "Oscillator over the band",
        "final": "final",
    }


def test_the_table_shows_each_job_on_a_line(tmp_path: Path) -> None:
    make(tmp_path, "Kitchen radio", HEAD.created + 100)
    make(tmp_path, "Workshop", HEAD.created + 50, finished=True)
    (tmp_path / "broken.job").write_bytes(b"junk" * 1000)
    out = io.StringIO()
    print_jobs(tmp_path, out)
    heading, kitchen, workshop, broken = out.getvalue().splitlines()
    assert heading.split() == ["job", "set", "procedure", "entries", "created", "changed", "state"]
    assert kitchen.startswith("kitchen-radio-1  Kitchen radio")
    assert kitchen.endswith("at coverage")
    assert workshop.endswith("finished")
    assert "cannot be read" in broken


@pytest.mark.parametrize(("noted", "words"), [("aligned", "aligned"), ("at-limit", "ended at limit"), ("", "finished")])
def test_a_finished_job_says_how_it_has_ended(tmp_path: Path, noted: str, words: str) -> None:
    make(tmp_path, "Workshop", HEAD.created + 50, step=noted, finished=True)
    (row,) = summaries(tmp_path)
    assert (row.ended, row.step) == (words, "")


def test_no_jobs_are_said_to_be_none(tmp_path: Path) -> None:
    out = io.StringIO()
    print_jobs(tmp_path / "none", out)
    assert out.getvalue().startswith("No jobs in ")


def test_a_hostile_name_cannot_reach_the_terminal(tmp_path: Path) -> None:
    make(tmp_path, "a\x1b]0;t\x07b\nc", HEAD.created)
    out = io.StringIO()
    print_jobs(tmp_path, out)
    assert "\x1b" not in out.getvalue()
    assert len(out.getvalue().splitlines()) == 2


def test_a_time_beyond_the_calendar_is_no_crash(tmp_path: Path) -> None:
    with contextlib.closing(Journal.create(tmp_path, replace(HEAD, created=float("inf")))):
        pass
    out = io.StringIO()
    print_jobs(tmp_path, out)
    assert "unknown" in out.getvalue()


def test_a_job_that_somebody_works_on_is_listed(tmp_path: Path) -> None:
    with contextlib.closing(Journal.create(tmp_path, HEAD)) as journal:
        journal.append(reading(1), HEAD.created)
        assert [row.entries for row in summaries(tmp_path)] == [1]


def test_two_hundred_jobs_are_listed_quickly(tmp_path: Path) -> None:
    whole = make(tmp_path, "many", HEAD.created).read_bytes()
    for number in range(2, 201):
        (tmp_path / f"many-{number}.job").write_bytes(whole)
    start = time.perf_counter()
    rows = summaries(tmp_path)
    spent = time.perf_counter() - start
    assert len(rows) == 200
    assert all(row.entries == 2 for row in rows)
    assert spent < 2.0  # about 0.15 s on an idle machine; the rest is for a busy one


def test_a_job_is_found_by_its_own_name_and_by_its_set(tmp_path: Path) -> None:
    first = make(tmp_path, "Kitchen radio", HEAD.created)
    assert find_job(tmp_path, "kitchen-radio-1") == first
    assert find_job(tmp_path, "kitchen-radio-1.job") == first
    assert find_job(tmp_path, "Kitchen radio") == first
    assert find_job(tmp_path, "radio") is None
    assert find_job(tmp_path, "") is None
    make(tmp_path, "Kitchen radio", HEAD.created)
    with pytest.raises(UsageError, match=r"kitchen-radio-\d, kitchen-radio-\d"):
        find_job(tmp_path, "Kitchen radio")


def test_no_name_leads_out_of_the_folder(tmp_path: Path) -> None:
    make(tmp_path / "elsewhere", "set", HEAD.created)
    (tmp_path / "jobs").mkdir()
    assert find_job(tmp_path / "jobs", "../elsewhere/set-1") is None
    assert find_job(tmp_path / "jobs", str(tmp_path / "elsewhere" / "set-1")) is None
