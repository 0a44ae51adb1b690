"""The storefront's script as it is served."""

from __future__ import annotations

from importlib.resources import files

import pytest

from api.app import create_app
from tests.http.fakes import SETTINGS, FakeServices

SCRIPT = "/window/ring-price.js"


@pytest.fixture
def client():
    return create_app(SETTINGS, FakeServices()).test_client()


def test_any_page_may_load_it_and_keep_it_for_an_hour(client):
    answer = client.get(SCRIPT, headers={"Origin": "https://shop.example"})
    assert answer.status_code == 200
    assert answer.content_type == "text/javascript; charset=utf-8"
    assert answer.headers["Access-Control-Allow-Origin"] == "*"
    assert answer.headers["Cross-Origin-Resource-Policy"] == "cross-origin"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Cache-Control"] == "public, max-age=3600"
    assert "Access-Control-Allow-Credentials" not in answer.headers
    assert "Set-Cookie" not in answer.headers


def test_it_is_the_file_and_small(client):
    text = client.get(SCRIPT).data
    assert text == (files("api.web") / "static" / "ring-price.js").read_bytes()
    assert 10_000 < len(text) < 15_000
    assert client.head(SCRIPT).headers["Content-Length"] == str(len(text))


def test_it_is_not_sent_again_to_whoever_has_it(client):
    tag = client.get(SCRIPT).headers["ETag"]
    answer = client.get(SCRIPT, headers={"If-None-Match": tag})
    assert (answer.status_code, answer.data) == (304, b"")
    assert answer.headers["Access-Control-Allow-Origin"] == "*"
    other = client.get(SCRIPT, headers={"If-None-Match": '"another"'})
    assert other.status_code == 200


def test_it_evaluates_no_text_and_keeps_nothing():
    script = (files("api.web") / "static" / "ring-price.js").read_text("utf-8")
    banned = ("eval(", "innerHTML", "Function(", "style=", "cookie", "Storage", "http:")
    assert not [word for word in banned if word in script]
