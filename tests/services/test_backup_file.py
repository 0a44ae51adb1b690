"""A backup that is handed over: whole, told of, and nowhere left behind."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest

from api.db.backups import SqlBackups
from api.ports import AuditFilter, Conflict
from api.ports.backups import FOLDER, BackupRefused
from api.services import backup_file
from api.services.audit import Audit
from api.services.backup_file import BackupFiles
from api.services.keys import Keys
from api.services.snapshots import Snapshots


@pytest.fixture
def snapshots(storage, clock):
    return Snapshots(storage, clock)


@pytest.fixture
def files(snapshots, storage, clock):
    database = str(storage.engine.url.database)
    return BackupFiles(snapshots, clock, backups=SqlBackups(database, clock))


def test_it_holds_everything_and_is_told_of(files, snapshots, clock, tmp_path):
    Keys(snapshots, clock).create("shop", "Shop")
    made = files.make()
    assert made.name == f"fineweight.backup.{clock.now():%Y%m%dT%H%M%SZ}.db"
    kept = tmp_path / "kept.db"
    kept.write_bytes(made.body)
    with closing(sqlite3.connect(kept)) as database:
        assert database.execute("SELECT label FROM api_keys").fetchall() == [("Shop",)]
        assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    told = Audit(snapshots).page(AuditFilter(action="backup.taken"), limit=9).entries
    assert [entry.after["bytes"] for entry in told] == [len(made.body)]


def test_one_that_is_too_large_is_refused_and_not_told_of(
    files, snapshots, monkeypatch
):
    monkeypatch.setattr(backup_file, "MOST_BYTES", 1000)
    with pytest.raises(Conflict, match="fineweight backup FILE"):
        files.make()
    told = Audit(snapshots).page(AuditFilter(action="backup.taken"), limit=9).entries
    assert not told


def test_nothing_is_left_behind(files, monkeypatch, tmp_path):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "spare"))
    (tmp_path / "spare").mkdir()
    files.make()
    assert not list((tmp_path / "spare").iterdir())


def test_what_one_that_was_killed_leaves_has_the_name_that_is_swept(snapshots, clock):
    class Watched:
        def make(self, file):
            assert file.parent.name.startswith(FOLDER)
            raise BackupRefused("seen")

    with pytest.raises(Conflict, match="seen"):
        BackupFiles(snapshots, clock, backups=Watched()).make()


def test_one_that_cannot_be_made_says_why(snapshots, clock):
    class Damaged:
        def make(self, file):
            raise BackupRefused("the database is damaged")

    with pytest.raises(Conflict, match="is damaged"):
        BackupFiles(snapshots, clock, backups=Damaged()).make()
