"""Restoring into PostgreSQL: in one transaction, or not at all."""

from __future__ import annotations

import shutil
import threading

import pytest
from sqlalchemy import inspect, text

from api.db import restore_server, upgrade
from api.db.backups import SqlBackups
from api.db.copying import contents
from api.db.engine import make_engine
from api.db.upgrade import MIGRATIONS, newest_revision, schema_is_current
from api.ports import StorageUnavailable
from api.ports.backups import BackupRefused, Contents
from tests.db.filling import add, coin, fill
from tests.db.restoring import brought_back


@pytest.fixture(autouse=True)
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def live(postgres_database, open_database):
    """A database that holds something."""
    storage = open_database(postgres_database)
    fill(storage.engine)
    return storage


@pytest.fixture
def made(live, postgres_database, clock):
    """A backup of it, from before it changed."""
    made = SqlBackups(postgres_database, clock).make()
    add(live.engine, "coins", coin("since"))
    return made


@pytest.fixture
def put_back(postgres_database, made, clock):
    """Restore the backup."""

    def put_back():
        with SqlBackups(postgres_database, clock).opened(made.file) as ready:
            return ready.run()

    return put_back


def now(storage):
    with storage.engine.connect() as connection:
        return contents(connection, newest_revision())


def last_ids(storage):
    query = text("SELECT sequencename, last_value FROM pg_sequences ORDER BY 1")
    with storage.engine.connect() as connection:
        return connection.execute(query).all()


@pytest.mark.parametrize("where", ["copy_rows", "raise_last_ids"])
def test_what_fails_half_way_changes_nothing(live, put_back, monkeypatch, where):
    real = getattr(restore_server, where)

    def fail(*given):
        real(*given)
        raise RuntimeError(where)

    monkeypatch.setattr(restore_server, where, fail)
    before = now(live), last_ids(live), live.revisions()
    with pytest.raises(RuntimeError, match=where):
        put_back()
    assert (now(live), last_ids(live), live.revisions()) == before


def test_what_came_out_unlike_the_backup_is_undone(live, put_back, monkeypatch):
    monkeypatch.setattr(restore_server, "copy_rows", lambda *_: None)
    before = now(live)
    with pytest.raises(BackupRefused, match="nothing was changed"):
        put_back()
    assert now(live) == before


def test_a_request_in_between_waits_and_finds_what_was_restored(
    live, put_back, monkeypatch
):
    asked, answers = [], []

    def ask():
        answers.append(live.revisions())

    real = restore_server.copy_rows

    def copy_rows(source, target):
        thread = threading.Thread(target=ask)
        thread.start()
        waiting = text("SELECT count(*) FROM pg_locks WHERE NOT granted")
        while thread.is_alive() and not target.execute(waiting).scalar_one():
            pass
        asked.append(thread)
        real(source, target)

    monkeypatch.setattr(restore_server, "copy_rows", copy_rows)
    before = live.revisions()
    put_back()
    asked[0].join(10)
    assert all(a > b for a, b in zip(answers[0], before, strict=True))


def test_a_lock_that_is_not_let_go_is_not_waited_for_for_ever(
    live, put_back, monkeypatch
):
    real = restore_server._lock

    def hasty(connection):
        connection.execute(text("SET LOCAL lock_timeout = 50"))
        real(connection)

    monkeypatch.setattr(restore_server, "_lock", hasty)
    before = now(live)
    with live.engine.begin() as writer:
        writer.execute(text("LOCK TABLE quotes IN ROW EXCLUSIVE MODE"))
        with pytest.raises(StorageUnavailable, match="nothing was changed"):
            put_back()
    assert now(live) == before


def test_older_tables_are_kept_in_todays_form(made, postgres_database, clock, tmp_path):
    engine = make_engine(postgres_database)
    with engine.begin() as connection:
        connection.execute(text("DROP SCHEMA public CASCADE"))
        connection.execute(text("CREATE SCHEMA public"))
    folder = tmp_path / "migrations"
    later = shutil.ignore_patterns("__pycache__", "000[3-9]_*", "00[1-9]?_*")
    shutil.copytree(MIGRATIONS, folder, ignore=later)
    upgrade(engine, migrations=folder)
    add(engine, "coins", coin("old"))
    with SqlBackups(postgres_database, clock).opened(made.file) as ready:
        assert ready.present.contents == Contents(schema="", tables=())
        assert not schema_is_current(engine)  # looking has changed nothing
        done = ready.run()
    assert brought_back(engine) == made.contents
    engine.dispose()
    with SqlBackups(str(tmp_path / "none.db"), clock).opened(done.kept) as ready:
        rows = {each.name: each.rows for each in ready.contents.tables}
    assert rows["coins"] == 1


def test_tables_of_a_newer_program_are_left_alone(live, put_back):
    newer = text("UPDATE alembic_version SET version_num = '9999'")
    with live.engine.begin() as connection:
        connection.execute(newer)
    before = now(live)
    with pytest.raises(StorageUnavailable, match="9999"):
        put_back()
    assert now(live) == before
    assert inspect(live.engine).has_table("coins")


def test_no_backup_is_made_of_older_tables(postgres_database, clock):
    make_engine(postgres_database).dispose()
    with pytest.raises(StorageUnavailable, match="fineweight db upgrade"):
        SqlBackups(postgres_database, clock).make()
