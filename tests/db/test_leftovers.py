"""What a killed backup or restore left is removed by the next one, a day later."""

from __future__ import annotations

import os
import time
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from api.db.backups import SqlBackups
from api.db.leftovers import KEPT_S, sweep
from tests.db.filling import fill

STAMP = "20261125T131500Z"


@pytest.fixture
def left(tmp_path):
    """Leaves a file, or a folder with a file, of some age."""

    def left(name, *, age=KEPT_S + 60, within=""):
        path = tmp_path / name
        if within:
            path.mkdir()
        file = path / within
        file.write_bytes(b"half")
        when = time.time() - age
        for one in (file, path):
            os.utime(one, (when, when))
        return path

    return left


def test_only_what_is_old_and_of_these_names_is_removed(left, tmp_path):
    gone = [
        left(".rings.db.0a1b2c3d.part"),
        left(".rings.db.0a1b2c3d.part-journal"),
        left(".fineweight-restore-abc", within="ready.db"),
    ]
    stay = [
        left(".rings.db.0a1b2c3e.part", age=KEPT_S - 60),
        left(".other.db.0a1b2c3d.part"),
        left(".rings.db.0a1b2c3.part"),
        left(".ringsxdb.0a1b2c3d.part"),
        left("rings.db.0a1b2c3d.part"),
        left(".rings.db.ffffffff.part", within="theirs"),
        left(".fineweight-restore-def", age=KEPT_S - 60, within="ready.db"),
        left(".fineweight-restore-file"),
        left("fineweight-restore-x", within="ready.db"),
    ]
    busy = left(".fineweight-restore-busy", within="ready.db")
    os.utime(busy / "ready.db")  # an old folder in which something is still written
    link = tmp_path / ".fineweight-restore-link"
    link.symlink_to(stay[-1], target_is_directory=True)
    sweep(tmp_path, r"rings\.db")
    assert not [path for path in gone if path.exists()]
    assert all(path.exists() for path in (*stay, busy, link))


def test_without_names_no_file_is_removed(left, tmp_path):
    file, folder = left("..0a1b2c3d.part"), left(".fineweight-restore-a", within="x")
    sweep(tmp_path)
    assert file.exists()
    assert not folder.exists()


def test_a_folder_that_is_not_there_is_nothing_to_sweep(tmp_path):
    sweep(tmp_path / "none", "x")


def test_what_cannot_be_removed_stays_and_stops_nothing(left, tmp_path, monkeypatch):
    file = left(".x.0a1b2c3d.part")

    def refuse(*_, **__):
        raise PermissionError

    monkeypatch.setattr("pathlib.Path.unlink", refuse)
    sweep(tmp_path, "x")
    assert file.exists()


@pytest.fixture
def backups(any_storage, any_database, clock, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("api.db.backups.gettempdir", lambda: str(tmp_path))
    fill(any_storage.engine)
    return SqlBackups(any_database, clock)


def ending(backups):
    return backups._live.suffix if backups._live else ".db"


def leave(left, *names):
    found = [left(f".{name}.0a1b2c3d.part") for name in names]
    return [*found, left(".fineweight-restore-killed", within="ready.db")]


def test_the_next_backup_sweeps_first(backups, left, tmp_path):
    gone = leave(left, f"fineweight.backup.{STAMP}{ending(backups)}", "mine.db")
    backups.make(tmp_path / "mine.db")
    assert not [path for path in gone if path.exists()]


def test_so_does_the_next_restore(backups, left):
    made = backups.make().file
    name = f"fineweight.before-restore.{STAMP}{ending(backups)}"
    gone = leave(left, name, f"{name}-wal")
    with backups.opened(made):
        assert not [path for path in gone if path.exists()]


def test_a_copy_in_the_systems_folder_for_such_things_is_swept_too(
    backups, left, monkeypatch, tmp_path
):
    copy = left(".fineweight-restore-killed", within="fineweight.db")
    with TemporaryDirectory() as elsewhere:
        spare = Path(elsewhere)
        monkeypatch.setattr("api.db.backups.gettempdir", lambda: elsewhere)
        gone = copy.rename(spare / copy.name)
        backups.make(tmp_path / "mine.db")
        assert not gone.exists()
