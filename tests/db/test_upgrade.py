"""Bringing a database up to date: whole, once, with a copy of what was there."""

from __future__ import annotations

import shutil
import sqlite3
import stat
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import CheckConstraint, UniqueConstraint, inspect, text

from api.db import schema_is_current, upgrade
from api.db.engine import make_engine
from api.db.tables import metadata
from api.db.upgrade import MIGRATIONS, newest_revision
from api.ports import Revisions, StorageUnavailable

NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)
NEXT = """
import sqlalchemy as sa
from alembic import op

revision = "9999"
down_revision = "{down}"


def upgrade():
    with op.batch_alter_table("coins") as table:
        table.add_column(sa.Column("drawer", sa.Text(), server_default=""))
        table.alter_column("document", new_column_name="figures")
    {then}
"""


@pytest.fixture
def engine(any_database):
    made = make_engine(any_database)
    yield made
    made.dispose()


@pytest.fixture
def later(tmp_path):
    """A folder of migrations with one more than the program's."""

    def made(then="pass"):
        folder = tmp_path / "later"
        shutil.copytree(
            MIGRATIONS, folder, ignore=shutil.ignore_patterns("__pycache__")
        )
        step = NEXT.format(down=newest_revision(), then=then)
        (folder / "versions" / "9999_more.py").write_text(step)
        return folder

    return made


def test_an_empty_database_gets_every_table(engine):
    assert not schema_is_current(engine)
    done = upgrade(engine)
    assert (done.before, done.after, done.copy) == (None, newest_revision(), None)
    assert done.changed
    assert schema_is_current(engine)
    tables = set(inspect(engine).get_table_names())
    assert tables == {*metadata.tables, "alembic_version"}


def test_the_migrations_make_what_the_tables_say(engine):
    upgrade(engine)
    with engine.connect() as connection:
        context = MigrationContext.configure(connection)
        assert compare_metadata(context, metadata) == []


def test_every_check_of_the_tables_is_made_under_its_name(engine):
    upgrade(engine)
    found = inspect(engine)
    for table in metadata.sorted_tables:
        made = {check["name"] for check in found.get_check_constraints(table.name)}
        said = {c.name for c in table.constraints if isinstance(c, CheckConstraint)}
        assert made == said
        assert all(name.startswith(f"ck_{table.name}_") for name in made)
        keys = {key["name"] for key in found.get_foreign_keys(table.name)}
        assert keys == {key.constraint.name for key in table.foreign_keys}
        assert all(name.startswith(f"fk_{table.name}_") for name in keys)
        unique = {each["name"] for each in found.get_unique_constraints(table.name)}
        uniques = {c.name for c in table.constraints if isinstance(c, UniqueConstraint)}
        assert unique == uniques
        indexes = {index["name"] for index in found.get_indexes(table.name)}
        assert indexes - unique == {index.name for index in table.indexes}


def test_a_second_upgrade_does_nothing(engine):
    upgrade(engine)
    done = upgrade(engine)
    assert not done.changed
    assert done.copy is None


def test_upgrades_at_once_make_one_schema(any_database):
    engines = [make_engine(any_database) for _ in range(4)]
    with ThreadPoolExecutor(len(engines)) as pool:
        after = {done.after for done in pool.map(upgrade, engines)}
    assert after == {newest_revision()}
    with engines[0].connect() as connection:
        rows = connection.execute(text("SELECT count(*) FROM revisions")).scalar_one()
    assert rows == len(Revisions._fields)
    for each in engines:
        each.dispose()


def test_a_change_keeps_the_rows_and_copies_an_sqlite_file_first(
    any_storage, later, tmp_path
):
    insert = "INSERT INTO coins VALUES ('kept', '{}', 1, '2026-12-01 12:00:00')"
    with any_storage.engine.begin() as connection:
        connection.execute(text(insert))
    before = newest_revision()
    done = upgrade(any_storage.engine, now=NOON, migrations=later())
    assert (done.before, done.after) == (before, "9999")
    with any_storage.engine.connect() as connection:
        row = connection.execute(text("SELECT key, figures, drawer FROM coins")).one()
    assert tuple(row) == ("kept", "{}", "")
    if any_storage.engine.dialect.name != "sqlite":
        assert done.copy is None
        return
    assert done.copy.parent == tmp_path
    assert f"before-{before}.20261201T120000000000Z" in done.copy.name
    assert stat.S_IMODE(done.copy.stat().st_mode) == 0o600
    with closing(sqlite3.connect(done.copy)) as copy:
        assert copy.execute("SELECT key, document FROM coins").fetchall() == [
            ("kept", "{}")
        ]


def test_foreign_keys_are_on_again_after_a_change(storage, later):
    upgrade(storage.engine, now=NOON, migrations=later())
    with storage.engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar_one() == 1


def test_a_change_that_fails_half_way_leaves_everything(any_storage, later):
    folder = later(then='raise RuntimeError("half way")')
    with pytest.raises(RuntimeError, match="half way"):
        upgrade(any_storage.engine, now=NOON, migrations=folder)
    assert schema_is_current(any_storage.engine)
    columns = {
        each["name"] for each in inspect(any_storage.engine).get_columns("coins")
    }
    assert "document" in columns
    assert any_storage.readiness().ready


BREAKING = """op.execute("CREATE TABLE p (id INTEGER PRIMARY KEY)")
    op.execute("CREATE TABLE c (p INTEGER REFERENCES p (id))")
    op.execute("INSERT INTO c VALUES (5)")"""


def test_a_change_that_breaks_a_reference_is_undone(storage, later):
    with pytest.raises(StorageUnavailable, match="1 references without a row"):
        upgrade(storage.engine, now=NOON, migrations=later(then=BREAKING))
    assert schema_is_current(storage.engine)
    assert "c" not in inspect(storage.engine).get_table_names()


def test_a_database_of_a_newer_program_is_left_alone(any_storage, later):
    upgrade(any_storage.engine, now=NOON, migrations=later())
    with pytest.raises(StorageUnavailable, match=r"9999.*newer"):
        upgrade(any_storage.engine)
    assert not any_storage.readiness().schema


def test_no_change_without_a_copy(storage, later, tmp_path):
    folder = later()
    upgrade_again = {"now": NOON, "migrations": folder}
    taken = f"fineweight.before-{newest_revision()}.20261201T120000000000Z.sqlite3"
    (tmp_path / taken).touch()
    with pytest.raises(StorageUnavailable, match="copy"):
        upgrade(storage.engine, **upgrade_again)
    assert schema_is_current(storage.engine)
