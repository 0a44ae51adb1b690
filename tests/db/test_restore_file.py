"""Restoring into an SQLite file that others have open, that is locked or damaged."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import text

from api.db import restore
from api.db.backup_file import examine
from api.db.backups import SqlBackups
from api.db.copying import contents
from api.db.engine import APPLICATION_ID, WRITES
from api.db.upgrade import newest_revision
from api.ports import Conflict, StorageUnavailable
from api.ports.backups import BackupRefused
from tests.db.filling import add, coin, fill
from tests.db.restoring import brought_back, brought_back_to


@pytest.fixture
def live(sqlite_url):
    return Path(sqlite_url)


@pytest.fixture
def made(storage, sqlite_url, clock):
    """A backup of a database that changed since."""
    fill(storage.engine)
    made = SqlBackups(sqlite_url, clock).make()
    add(storage.engine, "coins", coin("since"))
    return made


def put_back(live, made, clock):
    with SqlBackups(str(live), clock).opened(made.file) as ready:
        return ready.run()


def now(storage):
    with storage.engine.connect() as connection:
        return contents(connection, newest_revision())


def spoil(file, page):
    with file.open("r+b") as opened:
        opened.seek(page * 4096)
        opened.write(b"\xa5" * 4096)


def test_a_connection_that_is_open_sees_what_was_restored(storage, live, made, clock):
    with storage.engine.connect() as connection:
        count = text("SELECT count(*) FROM coins WHERE key = 'since'")
        assert connection.execute(count).scalar_one() == 1
        connection.rollback()
        put_back(live, made, clock)
        assert connection.execute(count).scalar_one() == 0


def test_one_that_reads_meanwhile_keeps_its_view_to_the_end(storage, live, made, clock):
    with storage.engine.connect() as reader:
        before = contents(reader, newest_revision())
        put_back(live, made, clock)
        assert contents(reader, newest_revision()) == before
    assert brought_back(storage.engine) == made.contents


def test_the_file_stays_as_it_has_to_be(storage, live, made, clock):
    put_back(live, made, clock)
    with closing(sqlite3.connect(live)) as connection:
        for name, value in (
            ("journal_mode", "wal"),
            ("application_id", APPLICATION_ID),
            ("integrity_check", "ok"),
        ):
            assert connection.execute(f"PRAGMA {name}").fetchone() == (value,)
    assert live.stat().st_mode & 0o777 == 0o600


def test_a_writer_that_does_not_end_is_not_waited_for_for_ever(
    storage, live, made, clock, monkeypatch
):
    monkeypatch.setattr(restore, "LOCK_WAIT_S", 0.05)
    before = now(storage)
    writing = storage.engine.connect().execution_options(**{WRITES: True})
    with (
        writing as writer,
        writer.begin(),
        pytest.raises(StorageUnavailable, match="nothing was changed"),
    ):
        put_back(live, made, clock)
    assert now(storage) == before


def test_a_full_disk_changes_nothing(storage, live, made, clock, monkeypatch):
    before = now(storage)

    def fill_up(copy, connection):
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")
        with closing(sqlite3.connect(copy)) as large:
            large.execute("CREATE TABLE large AS SELECT zeroblob(9000000) AS x")
            large.commit()

    monkeypatch.setattr(restore, "_match_pages", fill_up)
    with pytest.raises(BackupRefused, match=r"full.*nothing was changed"):
        put_back(live, made, clock)
    assert now(storage) == before


def test_what_changes_while_the_state_is_kept_is_kept_too(
    storage, live, made, clock, monkeypatch
):
    late = iter(["first", "second"])
    real = restore.copy_file

    def copy_file(source, part):
        real(source, part)
        for key in late:
            add(storage.engine, "coins", coin(key))
            break

    monkeypatch.setattr(restore, "copy_file", copy_file)
    done = put_back(live, made, clock)
    assert not done.overtaken
    with closing(sqlite3.connect(done.kept)) as kept:
        query = "SELECT count(*) FROM coins WHERE key IN ('since', 'first', 'second')"
        assert kept.execute(query).fetchone() == (3,)
    assert brought_back(storage.engine) == made.contents


def test_one_that_is_changed_all_the_time_is_restored_all_the_same(
    storage, live, made, clock, monkeypatch
):
    late = iter(range(99))
    real = restore.copy_file

    def copy_file(source, part):
        real(source, part)
        add(storage.engine, "coins", coin(f"late-{next(late)}"))

    monkeypatch.setattr(restore, "copy_file", copy_file)
    assert put_back(live, made, clock).overtaken  # and says that something is lost
    assert next(late) == restore.TRIES
    assert brought_back(storage.engine) == made.contents


def test_a_file_in_the_place_of_the_state_to_be_kept_stays(
    storage, live, made, clock, tmp_path
):
    before = now(storage)
    with SqlBackups(str(live), clock).opened(made.file) as ready:
        ready.aside.write_bytes(b"theirs")
        with pytest.raises(Conflict):
            ready.run()
        assert ready.aside.read_bytes() == b"theirs"
    assert now(storage) == before


def test_a_change_in_the_last_moment_is_told_of(
    storage, live, made, clock, monkeypatch
):
    def late(*_):
        add(storage.engine, "coins", coin("late"))

    monkeypatch.setattr(restore, "_match_pages", late)
    assert put_back(live, made, clock).overtaken
    assert brought_back(storage.engine) == made.contents


def test_pages_of_another_size_are_no_hindrance(storage, live, made, clock):
    with closing(sqlite3.connect(made.file)) as backup:
        backup.execute("PRAGMA page_size = 1024")
        backup.execute("VACUUM")
    put_back(live, made, clock)
    assert brought_back(storage.engine) == made.contents


def test_a_damaged_database_is_kept_as_it_is_and_replaced(storage, live, made, clock):
    storage.close()
    spoil(live, 4)
    spoil(live, 5)
    before = live.read_bytes()
    with SqlBackups(str(live), clock).opened(made.file) as ready:
        assert ready.present.contents is None
        assert "damaged" in ready.present.damage
        done = ready.run()
    assert done.kept.read_bytes() == before
    assert brought_back(storage.engine) == made.contents


def test_so_is_one_that_never_had_a_log(storage, live, made, clock):
    begun = live.with_name("begun.db")
    shutil.copyfile(made.file, begun)
    spoil(begun, 4)
    done = put_back(begun, made, clock)
    assert done.kept.stat().st_size == made.size
    assert not Path(f"{done.kept}-wal").exists()
    assert brought_back_to(begun) == made.contents


def test_so_is_the_log_of_one_that_is_in_use(storage, live, made, clock):
    with storage.engine.connect():  # the log is not folded into the file
        with closing(sqlite3.connect(live)) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        add(storage.engine, "coins", coin("in_the_log"))
        log = Path(f"{live}-wal")
        shutil.copyfile(log, live.with_name("log"))
        for page in range(3, 40):
            spoil(live, page)
        done = put_back(live, made, clock)
    kept = Path(f"{done.kept}-wal")
    assert kept.read_bytes() == live.with_name("log").read_bytes()
    assert brought_back(storage.engine) == made.contents


def test_a_file_that_was_only_begun_is_replaced(tmp_path, made, clock):
    begun = tmp_path / "begun.db"
    begun.touch()
    assert put_back(begun, made, clock).kept is None
    assert brought_back_to(begun) == made.contents


def test_one_without_tables_is_kept_and_replaced(tmp_path, made, clock):
    bare = tmp_path / "bare.db"
    with closing(sqlite3.connect(bare)) as connection:
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    done = put_back(bare, made, clock)
    assert examine(done.kept).tables == ()
    assert brought_back_to(bare) == made.contents


def test_a_file_of_another_program_is_not_replaced(tmp_path, made, clock):
    theirs = tmp_path / "theirs.db"
    for content in (b"words, " * 1000, made.file.read_bytes()):
        theirs.write_bytes(content)
        if content.startswith(b"SQLite"):
            with closing(sqlite3.connect(theirs)) as connection:
                connection.execute("PRAGMA application_id = 7")
        before = theirs.read_bytes()
        with (
            SqlBackups(str(theirs), clock).opened(made.file) as ready,
            pytest.raises(BackupRefused, match="no database"),
        ):
            ready.run()
        assert theirs.read_bytes() == before
