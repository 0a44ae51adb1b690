from __future__ import annotations

from types import SimpleNamespace

import pytest

from api.cli.context import Desk

DATABASE = "FINEWEIGHT_DATABASE"


def test_the_option_comes_before_the_environment(monkeypatch):
    monkeypatch.setenv(DATABASE, "env.db")
    assert Desk("option.db", as_json=False).settings.database == "option.db"
    assert Desk(None, as_json=False).settings.database == "env.db"


def test_services_are_composed_once_and_only_when_needed(monkeypatch):
    made = []
    app = SimpleNamespace(compose=lambda settings: made.append(settings) or "services")
    monkeypatch.setattr("api.cli.context.import_module", lambda _: app)
    desk = Desk("rings.db", as_json=False)
    assert made == []
    assert (desk.services, desk.services) == ("services", "services")
    assert [settings.database for settings in made] == ["rings.db"]


@pytest.mark.parametrize("address", ["mysql://x", "postgresql://x"])
def test_an_address_that_cannot_be_used_is_a_usage_error(run, services, address):
    done = run("serve", "--database", address)
    assert done.exit_code == 2
    assert "postgresql+psycopg://" in done.stderr
