"""Backups: whole, of one moment, checked, and never in the way of anything."""

from __future__ import annotations

import resource
import sqlite3
import stat
import threading
import tracemalloc
from contextlib import closing, contextmanager

import pytest
from sqlalchemy import text

from api.db import backup, copying, upgrade
from api.db.backup_file import examine
from api.db.backups import SqlBackups
from api.db.copying import contents
from api.db.engine import WRITES, make_engine
from api.db.tables import metadata
from api.db.upgrade import newest_revision
from api.ports import BookVersion, Conflict, NotFound, StorageUnavailable, StoredBook
from api.ports.backups import BackupRefused
from tests.db.filling import NOON, ODD, add, entry, fill


@pytest.fixture
def backups(any_storage, any_database, clock):
    return SqlBackups(any_database, clock)


@pytest.fixture
def full(any_storage):
    fill(any_storage.engine)
    return any_storage


def now(storage):
    with storage.engine.connect() as connection:
        return contents(connection, newest_revision())


def left_over(folder):
    return sorted(path.name for path in folder.glob(".*"))


@contextmanager
def no_file_larger_than(count):
    """The disk full, as far as one file can tell."""
    _, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (count, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))


def test_a_backup_holds_what_the_database_holds(backups, full, tmp_path):
    target = tmp_path / "kept" / "b.db"
    target.parent.mkdir()
    told = backups.make(target)
    assert told.contents == now(full) == examine(target)
    assert (told.file, told.size) == (target, target.stat().st_size)
    assert stat.S_IMODE(target.stat().st_mode) == 0o600
    assert [path.name for path in target.parent.iterdir()] == ["b.db"]
    with closing(sqlite3.connect(target)) as opened:
        assert opened.execute("PRAGMA journal_mode").fetchone() == ("delete",)


def test_what_is_not_committed_is_not_in_it(backups, full, tmp_path):
    with full.engine.connect().execution_options(**{WRITES: True}) as writer:
        before = now(full)
        with writer.begin() as transaction:
            writer.execute(text("DELETE FROM coins"))
            told = backups.make(tmp_path / "b.db")
            transaction.rollback()
    assert told.contents == before


@pytest.mark.slow
def test_it_is_of_one_moment_while_others_write(backups, any_storage, tmp_path):
    stop, written = threading.Event(), threading.Event()

    def put(unit):
        version = unit.revisions.bump("price_book")
        about = BookVersion(version=version, created_at=NOON, by="", note="")
        unit.books.add(StoredBook(about=about, document=ODD))

    def write():
        while not stop.is_set():
            any_storage.write(put)
            written.set()

    thread = threading.Thread(target=write)
    thread.start()
    written.wait(10)
    try:
        files = [backups.make(tmp_path / f"{n}.db").file for n in range(3)]
    finally:
        stop.set()
        thread.join()
    found = [counted(file) for file in files]
    assert all(versions == count for versions, count in found)
    assert found == sorted(found)
    assert found[0][0] >= 1


def counted(file):
    with closing(sqlite3.connect(file)) as opened:
        return opened.execute(
            "SELECT (SELECT count(*) FROM price_book_versions), "
            "(SELECT revision FROM revisions WHERE name = 'price_book')"
        ).fetchone()


def test_its_name_is_dated_by_default(backups, any_storage, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)  # where the SQLite file lies already
    made = backups.make().file
    assert made.parent == tmp_path
    on_file = any_storage.engine.dialect.name == "sqlite"
    end = "sqlite3" if on_file else "db"
    assert made.name == f"fineweight.backup.20261201T120000Z.{end}"


def test_a_file_that_is_there_is_not_written_over(backups, tmp_path):
    target = tmp_path / "b.db"
    target.write_bytes(b"theirs")
    with pytest.raises(Conflict):
        backups.make(target)
    assert target.read_bytes() == b"theirs"


@pytest.mark.parametrize("fits", [32 * 1024, 1024 * 1024])  # before, among the rows
def test_a_full_disk_leaves_nothing_behind(backups, full, tmp_path, fits):
    target = tmp_path / "b.db"
    add(full.engine, "audit_entries", entry(5, after="x" * 3_000_000))
    with (
        no_file_larger_than(fits),
        pytest.raises(BackupRefused, match="cannot be written") as refused,
    ):
        backups.make(target)
    assert str(tmp_path) in refused.value.message
    assert not target.exists()
    assert left_over(tmp_path) == []
    assert backups.make(target).contents == now(full)


def test_before_there_are_tables_the_program_says_what_to_do(any_database, clock):
    make_engine(any_database).dispose()
    with pytest.raises(StorageUnavailable, match="fineweight db upgrade"):
        SqlBackups(any_database, clock).make()


def test_no_database_is_no_backup(tmp_path, clock):
    missing = tmp_path / "none.db"
    with pytest.raises(NotFound, match="no database"):
        SqlBackups(str(missing), clock).make(tmp_path / "b.db")
    assert list(tmp_path.iterdir()) == []


def test_another_programs_database_is_left_alone(tmp_path, clock):
    theirs = tmp_path / "theirs.db"
    with closing(sqlite3.connect(theirs)) as other:
        other.execute("CREATE TABLE t (x)")
    with pytest.raises(BackupRefused, match="no database of this program"):
        SqlBackups(str(theirs), clock).make()
    theirs.write_text("words, " * 1000)
    with pytest.raises(BackupRefused, match="no database at all"):
        SqlBackups(str(theirs), clock).make()


def test_a_damaged_database_gives_no_backup(storage, sqlite_url, clock, tmp_path):
    fill(storage.engine)
    storage.close()
    with open(sqlite_url, "r+b") as file:  # noqa: PTH123 - as a path's text
        file.seek(3 * 4096)
        file.write(b"\xa5" * 4096 * 20)
    with pytest.raises(BackupRefused, match="damaged"):
        SqlBackups(sqlite_url, clock).make(tmp_path / "b.db")
    assert left_over(tmp_path) == []


def test_a_locked_database_is_waited_for_and_then_said_to_be(
    storage, sqlite_url, clock, monkeypatch
):
    monkeypatch.setattr("api.db.backup_file.LOCK_WAIT_S", 0.05)
    storage.close()
    with closing(sqlite3.connect(sqlite_url)) as other:
        other.execute("PRAGMA locking_mode = EXCLUSIVE")
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(StorageUnavailable, match="took too long"):
            SqlBackups(sqlite_url, clock).make()


def test_a_server_that_fails_meanwhile_leaves_nothing_behind(
    postgres_database, open_database, clock, tmp_path, monkeypatch
):
    storage = open_database(postgres_database)
    real = backup.copy_rows

    def fail(source, target):
        real(source, target)
        source.execute(text("SELECT 1 / 0 FROM nothing_there"))

    monkeypatch.setattr(backup, "copy_rows", fail)
    with pytest.raises(StorageUnavailable):
        SqlBackups(postgres_database, clock).make(tmp_path / "b.db")
    assert list(tmp_path.iterdir()) == []
    assert storage.readiness().ready


def test_a_copy_unlike_the_server_is_thrown_away(
    postgres_database, open_database, clock, tmp_path, monkeypatch
):
    fill(open_database(postgres_database).engine)
    monkeypatch.setattr(backup, "copy_rows", lambda *_: None)
    with pytest.raises(BackupRefused, match="unlike the database"):
        SqlBackups(postgres_database, clock).make(tmp_path / "b.db")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_memory_does_not_grow_with_the_rows(
    any_storage, backups, tmp_path, monkeypatch
):
    monkeypatch.setattr(copying, "BATCH", 20)
    backups.make(tmp_path / "first.db")  # whatever is imported is imported by now
    peaks = []
    for count in (100, 800):
        row = entry(0, after="x" * 20_000)
        rows = [row | {"id": count + n} for n in range(count)]
        add(any_storage.engine, "audit_entries", *rows)
        tracemalloc.start()
        backups.make(tmp_path / f"{count}.db")
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < peaks[0] + 1_000_000  # sixteen times that would have to be held


def test_a_backup_of_older_tables_is_made_and_counted(
    tmp_path, sqlite_url, clock, monkeypatch
):
    upgrade(make_engine(sqlite_url))
    monkeypatch.setattr("api.db.backup_file.newest_revision", lambda: "9999")
    found = SqlBackups(sqlite_url, clock).make(tmp_path / "b.db").contents
    assert found.schema == newest_revision()
    assert {each.name for each in found.tables} == metadata.tables.keys() - {
        "job_numbers",
        "quote_numbers",
        "revisions",
    }
    assert {(each.rows, each.sha256) for each in found.tables} == {(0, "")}
