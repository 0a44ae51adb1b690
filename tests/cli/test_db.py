from __future__ import annotations

import json
from types import SimpleNamespace

import pytest


@pytest.fixture(autouse=True)
def upgraded(monkeypatch):
    calls = []
    app = SimpleNamespace(upgrade=lambda settings: calls.append(settings) or "0001")
    monkeypatch.setattr("api.cli.db.import_module", lambda _: app)
    return calls


def test_the_named_database_is_brought_up_to_date(run, upgraded):
    done = run("db", "upgrade", "--database", "rings.db")
    assert done.stdout == "The database is up to date (schema 0001).\n"
    assert [settings.database for settings in upgraded] == ["rings.db"]


def test_and_says_so_to_programs(run):
    assert json.loads(run("db", "upgrade", "--json").stdout) == {"schema": "0001"}
