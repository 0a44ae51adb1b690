"""Spot prices over HTTP: entered, in force, and as they were."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from tests.http.workshop import faults

SPOTS = "/v1/spot-prices"
CURRENT = "/v1/spot-prices/current"


def link(answer):
    return answer.headers["Link"].removeprefix("<").removesuffix('>; rel="next"')


def in_an_hour():
    return (datetime.now(UTC) + timedelta(hours=1)).isoformat(timespec="seconds")


def test_an_entered_price_is_in_force_at_once(workshop):
    entered = workshop.post(SPOTS, {"price": "28.123456", "note": "off the board"})
    assert entered.status_code == 201
    assert entered.headers["Location"] == CURRENT
    told = entered.json
    assert (told["price"], told["currency"]) == ("28.123456", "EUR")
    assert (told["metal"], told["source"]) == ("XAG", "manual")
    assert (told["note"], told["expires_at"]) == ("off the board", None)
    current = workshop.get(CURRENT).json
    assert (current["price"], current["as_of"]) == (told["price"], told["as_of"])
    assert current["age_hours"] == "0.0"


def test_a_price_keeps_its_currency_and_its_expiry(workshop):
    body = {"price": "30", "currency": "USD", "expires_at": "2999-01-02T03:04:05+02:00"}
    told = workshop.post(SPOTS, body).json
    assert told["currency"] == "USD"
    assert told["expires_at"] == "2999-01-02T01:04:05.000Z"


def test_before_a_price_book_the_currency_has_to_be_said(bare_workshop):
    assert bare_workshop.get(CURRENT).status_code == 409
    answer = bare_workshop.post(SPOTS, {"price": "30"})
    assert answer.status_code == 404
    assert "price book" in answer.json["detail"]
    said = bare_workshop.post(SPOTS, {"price": "30", "currency": "EUR"})
    assert said.status_code == 201
    assert bare_workshop.get(CURRENT).json["price"] == "30.00"


def test_the_history_is_paged_from_the_newest(workshop):
    for price in ("28", "29", "30"):
        workshop.post(SPOTS, {"price": price, "expires_at": in_an_hour()})
    first = workshop.get(f"{SPOTS}?limit=2")
    assert [entry["price"] for entry in first.json["spot_prices"]] == ["30.00", "29.00"]
    rest = workshop.get(link(first))
    assert [entry["price"] for entry in rest.json["spot_prices"]] == ["28.00", "27.50"]
    assert "Link" not in rest.headers


@pytest.mark.parametrize(
    ("pointer", "body"),
    [
        ("#/price", {}),
        ("#/price", {"price": 27.5}),
        ("#/price", {"price": 27}),
        ("#/price", {"price": None}),
        ("#/price", {"price": "0"}),
        ("#/price", {"price": "-1"}),
        ("#/price", {"price": "1e2"}),
        ("#/price", {"price": "NaN"}),
        ("#/price", {"price": "27.1234567"}),
        ("#/price", {"price": "999999999999"}),
        ("#/metal", {"price": "27", "metal": "XAU"}),
        ("#/currency", {"price": "27", "currency": "euro"}),
        ("#/currency", {"price": "27", "currency": "XAG"}),
        ("#/currency", {"price": "27", "currency": "XXQ"}),
        ("#/note", {"price": "27", "note": "x" * 201}),
        ("#/note", {"price": "27", "note": "two\nlines"}),
        ("#/note", {"price": "27", "note": 1}),
        ("#/expires_at", {"price": "27", "expires_at": "2999-01-01"}),
        ("#/expires_at", {"price": "27", "expires_at": "2001-01-01T00:00:00Z"}),
        ("#/as_of", {"price": "27", "as_of": "2026-01-01T00:00:00Z"}),
    ],
)
def test_a_price_that_cannot_be_entered_is_pointed_at(workshop, pointer, body):
    before = workshop.counts()
    answer = workshop.post(SPOTS, body)
    assert answer.status_code == 422
    assert list(faults(answer)) == [pointer]
    assert workshop.counts() == before


@pytest.mark.parametrize(
    "query", ["limit=0", "limit=101", "before=0", "before=x", "metal=XAU", "page=2"]
)
def test_a_part_of_the_history_that_cannot_be_is_refused(workshop, query):
    assert workshop.get(f"{SPOTS}?{query}").status_code == 422


@pytest.mark.parametrize("query", ["metal=base", "metal=", "limit=1"])
def test_only_metals_with_a_price_are_asked_for(workshop, query):
    assert workshop.get(f"{CURRENT}?{query}").status_code == 422
