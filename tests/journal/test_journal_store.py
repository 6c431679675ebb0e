import contextlib
import os
import sqlite3
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from aligner.errors import AnswerError, JournalError
from aligner.journal import store
from aligner.journal.form import APPLICATION_ID, VERSION
from aligner.journal.store import Journal, export_job, import_job
from tests.journal.samples import HEAD, note, reading


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with contextlib.closing(Journal.create(tmp_path / "jobs", HEAD)) as made:
        yield made


def closed_job(folder: Path, entries: int = 3) -> Path:
    with contextlib.closing(Journal.create(folder, HEAD)) as made:
        for seq in range(1, entries + 1):
            made.append(reading(seq), 0.0)
        return made.path


def altered(path: Path, *statements: str) -> None:
    with contextlib.closing(sqlite3.connect(path)) as connection:
        for statement in statements:
            connection.execute(statement)
        connection.commit()


def test_what_was_added_is_read_back_by_the_next_opening(tmp_path: Path) -> None:
    path = closed_job(tmp_path)
    with contextlib.closing(Journal.open(path)) as again:
        assert again.head == HEAD
        assert again.entries() == (reading(1), reading(2), reading(3))


def test_the_file_is_named_for_the_set_and_is_alone_when_it_is_closed(tmp_path: Path) -> None:
    closed_job(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["kitchen-radio-1.job"]


def test_between_two_entries_the_one_file_is_the_whole_job(journal: Journal, tmp_path: Path) -> None:
    journal.append(reading(1), 0.0)
    copy = tmp_path / "copy.job"
    copy.write_bytes(journal.path.read_bytes())
    with contextlib.closing(Journal.look(copy)) as seen:
        assert seen.entries() == (reading(1),)


def test_the_settings_that_the_promises_rest_on_are_on(journal: Journal) -> None:
    def pragma(name: str) -> object:
        return journal._connection.execute(f"PRAGMA {name}").fetchone()[0]

    assert pragma("journal_mode") == "delete"
    assert pragma("synchronous") == 3  # EXTRA, by the SQLite manual
    assert pragma("recursive_triggers") == 1
    assert pragma("application_id") == APPLICATION_ID
    assert pragma("user_version") == VERSION


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entry SET body = '{}'",
        "DELETE FROM entry",
        "INSERT OR REPLACE INTO entry VALUES (1, 0.0, 'note', '{}')",
        "REPLACE INTO entry VALUES (2, 0.0, 'note', '{}')",
        "INSERT INTO entry VALUES (4, 0.0, 'note', '{}')",
        "INSERT INTO entry VALUES (3, NULL, 'note', '{}')",
        "INSERT INTO entry VALUES (3, 'now', 'note', '{}')",
        "UPDATE job SET name = 'x'",
        "DELETE FROM job",
        "INSERT OR REPLACE INTO job VALUES (1, 'x', 'x', 'x', 'x', 0.0, 'x', '{}')",
        "INSERT INTO job VALUES (2, 'x', 'x', 'x', 'x', 0.0, 'x', '{}')",
        "DELETE FROM progress",
    ],
)
def test_nothing_can_be_changed_deleted_or_left_out(journal: Journal, statement: str) -> None:
    journal.append(reading(1), 0.0)
    journal.append(reading(2), 0.0)
    journal.mark(2, "coverage", finished=False)
    with pytest.raises(sqlite3.IntegrityError):
        journal._connection.execute(statement)
    assert journal.entries() == (reading(1), reading(2))
    assert journal.head == HEAD


def test_an_entry_with_a_number_that_is_not_finite_leaves_the_file_as_it_was(journal: Journal) -> None:
    before = journal.path.read_bytes()
    with pytest.raises(AnswerError, match="finite"):
        journal.append(reading(1, float("nan")), 0.0)
    assert journal.path.read_bytes() == before


def test_an_entry_out_of_order_is_refused_and_the_next_goes_on(journal: Journal) -> None:
    journal.append(reading(1), 0.0)
    with pytest.raises(JournalError):
        journal.append(reading(3), 0.0)
    journal.append(reading(2), 0.0)
    assert journal.entries() == (reading(1), reading(2))


def test_a_second_writer_is_refused_and_a_looker_is_not(journal: Journal) -> None:
    journal.append(reading(1), 0.0)
    with pytest.raises(JournalError, match="another program is working on this job"):
        Journal.open(journal.path)
    with contextlib.closing(Journal.look(journal.path)) as seen:
        assert seen.entries() == (reading(1),)
        journal.append(reading(2), 0.0)
        assert seen.entries() == (reading(1), reading(2))
        with pytest.raises(JournalError, match="only to look"):
            seen.append(reading(3), 0.0)


def test_after_the_first_has_closed_the_second_may_write(journal: Journal) -> None:
    journal.close()
    with contextlib.closing(Journal.open(journal.path)) as second:
        second.append(reading(1), 0.0)
    journal.close()
    assert not journal.path.with_name(journal.path.name + ".lock").exists()


def test_a_full_disk_is_told_and_what_was_kept_stays_and_goes_on(journal: Journal) -> None:
    journal.append(reading(1), 0.0)
    pages = journal._connection.execute("PRAGMA page_count").fetchone()[0]
    journal._connection.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(JournalError, match="no room on the disk"):
        journal.append(note(2, "x" * 50_000), 0.0)
    assert journal.entries() == (reading(1),)
    journal._connection.execute("PRAGMA max_page_count = 100000")
    journal.append(note(2, "x" * 50_000), 0.0)
    assert len(journal.entries()) == 2


@pytest.mark.skipif(sys.platform == "win32", reason="limits of a process are a thing of POSIX")
def test_a_disk_that_refuses_to_write_is_told_and_what_was_kept_stays(journal: Journal) -> None:
    import resource  # noqa: PLC0415 - not on every platform

    journal.append(reading(1), 0.0)
    size = journal.path.stat().st_size
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, limits[1]))
    try:
        with pytest.raises(JournalError):
            journal.append(note(2, "x" * 50_000), 0.0)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert journal.entries() == (reading(1),)
    journal.append(reading(2), 0.0)
    assert journal.entries() == (reading(1), reading(2))


def test_a_file_that_another_program_keeps_locked_is_told(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    journal._connection.execute("PRAGMA busy_timeout = 10")
    with contextlib.closing(sqlite3.connect(journal.path)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(JournalError, match="another program is using the file"):
            journal.append(reading(1), 0.0)
        other.rollback()
    journal.append(reading(1), 0.0)
    assert journal.entries() == (reading(1),)


def refused(path: Path) -> str:
    """What both ways of opening say of the file; they must leave it as it was."""
    before = path.read_bytes() if path.is_file() else b""
    with pytest.raises(JournalError) as looking, contextlib.closing(Journal.look(path)) as seen:
        seen.entries()
    with pytest.raises(JournalError) as opening, contextlib.closing(Journal.open(path)) as opened:
        opened.entries()
    assert str(looking.value) == str(opening.value)
    assert (path.read_bytes() if path.is_file() else b"") == before
    return str(opening.value)


def test_an_empty_file_is_no_job(tmp_path: Path) -> None:
    path = tmp_path / "empty.job"
    path.touch()
    assert "the file is empty" in refused(path)


def test_an_absent_file_and_a_folder_are_no_jobs(tmp_path: Path) -> None:
    assert "cannot be read" in refused(tmp_path / "none.job")
    assert not (tmp_path / "none.job").exists()
    (tmp_path / "folder.job").mkdir()
    assert "no file" in refused(tmp_path / "folder.job")


def test_junk_is_told_as_damaged(tmp_path: Path) -> None:
    path = tmp_path / "junk.job"
    path.write_bytes(os.urandom(20_000))
    assert "damaged, or no job at all" in refused(path)


def test_a_database_of_somebody_else_is_no_job(tmp_path: Path) -> None:
    path = tmp_path / "other.job"
    altered(path, "CREATE TABLE t (x)")
    assert "no job of this program" in refused(path)


def test_a_file_of_a_newer_version_is_refused_politely(tmp_path: Path) -> None:
    path = closed_job(tmp_path)
    altered(path, f"PRAGMA user_version = {VERSION + 1}")
    assert "written by a newer version" in refused(path)


def test_a_file_without_its_guards_is_refused(tmp_path: Path) -> None:
    path = closed_job(tmp_path)
    altered(path, "DROP TRIGGER entry_update")
    assert "its tables are not those of a job" in refused(path)


def test_a_view_in_place_of_the_entries_is_refused_before_it_is_asked(tmp_path: Path) -> None:
    path = closed_job(tmp_path)
    endless = "WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n) SELECT x AS seq, '' AS body FROM n"
    altered(path, "DROP TABLE entry", f"CREATE VIEW entry AS {endless}")
    assert "its tables are not those of a job" in refused(path)


def test_a_body_that_is_no_entry_names_the_entry(tmp_path: Path) -> None:
    path = closed_job(tmp_path)
    altered(path, "INSERT INTO entry VALUES (4, 0.0, 'note', '{\"seq\": 4}')")
    assert "damaged at entry 4" in refused(path)


@pytest.mark.parametrize("size", [1, 100, 4096, 9000])
def test_a_file_cut_short_is_told_as_damaged(tmp_path: Path, size: int) -> None:
    path = closed_job(tmp_path, entries=40)
    path.write_bytes(path.read_bytes()[:size])
    assert "damaged" in refused(path)


def test_whatever_page_is_overwritten_the_job_is_refused_or_read_right(tmp_path: Path) -> None:
    path = closed_job(tmp_path, entries=40)
    whole = path.read_bytes()
    expected = tuple(reading(seq) for seq in range(1, 41))
    refusals = 0
    for start in range(0, len(whole), 1024):
        path.write_bytes(whole[:start] + b"\xa5" * 1024 + whole[start + 1024 :])
        try:
            with contextlib.closing(Journal.open(path)) as opened:
                assert opened.entries() == expected
        except JournalError:
            refusals += 1
    assert refusals > 5


def test_a_writer_killed_in_a_commit_leaves_the_job_sound_for_who_only_looks(tmp_path: Path) -> None:
    path = closed_job(tmp_path)
    victim = tmp_path / "victim.job"
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as writer:
        writer.execute("PRAGMA cache_size = 1")  # so that pages go to the file before the commit
        writer.execute("PRAGMA cache_spill = 1")
        writer.execute("BEGIN IMMEDIATE")
        for seq in range(4, 200):
            writer.execute("INSERT INTO entry VALUES (?, 0.0, 'note', ?)", (seq, "x" * 500))
        victim.write_bytes(path.read_bytes())  # as the disk is at the instant of the kill
        victim.with_name("victim.job-journal").write_bytes(path.with_name(path.name + "-journal").read_bytes())
        writer.execute("ROLLBACK")
    assert victim.stat().st_size > path.stat().st_size
    with contextlib.closing(Journal.look(victim)) as seen:
        assert seen.entries() == (reading(1), reading(2), reading(3))
    with contextlib.closing(Journal.open(victim)) as opened:
        opened.append(reading(4), 0.0)


def test_a_job_goes_out_as_one_file_and_comes_in_under_a_new_name(tmp_path: Path) -> None:
    path = closed_job(tmp_path / "jobs")
    export_job(path, tmp_path / "sent.job")
    new = import_job(tmp_path / "sent.job", tmp_path / "jobs")
    assert new.name == "kitchen-radio-2.job"
    with contextlib.closing(Journal.open(new)) as opened:
        assert opened.entries() == (reading(1), reading(2), reading(3))
    assert sorted(place.name for place in tmp_path.iterdir()) == ["jobs", "sent.job"]
    assert sorted(place.name for place in (tmp_path / "jobs").iterdir()) == [
        "kitchen-radio-1.job",
        "kitchen-radio-2.job",
    ]


def test_a_job_that_is_being_worked_on_can_be_exported(journal: Journal, tmp_path: Path) -> None:
    journal.append(reading(1), 0.0)
    export_job(journal.path, tmp_path / "sent.job")
    with contextlib.closing(Journal.look(tmp_path / "sent.job")) as seen:
        assert seen.entries() == (reading(1),)


def test_an_export_never_overwrites(tmp_path: Path) -> None:
    path = closed_job(tmp_path / "jobs")
    (tmp_path / "kept.txt").write_text("mine")
    with pytest.raises(JournalError, match="there is such a file already"):
        export_job(path, tmp_path / "kept.txt")
    assert (tmp_path / "kept.txt").read_text() == "mine"
    with pytest.raises(JournalError):
        export_job(path, tmp_path / "no folder" / "x.job")


def test_what_is_no_job_does_not_come_in(tmp_path: Path) -> None:
    (tmp_path / "junk").write_bytes(b"junk" * 1000)
    with pytest.raises(JournalError):
        import_job(tmp_path / "junk", tmp_path / "jobs")
    assert list((tmp_path / "jobs").glob("*")) == []


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(JournalError, match="cannot be made"):
        Journal.create(tmp_path / "file" / "jobs", HEAD)


def test_two_new_jobs_of_one_name_never_share_a_file(tmp_path: Path) -> None:
    assert len({closed_job(tmp_path) for _ in range(5)}) == 5


def test_each_version_has_a_way_up_to_this_one() -> None:
    assert len(store.MIGRATIONS) == VERSION - 1


@pytest.mark.skipif(sys.platform == "win32", reason="making links needs a right that few have there")
def test_a_file_reached_by_a_link_is_the_same_job(journal: Journal, tmp_path: Path) -> None:
    link = tmp_path / "link.job"
    link.symlink_to(journal.path)
    with pytest.raises(JournalError, match="another program is working on this job"):
        Journal.open(link)


@pytest.mark.parametrize("name", ["a?b#c%41&mode=memory", "sp ace", "küche"])
def test_a_folder_of_any_name_will_do(tmp_path: Path, name: str) -> None:
    path = closed_job(tmp_path / name)
    assert path.parent == tmp_path / name
    with contextlib.closing(Journal.look(path)) as seen:
        assert len(seen.entries()) == 3
