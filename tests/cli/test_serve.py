from __future__ import annotations

import logging
import socket
from contextlib import ExitStack, closing
from http.client import HTTPConnection
from threading import Thread
from types import SimpleNamespace

import pytest
from waitress import wasyncore
from werkzeug.test import Client
from werkzeug.wrappers import Request, Response

from api.cli.serve import _log_to_stderr, addresses, is_loopback, listen


class Server:
    effective_host, effective_port = "127.0.0.1", 8371

    def run(self):
        self.was_run = True


@pytest.fixture
def served(monkeypatch):
    """What the server was given; the application is a stand-in."""
    calls = []
    app = SimpleNamespace(create_app=lambda settings, services: (settings, services))
    monkeypatch.setattr("api.cli.serve.import_module", lambda _: app)
    monkeypatch.setattr("api.cli.serve.signal.signal", lambda *_: None)
    monkeypatch.setattr(
        "api.cli.serve.waitress.create_server",
        lambda app, **settings: calls.append((app, settings)) or Server(),
    )
    return calls


def test_the_api_is_served_on_this_machine_only(run, served, services):
    done = run("serve", "--database", "rings.db", "--threads", 6)
    assert done.exit_code == 0
    assert "http://127.0.0.1:8371/docs" in done.stderr
    [((settings, given), how)] = served
    assert settings.database == "rings.db"
    assert given is services
    assert (how["host"], how["port"], how["threads"]) == ("127.0.0.1", 8371, 6)


@pytest.mark.parametrize(
    ("asked", "level"), [([], logging.WARNING), (["--log"], logging.INFO)]
)
def test_requests_are_told_when_asked_for(run, served, monkeypatch, asked, level):
    told = []
    monkeypatch.setattr("api.cli.serve._log_to_stderr", told.append)
    assert run("serve", *asked).exit_code == 0
    assert told == [level]


def test_a_request_is_told_in_one_line_of_json(capfd, monkeypatch):
    monkeypatch.setattr(logging.getLogger(), "handlers", [])
    _log_to_stderr(logging.INFO)
    logging.getLogger("api.requests").info('{"event": "request"}')
    assert capfd.readouterr().err == '{"event": "request"}\n'


def test_whatever_is_told_of_anything_is_one_line(capfd, monkeypatch):
    monkeypatch.setattr(logging.getLogger(), "handlers", [])
    _log_to_stderr(logging.INFO)
    error = LookupError("first\nsecond")
    logging.getLogger("waitress").error("on %s", "a\r\n\x1b[2J\u2028b", exc_info=error)
    told = capfd.readouterr().err
    assert told.splitlines() == [told.removesuffix("\n")]
    assert told.startswith("on a\\r\\n\\x1b[2J\\u2028b\\nLookupError: first\\nsecond")
    assert told.removesuffix("\n").isprintable()


def test_an_open_address_needs_a_key_first(run, served, services):
    done = run("serve", "--host", "0.0.0.0")  # noqa: S104
    assert done.exit_code == 1
    assert "key create" in done.stderr
    services.keys.create("bench", "")
    services.keys.revoke_all()
    assert run("serve", "--host", "::").exit_code == 1
    assert not served
    services.keys.create("bench", "")
    assert run("serve", "--host", "::").exit_code == 0
    assert served


def test_an_address_in_use_is_refused_with_what_to_do(run):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(Exception, match="choose others with --host and --port"):
            listen(None, host="127.0.0.1", port=port, threads=1)


@Request.application
def echo(request):
    """Answers what a proxy told of whom it asks for."""
    told = {name: value for name, value in request.headers if name in FORWARDED}
    return Response(repr(told))


FORWARDED = {
    "Forwarded": "for=203.0.113.9",
    "X-Forwarded-For": "203.0.113.9",
    "X-Forwarded-Host": "rings.example",
    "X-Forwarded-Proto": "https",
}


def test_what_a_proxy_tells_is_left_for_the_application_to_judge():
    server = listen(echo, host="127.0.0.1", port=0, threads=1)
    try:
        heard = Client(server.application).get(
            "/", headers=FORWARDED, environ_base={"REMOTE_ADDR": "127.0.0.1"}
        )
    finally:
        server.close()
    assert heard.text == repr(FORWARDED)


def test_many_who_keep_their_connection_keep_nobody_out():
    server = listen(echo, host="127.0.0.1", port=0, threads=1)
    serving = Thread(target=server.run)
    serving.start()
    place = ("127.0.0.1", server.effective_port)
    try:
        with ExitStack() as kept:
            for _ in range(300):
                kept.enter_context(closing(socket.create_connection(place)))
            asking = closing(HTTPConnection(*place, timeout=30))
            client = kept.enter_context(asking)
            client.request("GET", "/")
            assert client.getresponse().status == 200
    finally:
        server.trigger.pull_trigger(lambda: wasyncore.close_all(server._map))
        server.task_dispatcher.shutdown()
        serving.join(timeout=30)


def test_a_name_that_stands_for_two_addresses_is_told_as_two():
    both = SimpleNamespace(effective_listen=[("127.0.0.1", 80), ("::1", 80)])
    assert list(addresses(both)) == ["http://127.0.0.1:80", "http://[::1]:80"]


@pytest.mark.parametrize("threads", ["0", "65", "many"])
def test_the_number_of_threads_is_bounded(run, served, threads):
    assert run("serve", "--threads", threads).exit_code == 2


@pytest.mark.parametrize(
    ("host", "loopback"),
    [
        ("127.0.0.1", True),
        ("127.8.8.8", True),
        ("::1", True),
        ("localhost", True),
        ("192.0.2.1", False),
        ("::", False),
        ("rings.example", False),
    ],
)
def test_which_addresses_stay_on_the_machine(host, loopback):
    assert is_loopback(host) is loopback
