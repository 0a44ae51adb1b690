"""`fineweight restore`: told first, asked, done, and how to go back."""

from __future__ import annotations

import json
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import pytest

from api.db import open_storage, upgrade
from api.db.backup_file import examine
from api.ports import AuditFilter
from api.ports.backups import Contents, Present, Restored, TableTold
from tests.db.restoring import brought_back_to

NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)
TABLES = (TableTold(name="quotes", rows=12, sha256="ab"),)
HELD = Contents(schema="0004", tables=TABLES, newest=NOON)
FILE = "b.db"


class Ready:
    """A restore that is only noted down."""

    schema = "0003"
    contents = HELD
    present = Present(
        contents=Contents(schema="0004", tables=(TableTold(name="quotes", rows=34),))
    )
    outcome = Restored(kept=Path("before.db"))
    ran = False

    def run(self, by):
        assert by.via == "command line"
        assert by.name
        self.ran = True
        return self.outcome


@pytest.fixture
def ready(monkeypatch):
    ready = Ready()

    @contextmanager
    def opened(file):
        assert file == Path(FILE)
        yield ready

    app = SimpleNamespace(backups=lambda _: SimpleNamespace(opened=opened))
    monkeypatch.setattr("api.cli.backup.import_module", lambda _: app)
    return ready


@pytest.fixture
def terminal(monkeypatch):
    monkeypatch.setattr("api.cli.restore._at_terminal", lambda: True)


def test_nothing_is_done_where_nobody_can_be_asked(run, ready):
    done = run("restore", FILE)
    assert (done.exit_code, done.stdout) == (2, "")
    assert "nothing was changed; give --yes" in done.stderr
    assert not ready.ran


def test_the_maker_is_told_and_asked(run, ready, terminal):
    done = run("restore", FILE, input="y\n")
    assert done.exit_code == 0
    assert "b.db is a sound backup (schema 0003, last entry 2026-12-01 12:00 UTC)." in (
        done.stderr
    )
    assert "What is there now (schema 0004) will be kept aside." in done.stderr
    assert "quotes                  12        34" in done.stderr
    assert "Put the backup in its place?" in done.stderr
    assert done.stdout == (
        "b.db is restored.\nWhat was there before is kept in before.db\n"
    )
    assert ready.ran


@pytest.mark.parametrize("answer", ["n\n", "\n"])
def test_and_may_say_no(run, ready, terminal, answer):
    done = run("restore", FILE, input=answer)
    assert (done.exit_code, done.stdout) == (1, "")
    assert done.stderr.endswith("Nothing was changed.\n")
    assert not ready.ran


def test_a_dry_run_tells_and_does_nothing(run, ready):
    done = run("restore", FILE, "--dry-run", "--yes")
    assert done.exit_code == 0
    assert "rows in the backup" in done.stdout
    assert done.stdout.endswith("Nothing was changed.\n")
    told = json.loads(run("restore", FILE, "--dry-run", "--json").stdout)
    assert told == {
        "file": FILE,
        "schema": "0003",
        "newest": "2026-12-01T12:00:00Z",
        "tables": [{"name": "quotes", "rows": 12, "sha256": "ab", "rows_now": 34}],
        "damage": None,
        "restored": False,
        "kept": None,
        "overtaken": False,
    }
    assert not ready.ran


@pytest.mark.parametrize(
    ("present", "said"),
    [
        (None, "There is no database yet; it will be made."),
        (Present(contents=None, damage="'x' is damaged"), "now: 'x' is damaged."),
        (Present(contents=Contents(schema="", tables=())), "(older tables) will be"),
    ],
)
def test_whatever_is_there_is_told(run, ready, present, said):
    ready.present = present
    done = run("restore", FILE, "--dry-run")
    assert said in done.stdout
    told = json.loads(run("restore", FILE, "--dry-run", "--json").stdout)
    assert told["damage"] == (present.damage or None if present else None)
    assert told["tables"][0]["rows_now"] is None


def test_a_change_of_the_last_moment_is_told(run, ready):
    ready.outcome = Restored(kept=Path("before.db"), overtaken=True)
    done = run("restore", FILE, "--yes", "--json")
    assert json.loads(done.stdout)["overtaken"]
    assert "is lost; stop the servers" in done.stderr


def test_there_and_back_on_a_real_file(run, tmp_path):
    database, target = tmp_path / "rings.db", tmp_path / "b.db"
    storage = open_storage(str(database))
    upgrade(storage.engine)
    storage.close()
    made = json.loads(run("backup", target, "--json", "--database", database).stdout)
    told = json.loads(
        run("restore", target, "--yes", "--json", "--database", database).stdout
    )
    assert told["restored"]
    assert examine(Path(told["kept"])) == examine(target)
    assert brought_back_to(database) == examine(target)
    storage = open_storage(str(database))
    [line] = storage.read(
        lambda unit: unit.audit.page(AuditFilter(), limit=9, past=None)
    )
    storage.close()
    assert (line.action, line.subject) == ("database.restored", "b.db")
    assert line.via == "command line"
    assert line.after["kept"] == Path(told["kept"]).name
    assert [each["sha256"] for each in told["tables"]] == [
        each["sha256"] for each in made["tables"]
    ]
    again = run("restore", target, "--yes", "--database", tmp_path / "new.db")
    assert again.stdout == f"{target} is restored.\n"


def test_what_is_no_backup_is_a_failure(run, tmp_path):
    words = tmp_path / "words"
    words.write_text("no backup, " * 100)
    done = run("restore", words, "--yes", "--database", tmp_path / "rings.db")
    assert (done.exit_code, done.stdout) == (1, "")
    assert "is no database at all" in done.stderr
    assert not (tmp_path / "rings.db").exists()
