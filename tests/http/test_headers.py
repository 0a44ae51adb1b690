"""The headers that protect, and the id and log line of each request."""

from __future__ import annotations

import json
import logging
from dataclasses import replace

import pytest

from api.app import create_app
from tests.http.fakes import SETTINGS, TOKENS, bearer

TRACE = "4bf92f3577b34da6a3ce929d0e0e4736"
PARENT = "00f067aa0ba902b7"
PATHS = ["/livez", "/docs", "/static/bench.css", "/v1/nothing", "/v1/ring-sizes"]
MALFORMED = [
    "",
    "x",
    f"00-{TRACE}-{PARENT}",
    f"00-{TRACE}-{PARENT}-01-extra",
    f"00-{TRACE.upper()}-{PARENT}-01",
    f"00-{'0' * 32}-{PARENT}-01",
    f"00-{TRACE}-{'0' * 16}-01",
    f"ff-{TRACE}-{PARENT}-01",
    f"0-{TRACE}-{PARENT}-01",
    f"00-{TRACE[1:]}-{PARENT}-01",
    f"00-{TRACE}-{PARENT}-0g",
    f" 00-{TRACE}-{PARENT}-01;",
]


@pytest.mark.parametrize("path", PATHS)
def test_every_answer_has_the_protecting_headers(client, path):
    headers = client.get(path).headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "no-referrer"
    assert headers["Cross-Origin-Opener-Policy"] == "same-origin"
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert "frame-ancestors 'none'" in headers["Content-Security-Policy"]
    assert "Strict-Transport-Security" not in headers
    assert "Server" not in headers
    assert not [name for name in headers if name[0].startswith("Access-Control")]


def test_pages_may_load_only_what_is_their_own(client):
    assert client.get("/docs").headers["Content-Security-Policy"] == (
        "default-src 'none'; style-src 'self'; img-src 'self' data:; "
        "script-src 'self'; form-action 'self'; base-uri 'none'; "
        "object-src 'none'; frame-ancestors 'none'"
    )


def test_data_and_problems_are_not_to_be_kept(client):
    for path in ("/livez", "/v1/ring-sizes", "/v1/ring-sizes?system=us&size=10"):
        answer = client.get(path, headers=bearer("window"))
        assert answer.headers["Cache-Control"] == "no-store"


def test_only_a_secure_connection_is_told_to_stay_secure(client):
    secure = client.get("/livez", base_url="https://rings.example")
    assert secure.headers["Strict-Transport-Security"] == "max-age=31536000"


def test_forwarded_headers_are_believed_only_from_a_known_number_of_proxies(services):
    forwarded = {"X-Forwarded-Proto": "https", "X-Forwarded-For": "203.0.113.9"}
    trusting = create_app(replace(SETTINGS, proxy_hops=1), services).test_client()
    wary = create_app(SETTINGS, services).test_client()
    name = "Strict-Transport-Security"
    assert name in trusting.get("/livez", headers=forwarded).headers
    assert name not in wary.get("/livez", headers=forwarded).headers


def test_only_known_hosts_are_answered_where_they_are_set(services, caplog):
    caplog.set_level(logging.INFO, "api.requests")
    app = create_app(replace(SETTINGS, hosts=("rings.example",)), services)
    client = app.test_client()
    assert client.get("/livez", base_url="http://rings.example").status_code == 200
    refused = client.get("/livez", base_url="http://other.example")
    assert refused.status_code == 400
    assert refused.content_type == "application/problem+json"
    assert json.loads(caplog.messages[-1])["status"] == 400


def test_a_valid_trace_is_taken_up(client):
    sent = {"traceparent": f"00-{TRACE}-{PARENT}-01"}
    answer = client.get("/v1/nothing", headers=sent)
    assert answer.headers["X-Request-Id"] == TRACE
    assert answer.json["instance"] == f"urn:fineweight:request:{TRACE}"
    later = {"traceparent": f"01-{TRACE}-{PARENT}-01-what.ever"}
    assert client.get("/livez", headers=later).headers["X-Request-Id"] == TRACE


@pytest.mark.parametrize("traceparent", MALFORMED)
def test_a_malformed_trace_starts_a_new_one(client, traceparent):
    ids = {
        client.get("/livez", headers={"traceparent": traceparent}).headers[
            "X-Request-Id"
        ]
        for _ in range(2)
    }
    assert len(ids) == 2
    assert TRACE not in ids
    assert all(len(one) == 32 for one in ids)


def test_a_request_leaves_one_line_without_secrets(client, caplog):
    with caplog.at_level(logging.INFO, "api.requests"):
        answer = client.get(
            f"/v1/ring-sizes?system=us&size=10&x={TOKENS['bench']}",
            headers=bearer("window"),
        )
    [line] = caplog.messages
    logged = json.loads(line)
    assert logged.pop("milliseconds") >= 0
    assert logged == {
        "event": "request",
        "method": "GET",
        "path": "/v1/ring-sizes",
        "status": 422,
        "request": answer.headers["X-Request-Id"],
        "key": "0123456789abcdef",
    }
    assert "secret" not in caplog.text


def test_no_name_can_forge_or_colour_a_line(client, caplog):
    with caplog.at_level(logging.INFO, "api.requests"):
        client.get("/v1/a%0d%0a%1b[31m%e2%80%a8{%22event%22:1}")
    [line] = caplog.messages
    assert line.isascii()
    assert line.isprintable()
    assert json.loads(line)["path"].startswith("/v1/a\r\n\x1b")


def test_nothing_is_written_where_the_log_is_quiet(client, caplog):
    with caplog.at_level(logging.WARNING, "api.requests"):
        client.get("/livez")
    assert not caplog.messages
