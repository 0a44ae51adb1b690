"""Spot prices over HTTP: entered, in force, and as they were."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest

from tests.http.workshop import faults

SPOTS = "/v1/spot-prices"
CURRENT = "/v1/spot-prices/current"
FETCH = "/v1/spot-prices/fetch"
RING = {"coin": "at_50s_1959_1973", "size": {"system": "us", "size": "10"}}
FEED = {
    "title": "The assay office",
    "url": "https://feeds.example/silver",
    "format": "json",
    "currency": "EUR",
    "price": "/price",
    "time": {"path": "/at"},
}


def letter(price, at="2026-12-01T12:00:00Z"):
    """What the feed answers."""
    return json.dumps({"price": price, "at": at}).encode()


@pytest.fixture
def fed(timed_workshop):
    """A workshop with a feed, which says 28."""
    new = {"If-None-Match": "*"}
    assert timed_workshop.put("/v1/feeds/assay", FEED, headers=new).status_code == 201
    timed_workshop.post_office.letters[FEED["url"]] = letter("28")
    return timed_workshop


def key_id(workshop):
    """The id of the bench key that a workshop is asked with."""
    return workshop.tokens["bench"].split("_")[2]


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
        ("#/price", {"price": "27.1234567891"}),
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
    "query",
    [
        "limit=0",
        "limit=101",
        "before=0",
        "before=x",
        "metal=XAU",
        "metal=euro",
        "status=new",
        "page=2",
    ],
)
def test_a_part_of_the_history_that_cannot_be_is_refused(workshop, query):
    assert workshop.get(f"{SPOTS}?{query}").status_code == 422


@pytest.mark.parametrize("query", ["metal=base", "metal=", "metal=XAU", "limit=1"])
def test_only_what_has_a_price_is_asked_for(workshop, query):
    answer = workshop.get(f"{CURRENT}?{query}")
    assert answer.status_code == 422
    [fault] = answer.json["errors"]
    assert fault["parameter"] == query.partition("=")[0]


# Rates of exchange


def test_a_rate_of_exchange_is_a_price_of_a_currency(workshop):
    rate = {"metal": "EUR", "price": "1.085312345", "currency": "USD"}
    assert workshop.post(SPOTS, rate).json["price"] == "1.085312345"
    assert workshop.get(f"{CURRENT}?metal=EUR").json["price"] == "1.085312345"
    [entry] = workshop.get(f"{SPOTS}?metal=EUR").json["spot_prices"]
    assert entry["currency"] == "USD"
    assert workshop.get(CURRENT).json["price"] == "27.50"


def test_a_converted_price_shows_what_it_was_and_the_rate(workshop):
    workshop.post(SPOTS, {"price": "30", "currency": "USD"})
    assert workshop.post("/v1/estimates", RING).status_code == 409
    workshop.post(SPOTS, {"metal": "EUR", "price": "1.25", "currency": "USD"})
    told = workshop.post("/v1/estimates", RING).json["spot"]
    assert (told["price"], told["currency"], told["source"]) == (
        "24.00",
        "EUR",
        "manual",
    )
    assert (told["original_price"], told["original_currency"]) == ("30.00", "USD")
    assert (told["fx"]["base"], told["fx"]["quote"]) == ("EUR", "USD")
    assert (told["fx"]["rate"], told["fx"]["source"]) == ("1.25", "manual")
    assert told["fx"]["age_hours"] == "0.0"
    assert told["fx"]["as_of"]


# Fetching, and deciding what was held


def test_a_fetched_price_is_in_force_at_once(fed):
    told = fed.post(FETCH, {"feed": "assay"}).json["results"]
    [result] = told
    assert (result["outcome"], result["price"]) == ("accepted", "28.00")
    assert [one["code"] for one in result["findings"]] == []
    current = fed.get(CURRENT).json
    assert (current["price"], current["source"]) == ("28.00", "assay")
    assert current["as_of"] == "2026-12-01T12:00:00.000Z"
    [entry, _] = fed.get(SPOTS).json["spot_prices"]
    assert entry["id"] == result["entry_id"]
    assert (entry["status"], entry["by"]) == ("accepted", key_id(fed))


@pytest.mark.parametrize("body", [{}, {"feed": None}])
def test_without_a_name_every_feed_that_is_on_is_asked(fed, body):
    etag = fed.get("/v1/feeds/assay").headers["ETag"]
    off = fed.get("/v1/feeds/assay").json["document"] | {"enabled": False}
    fed.put("/v1/feeds/second", FEED, headers={"If-None-Match": "*"})
    fed.put("/v1/feeds/assay", off, headers={"If-Match": etag})
    results = fed.post(FETCH, body).json["results"]
    assert [one["feed"] for one in results] == ["second"]
    refused = fed.post(FETCH, {"feed": "assay"})
    assert refused.status_code == 409
    assert "switched off" in refused.json["detail"]


def test_a_feed_that_is_not_there_is_pointed_at(fed):
    answer = fed.post(FETCH, {"feed": "asay"})
    assert answer.status_code == 422
    assert list(faults(answer)) == ["#/feed"]


@pytest.mark.parametrize("body", [[], {"feed": 7}, {"feed": "A"}, {"feeds": "assay"}])
def test_what_is_no_feed_is_refused(fed, body):
    assert fed.post(FETCH, body).status_code == 422


def test_a_feed_that_fails_says_why_and_changes_nothing(fed):
    fed.post_office.letters[FEED["url"]] = b"<html>"
    [result] = fed.post(FETCH, {"feed": "assay"}).json["results"]
    assert (result["outcome"], result["entry_id"]) == ("failed", None)
    assert (result["price"], result["as_of"]) == (None, None)
    assert result["findings"][0]["text"].endswith(".")
    assert fed.get(CURRENT).json["source"] == "manual"


@pytest.fixture
def held(fed):
    """A workshop in which a price waits for a person."""
    fed.post_office.letters[FEED["url"]] = letter("31")
    [result] = fed.post(FETCH, {"feed": "assay"}).json["results"]
    assert result["outcome"] == "held"
    fed.entry = result["entry_id"]
    return fed


def test_a_held_price_waits_and_says_why(held):
    assert held.get(CURRENT).json["price"] == "27.50"
    assert held.get(CURRENT).json["waiting"] == 1
    [entry] = held.get(f"{SPOTS}?status=held").json["spot_prices"]
    assert (entry["id"], entry["status"]) == (held.entry, "held")
    assert [one["code"] for one in entry["reasons"]] == ["jump"]
    assert "accept or reject" in entry["reasons"][0]["text"]
    assert held.get(f"{SPOTS}?status=rejected").json["spot_prices"] == []


@pytest.mark.parametrize(
    ("decision", "status", "price"),
    [("accept", "accepted", "31.00"), ("reject", "rejected", "27.50")],
)
def test_a_held_price_is_decided_once(held, decision, status, price):
    told = held.send("POST", f"{SPOTS}/{held.entry}/{decision}").json
    assert (told["status"], told["decided_by"]) == (status, key_id(held))
    assert told["decided_at"] == "2026-12-01T12:00:00.000Z"
    current = held.get(CURRENT).json
    assert (current["price"], current["waiting"]) == (price, 0)
    for again in ("accept", "reject"):
        assert held.send("POST", f"{SPOTS}/{held.entry}/{again}").status_code == 409


@pytest.mark.parametrize("entry", ["99", "0", "x", "9" * 30, "-1"])
@pytest.mark.parametrize("decision", ["accept", "reject"])
def test_what_is_not_there_cannot_be_decided(workshop, entry, decision):
    assert workshop.send("POST", f"{SPOTS}/{entry}/{decision}").status_code == 404


def test_pages_of_the_held_ones_stay_among_them(held):
    for price in ("31.5", "32"):
        held.post_office.letters[FEED["url"]] = letter(price)
        held.post(FETCH, {"feed": "assay"})
    first = held.get(f"{SPOTS}?status=held&limit=2")
    assert len(first.json["spot_prices"]) == 2
    assert "status=held" in link(first)
    [last] = held.get(link(first)).json["spot_prices"]
    assert last["id"] == held.entry
