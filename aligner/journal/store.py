"""One SQLite file a job.

Theory of operation. A job is a thing that people copy, send and keep, so it is one file, also while it is open: the
rollback journal (DELETE mode) leaves nothing beside it between two entries, and `synchronous=EXTRA` has both the file
and its folder on the disk before COMMIT returns. Each entry is one transaction. `append` returns after its COMMIT;
whoever shows an answer as taken only after `append` has returned can be killed at any instant and has lost nothing that
was shown.

Nothing is changed or deleted: triggers forbid it, and entries are numbered without gaps. SQLite runs triggers of
DELETE for an INSERT OR REPLACE only with `recursive_triggers` on, so it is on.

`progress` holds what a list of jobs shows of a job without computing anything: a row whenever the open step changes.
It is never read for anything else; where it is missing or behind, the next opening of the job puts it right.

One writer, by `Lock`. Readers open the file read only and need no lock of ours. A file may come from anybody: it must
bear our application id, a version that we know, and exactly our tables and triggers, before anything else is asked of
it; SQLite checks its pages; every entry is decoded against its type.
"""

import contextlib
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import msgspec

from aligner.engine.history import Entry
from aligner.errors import JournalError
from aligner.journal.codec import LONGEST_TEXT, decoded, encoded, kind_of
from aligner.journal.files import demand_file, draft_in, place, placed_as_job
from aligner.journal.form import APPLICATION_ID, SCHEMA, VERSION, Glance, Head
from aligner.journal.lock import Lock
from aligner.journal.names import made_folder
from aligner.text import clean

_PATIENCE_S: Final = 5.0  # how long to wait for another program's commit or reading
_LOOK_PATIENCE_S: Final = 1.0
_NEEDED_SQLITE: Final = (3, 37, 0)  # STRICT tables
_SETTINGS: Final = ("synchronous = EXTRA", "recursive_triggers = ON", "trusted_schema = OFF", "cell_size_check = ON")

MIGRATIONS: Final[tuple[Callable[[sqlite3.Connection], None], ...]] = ()
"""The function at index n takes a file from version n + 1 to n + 2; each runs in one transaction with its version."""


class Journal:
    """An open job file. It belongs to the thread that opened it."""

    def __init__(self, path: Path, connection: sqlite3.Connection, lock: Lock | None) -> None:
        self.path = path
        self._connection = connection
        self._lock = lock
        self.head = _head(path, connection)

    @classmethod
    def create(cls, folder: Path, head: Head) -> "Journal":
        """A new job file in the folder, named for the set or else the procedure, opened for writing."""
        with draft_in(made_folder(folder)) as draft:
            with contextlib.closing(_connect(draft, "rwc")) as connection, _transaction(draft, connection):
                _lay_out(connection, head)
            path = placed_as_job(draft, folder, head.name or head.procedure_name)
        return cls.open(path)

    @classmethod
    def open(cls, path: Path) -> "Journal":
        """The job file, to read and to add to; JournalError where it is in use, damaged, newer or no job at all."""
        demand_file(path)
        lock = Lock(path.resolve())  # one lock, by whatever link the file is reached
        try:
            connection = _connect(path, "rw")
            try:
                _check(path, connection)
                _migrate(path, connection)
                with _told(path):  # a file that somebody set to another mode would not be whole by itself
                    connection.execute("PRAGMA journal_mode = DELETE")
                return cls(path, connection, lock)
            except BaseException:
                connection.close()
                raise
        except BaseException:
            lock.release()
            raise

    @classmethod
    def look(cls, path: Path) -> "Journal":
        """The job file, only to read; another program may be writing to it."""
        demand_file(path)
        connection = _connect_to_look(path)
        try:
            _check(path, connection)
            return cls(path, connection, None)
        except BaseException:
            connection.close()
            raise

    def entries(self) -> tuple[Entry, ...]:
        """All entries, oldest first."""
        with _told(self.path):
            rows = self._connection.execute("SELECT seq, body FROM entry ORDER BY seq").fetchall()
        entries = tuple(_entry(self.path, seq, body) for seq, body in rows)
        for expected, entry in enumerate(entries, start=1):
            if entry.seq != expected:
                raise JournalError(f"{self.path}: damaged: entry {expected} is missing; take a copy kept elsewhere")
        return entries

    def append(self, entry: Entry, at: float) -> Entry:
        """Add the entry, written at that time [s since 1970]; it is on the disk when this returns, as it is read back.

        AnswerError where a number of it is not finite, JournalError where it could not be written; then nothing was.
        """
        body = encoded(entry)
        kept = decoded(body)
        self._insert("INSERT INTO entry VALUES (?, ?, ?, ?)", (entry.seq, at, kind_of(entry), body))
        return kept

    def mark(self, seq: int, step: str, *, finished: bool) -> None:
        """Add where the job stands after that entry, for lists of jobs: at which step, or how it has ended."""
        self._insert("INSERT INTO progress (seq, step, finished) VALUES (?, ?, ?)", (seq, step, int(finished)))

    def glance(self) -> Glance:
        """What a list shows of the job."""
        with _told(self.path):
            newest = self._connection.execute("SELECT seq, at FROM entry ORDER BY seq DESC LIMIT 1").fetchone()
            row = self._connection.execute(
                "SELECT step, finished FROM progress ORDER BY number DESC LIMIT 1"
            ).fetchone()
        entries, changed = newest or (0, self.head.created)
        step, finished = row or ("", 0)
        return Glance(self.head, entries, changed, clean(step), bool(finished))

    def copy_to(self, path: Path) -> None:
        """Write the whole job to a file that does not exist yet."""
        with _told(path), contextlib.closing(_connect(path, "rwc")) as copy:
            self._connection.backup(copy)

    def close(self) -> None:
        """Close the file and let go of the lock; harmless when repeated."""
        self._connection.close()
        if self._lock is not None:
            self._lock.release()

    def _insert(self, statement: str, values: tuple[object, ...]) -> None:
        if self._lock is None:
            raise JournalError(f"{self.path}: opened only to look; nothing can be added")
        with _transaction(self.path, self._connection):
            self._connection.execute(statement, values)


def glance(path: Path) -> Glance:
    """What a list shows of the job in that file; its entries and pages are not checked."""
    demand_file(path)
    with contextlib.closing(_connect_to_look(path)) as connection:
        _check_kind(path, connection)
        return Journal(path, connection, None).glance()


def export_job(path: Path, target: Path) -> None:
    """Copy the job to a new file, whole also while somebody is writing to it."""
    with contextlib.closing(Journal.look(path)) as journal, draft_in(target.parent) as draft:
        journal.copy_to(draft)
        try:
            place(draft, target)
        except FileExistsError as error:
            raise JournalError(f"{target}: there is such a file already; give a new name") from error


def import_job(source: Path, folder: Path) -> Path:
    """Take a job file from elsewhere into the folder of jobs, checked; returns its new place."""
    with contextlib.closing(Journal.look(source)) as journal, draft_in(made_folder(folder)) as draft:
        journal.entries()
        journal.copy_to(draft)
        return placed_as_job(draft, folder, journal.head.name or journal.head.procedure_name)


def _connect(path: Path, mode: str, patience_s: float = _PATIENCE_S) -> sqlite3.Connection:
    if sqlite3.sqlite_version_info < _NEEDED_SQLITE:
        raise JournalError(f"SQLite {sqlite3.sqlite_version} is too old; a Python with 3.37 or newer is needed")
    with _told(path):
        return _raw_connection(path, mode, patience_s)


def _raw_connection(path: Path, mode: str, patience_s: float) -> sqlite3.Connection:
    uri = f"{path.absolute().as_uri()}?mode={mode}"
    connection = sqlite3.connect(uri, timeout=patience_s, isolation_level=None, uri=True)
    try:
        for setting in _SETTINGS:
            connection.execute(f"PRAGMA {setting}")
    except BaseException:
        connection.close()
        raise
    return connection


def _connect_to_look(path: Path) -> sqlite3.Connection:
    """A read-only connection, after what a killed writer left half done has been rolled back.

    SQLite does that by itself at the first access, but must write for it, even where one only wants to look.
    """
    with _told(path):
        try:
            return _raw_connection(path, "ro", _LOOK_PATIENCE_S)
        except sqlite3.OperationalError as error:
            if (error.sqlite_errorcode & 0xFF) not in {sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN}:
                raise
        _raw_connection(path, "rw", _LOOK_PATIENCE_S).close()
        return _raw_connection(path, "ro", _LOOK_PATIENCE_S)


def _lay_out(connection: sqlite3.Connection, head: Head) -> None:
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {VERSION}")
    for statement in SCHEMA:
        connection.execute(statement)
    connection.execute(
        "INSERT INTO job VALUES (1, ?, ?, ?, ?, ?, ?, ?)",
        (head.name, head.procedure_name, head.title, head.procedure, head.created, head.version, head.taught),
    )


def _check_kind(path: Path, connection: sqlite3.Connection) -> None:
    with _told(path):
        kind = connection.execute("PRAGMA application_id").fetchone()[0]
        version = connection.execute("PRAGMA user_version").fetchone()[0]
    if kind != APPLICATION_ID:
        raise JournalError(f"{path}: this is a database, but no job of this program")
    if version > VERSION:
        raise JournalError(
            f"{path}: written by a newer version of this program (form {version}, this one reads up to {VERSION}); "
            "nothing was changed in it; use the newer version"
        )
    if version == VERSION:
        with _told(path):
            found = {row[0] for row in connection.execute("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL")}
        if found != set(SCHEMA):
            raise JournalError(f"{path}: its tables are not those of a job; the file is damaged or was altered")


def _check(path: Path, connection: sqlite3.Connection) -> None:
    _check_kind(path, connection)
    with _told(path):
        report = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if report != "ok":
        raise JournalError(f"{path}: damaged ({clean(report)}); take a copy kept elsewhere")


def _migrate(path: Path, connection: sqlite3.Connection) -> None:
    with _told(path):
        version = connection.execute("PRAGMA user_version").fetchone()[0]
    for known, migration in enumerate(MIGRATIONS, start=1):
        if known >= version:
            with _transaction(path, connection):
                migration(connection)
                connection.execute(f"PRAGMA user_version = {known + 1}")


def _head(path: Path, connection: sqlite3.Connection) -> Head:
    columns = "name, procedure_name, title, procedure, created, version, taught"
    with _told(path):
        row = connection.execute(f"SELECT {columns} FROM job").fetchone()  # noqa: S608 - fixed names
    if row is None:
        raise JournalError(f"{path}: damaged: it does not say what job it is; take a copy kept elsewhere")
    name, procedure_name, title, procedure, created, version, taught = row
    # The procedure's text is cleaned where it is parsed; as kept here it must stay what it was.
    return Head(clean(name), clean(procedure_name), clean(title), procedure, created, clean(version), taught)


def _entry(path: Path, seq: int, body: str) -> Entry:
    try:
        return decoded(body)
    except (msgspec.MsgspecError, RecursionError) as error:
        why = clean(str(error), LONGEST_TEXT)
        raise JournalError(f"{path}: damaged at entry {seq} ({why}); take a copy kept elsewhere") from error


@contextlib.contextmanager
def _transaction(path: Path, connection: sqlite3.Connection) -> Iterator[None]:
    """BEGIN IMMEDIATE, then COMMIT; a ROLLBACK at whatever goes wrong (which `with connection` would not do here)."""
    with _told(path):
        connection.execute("BEGIN IMMEDIATE")
        try:
            yield
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise


@contextlib.contextmanager
def _told(path: Path) -> Iterator[None]:
    """Errors of SQLite as JournalError in plain words."""
    try:
        yield
    except sqlite3.Error as error:
        raise _explained(path, error) from error


def _explained(path: Path, error: sqlite3.Error) -> JournalError:
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # the low byte is the kind, the rest its variant
    words = {
        sqlite3.SQLITE_FULL: "no room on the disk; make room and answer again, nothing recorded is lost",
        sqlite3.SQLITE_BUSY: "another program is using the file; close it there and answer again",
        sqlite3.SQLITE_LOCKED: "another program is using the file; close it there and answer again",
        sqlite3.SQLITE_READONLY: "the file or its folder may not be written",
        sqlite3.SQLITE_PERM: "the file may not be used; look at its permissions",
        sqlite3.SQLITE_CANTOPEN: "the file cannot be opened; look at its permissions and its folder",
        sqlite3.SQLITE_IOERR: "the disk gave an error; nothing recorded before is lost",
        sqlite3.SQLITE_NOTADB: "damaged, or no job at all; take a copy kept elsewhere",
        sqlite3.SQLITE_CORRUPT: "damaged; take a copy kept elsewhere",
    }
    return JournalError(f"{path}: {words.get(code, 'the job file cannot be used')} ({error})")
