from __future__ import annotations

from types import SimpleNamespace

import pytest

from api.cli.serve import is_loopback


@pytest.fixture
def served(monkeypatch):
    """What the server was given; the application is a stand-in."""
    calls = []
    app = SimpleNamespace(create_app=lambda settings, services: (settings, services))
    real = __import__("importlib").import_module
    monkeypatch.setattr(
        "api.cli.serve.import_module",
        lambda name: app if name == "api.app" else real(name),
    )
    monkeypatch.setattr(
        "api.cli.serve.waitress.serve",
        lambda app, **settings: calls.append((app, settings)),
    )
    return calls


def test_the_api_is_served_on_this_machine_only(run, served, services):
    done = run("serve", "--database", "rings.db", "--threads", 6)
    assert done.exit_code == 0
    assert "http://127.0.0.1:8371/docs" in done.stderr
    [((settings, given), how)] = served
    assert settings.database == "rings.db"
    assert given is services
    assert (how["host"], how["threads"]) == ("127.0.0.1", 6)


def test_an_open_address_needs_a_key_first(run, served, services):
    done = run("serve", "--host", "0.0.0.0")  # noqa: S104 (that is the point)
    assert done.exit_code == 1
    assert "key create" in done.stderr
    services.keys.create("bench", "")
    services.keys.revoke_all()
    assert run("serve", "--host", "::").exit_code == 1
    assert not served
    services.keys.create("bench", "")
    assert "http://[::]:" in run("serve", "--host", "::").stderr
    assert served


@pytest.mark.parametrize("threads", ["0", "65", "many"])
def test_the_number_of_threads_is_bounded(run, served, threads):
    assert run("serve", "--threads", threads).exit_code == 2


@pytest.mark.parametrize(
    ("host", "loopback"),
    [("127.0.0.1", True), ("127.8.8.8", True), ("::1", True), ("localhost", True),
     ("192.0.2.1", False), ("::", False), ("rings.example", False)],
)  # fmt: skip
def test_which_addresses_stay_on_the_machine(host, loopback):
    assert is_loopback(host) is loopback
