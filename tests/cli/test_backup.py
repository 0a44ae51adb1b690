"""`fineweight backup` on a real file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from api.app import compose
from api.db import open_storage, upgrade
from api.db.backup_file import examine
from api.settings import Settings


@pytest.fixture
def database(tmp_path):
    file = tmp_path / "rings.db"
    storage = open_storage(str(file))
    upgrade(storage.engine)
    storage.close()
    return file


def test_a_backup_is_made_and_told_of(run, database, tmp_path):
    target = tmp_path / "b.db"
    done = run("backup", target, "--database", database)
    assert done.exit_code == 0
    assert done.stdout.startswith(f"Backed up to {target}, and checked (")
    assert "audit_entries" in done.stdout
    assert "last entry" not in done.stdout  # there is none
    assert "the secrets of feeds and hooks" in done.stderr
    assert "let nobody else read it" in done.stderr
    assert examine(target).tables


def test_the_last_entry_is_told_where_there_is_one(run, database, tmp_path):
    services = compose(Settings(database=str(database)))
    services.keys.create("bench", "a key")
    services.close()
    done = run("backup", tmp_path / "b.db", "--database", database)
    assert ", last entry 20" in done.stdout


def test_programs_are_told_all_of_it(run, database, tmp_path):
    done = run("backup", "--json", "--database", database)
    told = json.loads(done.stdout)
    file = Path(told["file"])
    assert file.parent == tmp_path
    assert file.name.startswith("rings.backup.2")
    found = examine(file)
    assert (told["schema"], told["bytes"]) == (found.schema, file.stat().st_size)
    assert told["newest"] is None
    assert told["tables"] == [
        {"name": each.name, "rows": each.rows, "sha256": each.sha256}
        for each in found.tables
    ]


def test_a_name_that_is_taken_is_a_conflict(run, database, tmp_path):
    done = run("backup", database, "--database", database)
    assert done.exit_code == 5
    assert (done.stdout, done.stderr.count("\n")) == ("", 1)
    assert f"there is a file '{database}' already" in done.stderr


def test_no_database_is_a_failure_and_none_is_made(run, tmp_path):
    missing = tmp_path / "none.db"
    done = run("backup", "--database", missing)
    assert done.exit_code == 1
    assert "there is no database" in done.stderr
    assert list(tmp_path.iterdir()) == []
