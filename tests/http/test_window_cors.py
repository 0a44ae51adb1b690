"""Pages of any origin may read the window, and nothing else."""

from __future__ import annotations

import pytest

from api.app import RESOURCES
from tests.http.window import PRICES, publish
from tests.http.window import SHOWN as LISTED

ORIGINS = (None, "https://rings.example", "http://127.0.0.1:8000", "null")
PRICE = f"{PRICES}?sku=ring-1&system=us&size=8"
EXPOSED = "ETag, Link, RateLimit, RateLimit-Policy, Retry-After"
SENT = {"Authorization", "Content-Type", "Idempotency-Key", "If-None-Match"}
PUBLIC = {
    "a listing": ("GET", f"{LISTED}/ring-1", 200),
    "the list": ("GET", LISTED, 200),
    "a price": ("GET", PRICE, 200),
    "a price without its body": ("HEAD", PRICE, 200),
    "linked data": ("GET", f"{LISTED}/ring-1/offer", 200),
    "the script": ("GET", "/window/ring-price.js", 200),
    "the script without its body": ("HEAD", "/window/ring-price.js", 200),
    "a price by post": ("POST", PRICES, 415),
    "a parameter missing": ("GET", PRICES, 422),
    "a size not offered": ("GET", PRICE.replace("size=8", "size=1"), 422),
    "nothing of that name": ("GET", f"{LISTED}/nothing", 404),
    "no such address": ("GET", "/v1/window/nothing", 404),
    "another method": ("DELETE", PRICES, 405),
}
STAFF = {
    "listings": ("GET", "/v1/listings", 200),
    "a listing": ("GET", "/v1/listings/ring-1", 200),
    "quotes": ("GET", "/v1/quotes", 200),
    "the price book": ("GET", "/v1/price-book", 200),
    "sizes": ("GET", "/v1/ring-sizes?system=us&size=8", 200),
    "no such address": ("GET", "/v1/windows/listings", 404),
    "almost": ("GET", "/v1/window", 404),
    "health": ("GET", "/livez", 200),
    "documentation": ("GET", "/docs", 200),
    "a sheet": ("GET", "/quotes/nothing", 404),
}


@pytest.fixture
def store(workshop):
    publish(workshop)
    return workshop


def ask(store, method, path, origin, *, key="bench", **headers):
    headers |= {} if origin is None else {"Origin": origin}
    headers |= {"Authorization": f"Bearer {store.tokens[key]}"} if key else {}
    return store.client.open(path, method=method, headers=headers)


def cors(answer):
    return {name for name, _ in answer.headers if "access-control" in name.lower()}


@pytest.mark.parametrize("origin", ORIGINS)
def test_any_page_may_read_what_the_window_answers(store, origin):
    for method, path, status in PUBLIC.values():
        answer = ask(store, method, path, origin, key="window")
        assert answer.status_code == status, path
        assert answer.headers.getlist("Access-Control-Allow-Origin") == ["*"]
        assert answer.headers["Access-Control-Expose-Headers"] == EXPOSED
        assert cors(answer) == {
            "Access-Control-Allow-Origin",
            "Access-Control-Expose-Headers",
        }


@pytest.mark.parametrize("origin", ORIGINS)
def test_it_may_read_that_its_key_is_refused(store, origin):
    answer = ask(store, "GET", PRICE, origin, key=None)
    assert answer.status_code == 401
    assert answer.headers["Access-Control-Allow-Origin"] == "*"


@pytest.mark.parametrize("origin", ORIGINS)
def test_no_page_may_read_anything_else(store, origin):
    for method, path, status in STAFF.values():
        answer = ask(store, method, path, origin)
        assert answer.status_code == status, path
        assert cors(answer) == set(), path
        asked = {"Access-Control-Request-Method": "GET"}
        assert cors(ask(store, "OPTIONS", path, origin, key=None, **asked)) == set()


@pytest.mark.parametrize("origin", ORIGINS)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_a_preflight_is_answered_before_any_key_is_asked_for(store, origin, method):
    asked = {
        "Access-Control-Request-Method": method,
        "Access-Control-Request-Headers": "authorization, idempotency-key",
    }
    for path in (PRICES, LISTED, f"{LISTED}/x", f"{LISTED}/x/offer"):
        answer = ask(store, "OPTIONS", path, origin, key=None, **asked)
        assert (answer.status_code, answer.data) == (204, b"")
        headers = answer.headers
        assert headers["Access-Control-Allow-Origin"] == "*"
        methods = headers["Access-Control-Allow-Methods"]
        assert set(methods.split(", ")) == {"GET", "POST"}
        assert set(headers["Access-Control-Allow-Headers"].split(", ")) == SENT
        assert int(headers["Access-Control-Max-Age"]) == 7200
        assert "RateLimit" not in headers  # it costs the key nothing
        assert "Access-Control-Allow-Credentials" not in headers
        assert "Access-Control-Allow-Private-Network" not in headers


def test_no_other_operation_lies_where_any_page_may_read():
    for routes in RESOURCES:
        for operation in routes.operations:
            shown = operation.rule.startswith(("/v1/window/", "/window/"))
            public = str(operation.scope) in {"window", "open"}
            assert public or not shown, operation.name
