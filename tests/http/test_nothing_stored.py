"""Bodies made to hurt, sent where something is stored: refused, and nothing changed."""

from __future__ import annotations

import json
from copy import deepcopy

import pytest

from tests.http.workshop import BOOK

COIN = {
    "key": "find",
    "gross_mass_g": "20",
    "fineness_permille": "900",
    "diameter_mm": "34",
}
RING = {
    "coin": COIN,
    "size": {"system": "us", "size": "10"},
    "spot": {"price": "27.50"},
}
FEED = {
    "title": "The assay office",
    "url": "https://feeds.example/silver",
    "format": "json",
    "currency": "EUR",
    "price": "/price",
    "time": {"path": "/at"},
    "limits": {"lowest": "20"},
}
LISTING = {
    "sku": "ring-1",
    "title": "A band ring",
    "kind": "made_to_order",
    "coin": "at_50s_1959_1973",
    "channel": "own_shop",
    "policy": "retail",
    "bands": [{"from": "5", "to": "9.5", "price": "189.95"}],
}
# Method and path; a good body; where in it a figure stands.
PLACES = {
    "an estimate": ("POST", "/v1/estimates", RING, ("spot", "price")),
    "an estimate's coin": ("POST", "/v1/estimates", RING, ("coin", "gross_mass_g")),
    "a coin": ("POST", "/v1/coins", COIN, ("diameter_mm",)),
    "a changed coin": (
        "PUT",
        "/v1/coins/at_50s_1959_1973",
        {**COIN, "key": "at_50s_1959_1973"},
        ("fineness_permille",),
    ),
    "a price book": ("PUT", "/v1/price-book", BOOK, ("labour", "rate_per_hour")),
    "a quote": (
        "POST",
        "/v1/quotes",
        {"lines": [RING], "deposit_share": "0.5"},
        ("lines", 0, "spot", "price"),
    ),
    "a listing": ("POST", "/v1/listings", LISTING, ("bands", 0, "price")),
    "a spot price": ("POST", "/v1/spot-prices", {"price": "27.50"}, ("price",)),
    "a feed": ("PUT", "/v1/feeds/assay", FEED, ("limits", "lowest")),
}
NEW = {
    "/v1/feeds/assay": {"If-None-Match": "*"},
    "/v1/quotes": {"Idempotency-Key": "a-body-made-to-hurt"},
}
FIGURES = {
    "an exponent of a million": '"1e1000000"',
    "a tiny exponent": '"1e-1000000"',
    "not a number, as text": '"NaN"',
    "a signalling one": '"sNaN"',
    "infinity, as text": '"-Infinity"',
    "NaN": "NaN",
    "Infinity": "Infinity",
    "a float": "12.5",
    "a float beyond all floats": "1e400",
    "an integer of 5 000 digits": "9" * 5000,
    "an integer of 64 bits": str(2**63),
    "text of 60 000 digits": f'"{"9" * 60_000}"',
    "full-width digits": '"１２"',
    "Arabic digits": '"٣"',
    "an underscore": '"1_000"',
    "blanks": '" 1 "',
    "a plus": '"+1"',
    "a line end": '"1\\n"',
    "ten decimals": '"1.0000000001"',
    "true": "true",
    "a lone surrogate": '"\\ud800"',
    "NUL": '"a\\u0000b"',
    "a list": "[]",
    "an object": "{}",
    "depth": "[" * 20_000,
    "an object of 10 000 members": json.dumps({f"m{i}": 0 for i in range(4000)}),
}
BODIES = {
    "nothing": b"",
    "20 000 open lists": b"[" * 20_000,
    "a member twice": b'{"price": "1", "price": "2"}',
    "Latin-1": '{"coin": "é"}'.encode("latin-1"),
    "too large": b'{"price": "' + b"9" * 70_000 + b'"}',
    "4 000 unknown members": json.dumps({f"m{i}": 0 for i in range(4000)}).encode(),
    "odd names": json.dumps({"_schema": 1, "": 2, "/": 3, "~": 4, "é ü": 5}).encode(),
}


def with_raw(body, place, raw):
    """The body as JSON text with raw text for the value at one place."""
    marked = deepcopy(body)
    inner = marked
    for name in place[:-1]:
        inner = inner[name]
    inner[place[-1]] = "@here@"
    return json.dumps(marked).replace('"@here@"', raw).encode()


def refused(workshop, method, path, data, **more):
    before = workshop.counts()
    headers = NEW.get(path, {"If-Match": "*"})
    answer = workshop.send(method, path, data, headers=headers, **more)
    assert answer.status_code != 412
    assert 400 <= answer.status_code < 500
    assert workshop.counts() == before


@pytest.mark.parametrize("raw", FIGURES.values(), ids=FIGURES)
@pytest.mark.parametrize("place", PLACES.values(), ids=PLACES)
def test_a_figure_made_to_hurt_is_refused(one_workshop, place, raw):
    method, path, body, where = place
    refused(one_workshop, method, path, with_raw(body, where, raw))


@pytest.mark.parametrize("data", BODIES.values(), ids=BODIES)
@pytest.mark.parametrize("place", PLACES.values(), ids=PLACES)
def test_a_body_made_to_hurt_is_refused(one_workshop, place, data):
    method, path, *_ = place
    refused(one_workshop, method, path, data)


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/xml", "application/json; charset=utf-16", ""]
)
@pytest.mark.parametrize("place", PLACES.values(), ids=PLACES)
def test_a_body_of_another_kind_is_refused(one_workshop, place, kind):
    method, path, body, _ = place
    refused(one_workshop, method, path, json.dumps(body).encode(), content_type=kind)


@pytest.mark.parametrize("place", PLACES.values(), ids=PLACES)
def test_the_body_that_was_spoilt_is_good_in_itself(workshop, place):
    method, path, body, where = place
    data = with_raw(body, where, '"20.5"')
    headers = NEW.get(path, {"If-Match": "*"})
    answer = workshop.send(method, path, data, headers=headers)
    assert answer.status_code in {200, 201}
