"""Which files can be restored, and that looking at one does not change it."""

from __future__ import annotations

import hashlib
import shutil
import sqlite3
from contextlib import closing

import pytest

from api.db import upgrade
from api.db.backups import SqlBackups
from api.db.engine import APPLICATION_ID, make_engine
from api.db.upgrade import MIGRATIONS, newest_revision
from api.ports.backups import BackupRefused
from tests.db.filling import add, coin, fill
from tests.db.restoring import brought_back_to


@pytest.fixture
def backups(tmp_path, clock):
    """Of an installation that is not there yet."""
    return SqlBackups(str(tmp_path / "live" / "rings.db"), clock)


@pytest.fixture
def made(storage, sqlite_url, clock):
    fill(storage.engine)
    return SqlBackups(sqlite_url, clock).make().file


def refusal(backups, file):
    with pytest.raises(BackupRefused) as refused, backups.opened(file):
        raise AssertionError
    assert not (backups._live.parent.exists())
    return refused.value.message


def altered(file, *statements):
    """The file after other programs have been at it."""
    with closing(sqlite3.connect(file)) as connection:
        for statement in statements:
            connection.execute(statement)
        connection.commit()
    return file


def digest(file):
    return hashlib.sha256(file.read_bytes()).hexdigest()


def test_a_file_that_is_not_there_is_refused(backups, tmp_path):
    assert "No such file" in refusal(backups, tmp_path / "none.db")


def test_a_folder_is_refused(backups, tmp_path):
    assert "is a folder" in refusal(backups, tmp_path)


def test_what_is_no_database_is_refused(backups, tmp_path):
    words = tmp_path / "words.txt"
    words.write_text("not a database, " * 1000)
    assert "no database at all" in refusal(backups, words)


def test_an_empty_file_is_refused(backups, tmp_path):
    empty = tmp_path / "empty.db"
    empty.touch()
    assert "no database of this program" in refusal(backups, empty)


def test_another_programs_database_is_refused(backups, made):
    altered(made, "PRAGMA application_id = 7")
    assert "no database of this program" in refusal(backups, made)


def test_a_database_of_ours_without_tables_is_refused(backups, tmp_path):
    bare = altered(
        tmp_path / "bare.db",
        "CREATE TABLE x (y)",
        f"PRAGMA application_id = {APPLICATION_ID}",
    )
    assert "holds no tables of this program" in refusal(backups, bare)
    altered(bare, "CREATE TABLE alembic_version (version_num)")
    assert "holds no tables of this program" in refusal(backups, bare)


def test_tables_of_a_newer_program_are_refused(backups, made):
    altered(made, "UPDATE alembic_version SET version_num = '9999'")
    assert "newer one made it" in refusal(backups, made)


@pytest.mark.parametrize("page", [1, 4, 17])
def test_damage_is_found_wherever_it_is(backups, made, page):
    with made.open("r+b") as file:
        file.seek(page * 4096)
        file.write(b"\xa5" * 4096)
    said = refusal(backups, made)
    assert "is damaged" in said
    assert "older backup" in said


def test_half_a_file_is_found(backups, made):
    with made.open("r+b") as file:
        file.truncate(made.stat().st_size // 2)
    assert "is damaged" in refusal(backups, made)


def test_a_file_that_somebody_is_writing_is_refused(backups, made, monkeypatch):
    monkeypatch.setattr("api.db.backup_file.LOCK_WAIT_S", 0.05)
    with closing(sqlite3.connect(made)) as writer:
        writer.execute("BEGIN EXCLUSIVE")
        assert "cannot be read (database is locked)" in refusal(backups, made)


def test_a_reference_to_nothing_is_damage(backups, made):
    altered(made, "DELETE FROM feeds")
    assert "references without a row" in refusal(backups, made)


@pytest.mark.parametrize(
    ("statement", "named"),
    [
        ("DROP TRIGGER audit_entries_stay", "audit_entries_stay"),
        ("DROP INDEX ix_quotes_status_seq", "ix_quotes_status_seq"),
        ("CREATE VIEW other AS SELECT 1", "other"),
        (
            "CREATE TRIGGER sly AFTER INSERT ON coins BEGIN DELETE FROM quotas; END",
            "sly",
        ),
    ],
)
def test_what_another_program_did_to_the_tables_is_refused(
    backups, made, statement, named
):
    said = refusal(backups, altered(made, statement))
    assert f"another program: {named} not" in said


def test_a_trigger_of_the_right_name_with_other_words_is_refused(backups, made):
    altered(
        made,
        "DROP TRIGGER quotes_stay",
        "CREATE TRIGGER quotes_stay BEFORE DELETE ON quotes BEGIN SELECT 1; END",
    )
    assert "quotes_stay not" in refusal(backups, made)


def test_a_missing_column_is_refused(backups, made):
    altered(made, "ALTER TABLE coins RENAME COLUMN document TO figures")
    assert "cannot be read" in refusal(backups, made)


def test_the_database_itself_is_no_backup_of_it(storage, sqlite_url, clock, tmp_path):
    other_name = tmp_path / "same.db"
    other_name.symlink_to(sqlite_url)
    for file in (tmp_path / "fineweight.sqlite3", other_name):
        with (
            pytest.raises(BackupRefused, match="the database itself"),
            SqlBackups(sqlite_url, clock).opened(file),
        ):
            raise AssertionError


@pytest.fixture
def old(tmp_path):
    """A database made by the program when it had two migrations, with a row."""
    folder, file = tmp_path / "migrations", tmp_path / "old.db"
    later = shutil.ignore_patterns("__pycache__", "000[3-9]_*", "00[1-9]?_*")
    shutil.copytree(MIGRATIONS, folder, ignore=later)
    engine = make_engine(str(file))
    upgrade(engine, migrations=folder)
    add(engine, "coins", coin("kept"))
    engine.dispose()
    return file


def test_an_older_backup_is_upgraded_and_its_file_is_not(backups, old):
    before = digest(old)
    with backups.opened(old) as ready:
        assert ready.schema == "0002"
        assert ready.contents.schema == newest_revision()
        rows = {each.name: each.rows for each in ready.contents.tables}
        ready.run()
    assert (rows["coins"], rows["quotes"]) == (1, 0)
    assert digest(old) == before
    assert brought_back_to(backups._live) == ready.contents


def test_a_copy_with_its_log_beside_it_is_read_with_that(
    backups, storage, sqlite_url, tmp_path
):
    add(storage.engine, "coins", coin("in_the_log"))
    copy = tmp_path / "copy.db"
    for end in ("", "-wal"):
        shutil.copyfile(f"{sqlite_url}{end}", f"{copy}{end}")
    before = digest(copy)
    with backups.opened(copy) as ready:
        rows = {each.name: each.rows for each in ready.contents.tables}
    assert rows["coins"] == 1
    assert digest(copy) == before


def test_nothing_is_left_of_looking_at_one(backups, made):
    before = {path.name for path in made.parent.iterdir()}
    with backups.opened(made):
        pass
    assert {path.name for path in made.parent.iterdir()} == before
