"""Quotes over HTTP: made whole, read as they were, listed by what they are."""

from __future__ import annotations

import json
from typing import get_args

import pytest

from api.ports import QUOTE_STATUSES, QuoteStatus
from api.schemas import quotes as schemas
from api.services.quotes import terms as quote_terms
from pricing import order
from tests.http.quoting import COIN, PAIR, QUOTES, RING, decide, fresh, made
from tests.http.workshop import BOOK, faults

INLINE = {
    "name": "A medal",
    "gross_mass_g": "14.58",
    "fineness_permille": "900",
    "diameter_mm": "30",
}


def test_a_quote_is_made_whole_and_says_where_it_is(workshop):
    answer = workshop.once(QUOTES, PAIR)
    quote = answer.json
    assert answer.status_code == 201
    assert answer.headers["Location"] == f"{QUOTES}/{quote['id']}"
    assert answer.headers["ETag"] == '"quote-1"'
    assert (quote["status"], quote["version"]) == ("open", 1)
    assert len(quote["lines"]) == len(quote["coins"]) == 2
    assert quote["lines"][1]["spot"]["price"] == "27.50"
    assert len(quote["id"]) >= 22  # 128 bits


def test_it_reads_the_same_though_everything_it_stood_on_has_changed(workshop):
    quote = made(workshop)
    book = BOOK | {"labour": BOOK["labour"] | {"rate_per_hour": "99.00"}}
    workshop.change("/v1/price-book", book)
    workshop.post("/v1/spot-prices", {"price": "55.00"})
    own = {"gross_mass_g": "19", "fineness_permille": "800", "diameter_mm": "34"}
    workshop.post("/v1/coins", {"key": COIN} | own)
    read = workshop.get(f"{QUOTES}/{quote['id']}").json
    assert read | {"_etag": quote["_etag"]} == quote


def test_a_line_of_a_quote_is_the_estimate_of_that_ring_alone(workshop):
    asked = RING | {"spot": {"price": "27.50"}}
    estimate = workshop.post("/v1/estimates", asked).json
    [line] = made(workshop, lines=[asked])["lines"]
    volatile = {"spot": {"as_of": None, "age_hours": None}}
    for document in (estimate, line):
        document["spot"] |= volatile["spot"]
    assert line == estimate


def test_terms_are_kept(workshop):
    terms = {"valid_hours": 5, "show_spot": True, "customer_note": "One\r\ntwo."}
    quote = made(workshop, **terms)
    assert quote["customer_note"] == "One\ntwo."
    assert quote["show_spot"] is True
    sheet = workshop.get(f"{QUOTES}/{quote['id']}/sheet", key="shop").json
    assert sheet["spot"]["price"] == "27.50"
    assert sheet["deposit"] == quote["deposit"]
    assert sheet["customer_note"] == "One\ntwo."


def test_a_coin_given_inline_and_one_of_the_customers_own_can_be_quoted(workshop):
    own = RING | {"coin": INLINE, "own_coin": {"compensation": "40.00"}}
    quote = made(workshop, lines=[RING, own])
    assert quote["coins"][1]["gross_mass_g"] == "14.58"
    sheet = workshop.get(f"{QUOTES}/{quote['id']}/sheet").json
    assert [piece["own_coin"] for piece in sheet["pieces"]] == [False, True]
    assert sheet["pieces"][1]["own_coin_text"]


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"lines": []}, "#/lines"),
        ({"lines": [RING] * 51}, "#/lines"),
        ({"lines": [RING | {"coin": "no_such"}]}, "#/lines/0/coin"),
        ({"lines": [RING, RING | {"channel": "no_such"}]}, "#/lines/1/channel"),
        ({"lines": [RING, RING | {"quantity": 0}]}, "#/lines/1/quantity"),
        ({"lines": [RING | {"price": "1.00"}]}, "#/lines/0/price"),
        ({"deposit_share": "0"}, "#/deposit_share"),
        ({"deposit_share": "1.01"}, "#/deposit_share"),
        ({"deposit_share": 0.5}, "#/deposit_share"),
        ({"valid_hours": 0}, "#/valid_hours"),
        ({"valid_hours": 8761}, "#/valid_hours"),
        ({"customer_note": "a" * 2001}, "#/customer_note"),
        ({"customer_note": "a\u0085b"}, "#/customer_note"),
        ({"show_spot": "true"}, "#/show_spot"),
        *(({member: "1"}, f"#/{member}") for member in ("total", "margin", "status")),
        *(({member: "1"}, f"#/{member}") for member in ("id", "number", "owner")),
        ({"valid_until": "2030-01-01T00:00:00Z"}, "#/valid_until"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_is_wrong_is_pointed_at_and_nothing_is_made(workshop, change, pointer):
    before = workshop.counts()
    answer = workshop.once(QUOTES, PAIR | change)
    assert answer.status_code == 422
    assert [fault["pointer"] for fault in answer.json["errors"]] == [pointer]
    assert workshop.counts() == before


def test_two_spot_prices_in_one_quote_are_refused(workshop):
    lines = [RING | {"spot": {"price": price}} for price in ("27.50", "27.51")]
    answer = workshop.once(QUOTES, {"lines": lines})
    assert list(faults(answer)) == ["#/lines/1/spot/price"]


def test_as_many_lines_as_are_allowed_can_be_quoted(workshop):
    quote = made(workshop, lines=[RING | {"spot": {"price": "27.50"}}] * 50)
    assert len(quote["lines"]) == 50


def test_a_fault_inside_a_stored_coin_points_at_its_key(workshop):
    own = {"gross_mass_g": "20", "fineness_permille": "900", "diameter_mm": "34"}
    workshop.post("/v1/coins", own | {"key": "unpaid", "basis": "paid"})
    answer = workshop.once(QUOTES, {"lines": [RING, RING | {"coin": "unpaid"}]})
    assert list(faults(answer)) == ["#/lines/1/coin"]


def test_what_cannot_be_made_is_refused_with_what_can(workshop):
    narrow = {"size": {"system": "us", "size": "16"}, "hole_mm": "33"}
    answer = workshop.once(QUOTES, {"lines": [RING, RING | narrow]})
    assert answer.json["type"] == "/docs/problems/not-makeable"
    assert answer.json["nearest_hole_mm"] == "20.0"
    assert list(faults(answer)) == ["#/lines/1"]


def test_without_a_spot_price_nothing_is_promised(bare_workshop):
    bare_workshop.put("/v1/price-book", BOOK, headers={"If-None-Match": "*"})
    lines = [RING]
    answer = bare_workshop.once(QUOTES, {"lines": lines})
    assert answer.status_code == 409
    assert answer.json["type"].endswith("/spot-unavailable")
    bare_workshop.post("/v1/spot-prices", {"price": "27.50"})
    # A refusal that depends on the day is not kept: the same request succeeds now.
    assert bare_workshop.once(QUOTES, {"lines": lines}).status_code == 201


def test_quotes_are_listed_newest_first_without_their_lines(workshop):
    names = [made(workshop)["number"] for _ in range(3)]
    listed = workshop.get(QUOTES).json["quotes"]
    assert [quote["number"] for quote in listed] == names[::-1]
    assert not {"lines", "coins"} & set(listed[0])


def numbers(workshop, **query):
    answer = workshop.get(QUOTES, query_string=query)
    assert answer.status_code == 200, answer.text
    return [quote["number"] for quote in answer.json["quotes"]]


def test_they_are_found_by_status_time_and_text(timed_workshop, clock):
    first = made(timed_workshop, customer_note="Straße 7", valid_hours=1)
    clock.advance(minutes=50)
    second = made(timed_workshop, customer_note="the oak box")
    third = made(timed_workshop)
    decide(timed_workshop, second, "accept")
    clock.advance(minutes=20)
    one, two, three = (quote["number"] for quote in (first, second, third))
    assert numbers(timed_workshop, status="expired") == [one]
    assert numbers(timed_workshop, status="accepted") == [two]
    assert numbers(timed_workshop, status="open") == [three]
    assert numbers(timed_workshop, text="OAK") == [two]
    assert numbers(timed_workshop, text=two) == [two]
    assert numbers(timed_workshop, text="%") == []
    since = second["created_at"]
    assert numbers(timed_workshop, created_from=since) == [three, two]
    assert numbers(timed_workshop, created_before=since) == [one]


@pytest.mark.parametrize(
    "time",
    ["2026-12-01T12:00:00", "20261201T120000Z", "2026-12-01", "2026-12-01T12:00Z", ""],
)
def test_a_time_without_its_offset_or_in_another_form_is_refused(workshop, time):
    answer = workshop.get(QUOTES, query_string={"created_from": time})
    assert answer.status_code == 422
    assert answer.json["errors"][0]["parameter"] == "created_from"


@pytest.mark.parametrize(
    "time",
    ["2026-12-01t12:00:00z", "2016-12-31T23:59:60Z", "2026-12-01T12:00:00+14:00"],
)
def test_every_form_the_standard_allows_is_taken(workshop, time):
    assert numbers(workshop, created_from=time) == []


@pytest.mark.parametrize("query", ["sort=margin", "fields=cost", "filter[cost]=1"])
def test_there_is_no_way_to_sort_or_select_by_cost(workshop, query):
    assert workshop.get(f"{QUOTES}?{query}").status_code == 422


def test_a_quote_that_was_read_already_is_not_sent_again(workshop):
    quote = made(workshop)
    path, known = f"{QUOTES}/{quote['id']}", {"If-None-Match": quote["_etag"]}
    assert workshop.get(path, headers=known).status_code == 304
    decide(workshop, quote, "accept")
    assert workshop.get(path, headers=known).status_code == 200


def test_one_that_has_expired_since_is_sent_again(timed_workshop, clock):
    quote = made(timed_workshop, valid_hours=1)
    path, known = f"{QUOTES}/{quote['id']}", {"If-None-Match": quote["_etag"]}
    clock.advance(minutes=59)
    assert timed_workshop.get(path, headers=known).status_code == 304
    clock.advance(minutes=1)
    answer = timed_workshop.get(path, headers=known)
    assert (answer.status_code, answer.json["status"]) == (200, "expired")
    assert answer.json["version"] == 1


def test_a_sheet_is_sent_again_when_its_spot_comes_or_goes(workshop):
    """With the leave of its feed, and without a change of the quote."""
    feed = {"title": "Assay", "url": "https://feeds.example/silver", "format": "json",
            "currency": "EUR", "price": "/price", "time": {"path": "/at"}}  # fmt: skip
    new = {"If-None-Match": "*"}
    assert workshop.put("/v1/feeds/assay", feed, headers=new).status_code == 201
    workshop.post("/v1/spot-prices", {"price": "29"})
    with workshop.services.storage.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE spot_prices SET source = 'assay'")
    quote = made(workshop, lines=[RING], show_spot=True)
    path, tags = f"{QUOTES}/{quote['id']}/sheet", []
    for shown in (False, True, False):
        workshop.change("/v1/feeds/assay", feed | {"may_display": shown})
        known = {"If-None-Match": ", ".join(tags[-1:]) or '"none"'}
        answer = workshop.get(path, headers=known)
        assert answer.status_code == 200
        assert (answer.json["spot"] is not None) == shown
        tags.append(answer.headers["ETag"])
        known = {"If-None-Match": tags[-1]}
        assert workshop.get(path, headers=known).status_code == 304
    assert tags[0] == tags[2] != tags[1]
    assert decide(workshop, quote, "accept", match=tags[1]).status_code == 200


@pytest.mark.parametrize("name", ["2026-0001", "A" * 22, "a%00b", "x" * 3000])
@pytest.mark.parametrize("part", ["", "/sheet"])
def test_what_is_no_quote_is_not_found(workshop, name, part):
    assert workshop.get(f"{QUOTES}/{name}{part}").status_code == 404


def test_the_words_of_the_wire_are_those_of_the_services():
    assert schemas.STATUSES == QUOTE_STATUSES == get_args(QuoteStatus)
    assert schemas.MOST_NOTE == quote_terms.MOST_NOTE
    assert schemas.LONGEST_HOURS == quote_terms.LONGEST_HOURS
    assert schemas.MOST_LINES == order.MOST_LINES


def test_a_body_may_hold_64_kb_and_no_more(workshop):
    body = json.dumps(PAIR).encode()
    padded = body + b" " * (64 * 1024 - len(body))
    assert workshop.once(QUOTES, padded, fresh()).status_code == 201
    assert workshop.once(QUOTES, padded + b" ", fresh()).status_code == 413
