"""What the application lets through and answers before anything is routed."""

from __future__ import annotations

import pytest
from flask import request
from werkzeug.exceptions import RequestEntityTooLarge

from api.application import application
from api.json_body import MOST_BYTES
from api.settings import Settings


def served(database, **settings):
    app = application(Settings(database=database, **settings))
    app.add_url_rule("/who", "who", lambda: request.remote_addr)
    return app


def test_forwarding_headers_count_only_behind_a_proxy(sqlite_url):
    told = {"X-Forwarded-For": "192.0.2.7"}
    bare = served(sqlite_url).test_client().get("/who", headers=told)
    behind = served(sqlite_url, proxy_hops=1).test_client().get("/who", headers=told)
    assert (bare.text, behind.text) == ("127.0.0.1", "192.0.2.7")


def test_only_its_own_hosts_are_answered(sqlite_url):
    client = served(sqlite_url, hosts=("rings.example",)).test_client()
    assert client.get("/who", base_url="http://rings.example").status_code == 200
    assert client.get("/who", base_url="http://other.example").status_code == 400


def test_options_names_the_methods_and_nothing_else(sqlite_url):
    answer = served(sqlite_url).test_client().options("/who")
    assert (answer.status_code, answer.data) == (204, b"")
    assert set(answer.headers["Allow"].split(", ")) == {"GET", "HEAD", "OPTIONS"}
    assert "Content-Type" not in answer.headers


def test_no_address_is_redirected(sqlite_url):
    assert served(sqlite_url).test_client().get("//who").status_code == 404


def test_a_body_over_the_limit_is_not_read(sqlite_url):
    app = served(sqlite_url)
    big = b"x" * (MOST_BYTES + 1)
    with (
        app.test_request_context("/who", method="POST", data=big),
        pytest.raises(RequestEntityTooLarge),
    ):
        request.get_data()
