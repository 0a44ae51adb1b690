"""Deciding on quotes over HTTP: once, from what was read, and in time."""

from __future__ import annotations

import pytest

from tests.http.quoting import PAIR, QUOTES, decide, fresh, made

NOBODYS = "A" * 22
WRONG = '"quote-9"'


def status(workshop, quote):
    return workshop.get(f"{QUOTES}/{quote['id']}").json["status"]


def test_a_shop_accepts_and_is_shown_the_customers_sheet(workshop):
    quote = made(workshop)
    answer = decide(workshop, quote, "accept", key="shop")
    assert answer.status_code == 200
    sheet = workshop.get(f"{QUOTES}/{quote['id']}/sheet", key="shop")
    assert answer.headers["ETag"] == sheet.headers["ETag"]
    assert answer.json == sheet.json
    assert sheet.json["status"] == "accepted"


@pytest.mark.parametrize("name", [None, "a-name-of-its-own"])
def test_a_shop_accepts_what_the_sheet_it_read_is_the_version_of(workshop, name):
    quote = made(workshop)
    read = workshop.get(f"{QUOTES}/{quote['id']}/sheet", key="shop").headers["ETag"]
    assert read.startswith('"quote-1.')
    weak = decide(workshop, quote, "accept", key="shop", match=f"W/{read}")
    assert weak.status_code == 412
    assert "weak tag (W/) never matches" in weak.json["detail"]
    done = decide(workshop, quote, "accept", key="shop", match=read, name=name)
    assert done.status_code == 200
    assert done.headers["ETag"].startswith('"quote-2.')
    again = decide(workshop, quote, "accept", key="shop", match=read)
    assert again.status_code == 412
    assert "weak" not in again.json["detail"]


@pytest.mark.parametrize("body", [None, {}, b"{}", b" {} "])
def test_accepting_needs_no_body(workshop, body):
    assert decide(workshop, made(workshop), "accept", body).status_code == 200


@pytest.mark.parametrize("body", [{"total": "1.00"}, [], b'"yes"', {"status": "open"}])
def test_nothing_can_be_changed_by_accepting(workshop, body):
    quote = made(workshop)
    assert decide(workshop, quote, "accept", body).status_code == 422
    assert status(workshop, quote) == "open"


@pytest.mark.parametrize(
    ("body", "reason"), [(None, ""), ({}, ""), ({"reason": "Too wide."}, "Too wide.")]
)
def test_a_quote_is_declined_with_or_without_a_reason(workshop, body, reason):
    answer = decide(workshop, made(workshop), "decline", body)
    assert answer.status_code == 200
    assert (answer.json["status"], answer.json["reason"]) == ("declined", reason)
    assert answer.json["decided_by"]


def test_a_reason_of_two_lines_is_refused(workshop):
    answer = decide(workshop, made(workshop), "decline", {"reason": "a\nb"})
    assert answer.json["errors"][0]["pointer"] == "#/reason"


def test_a_renewed_quote_stands_on_todays_spot_and_names_the_old_one(workshop):
    old = made(workshop)
    answer = decide(workshop, old, "renew", {"spot": {"price": "40.00"}})
    new = answer.json
    assert answer.status_code == 201
    assert answer.headers["Location"] == f"{QUOTES}/{new['id']}"
    assert {line["spot"]["price"] for line in new["lines"]} == {"40.00"}
    assert new["renews"]["total"] == old["total"] != new["total"]
    read = workshop.get(f"{QUOTES}/{old['id']}").json
    assert read["renewed_by"]["total"] == new["total"]
    assert read["status"] == "renewed"
    sheet = workshop.get(f"{QUOTES}/{new['id']}/sheet", key="shop").json
    assert sheet["renews"] == {"number": old["number"], "total": old["total"]}


def test_without_a_body_it_stands_on_the_spot_in_force(workshop):
    answer = decide(workshop, made(workshop), "renew")
    assert answer.status_code == 201
    assert answer.json["lines"][0]["spot"]["source"] == "manual"


def test_an_expired_quote_is_refused_as_that_and_may_be_renewed(timed_workshop, clock):
    quote = made(timed_workshop, valid_hours=1)
    clock.advance(hours=1)
    for match in ('"quote-1"', '"quote-expired-1"', "*"):
        answer = decide(timed_workshop, quote, "accept", match=match, key="shop")
        assert answer.status_code == 409
        assert answer.json["type"] == "/docs/problems/quote-expired"
    body = {"spot": {"price": "27.50"}}
    assert decide(timed_workshop, quote, "renew", body).status_code == 201


@pytest.mark.parametrize("first", ["accept", "decline", "renew"])
@pytest.mark.parametrize("second", ["accept", "decline", "renew"])
def test_what_was_decided_is_decided(workshop, first, second):
    quote = made(workshop)
    assert decide(workshop, quote, first).status_code in {200, 201}
    before = workshop.counts()
    answer = decide(workshop, quote, second, match="*")
    if (first, second) == ("decline", "renew"):
        assert answer.status_code == 201
        return
    assert answer.status_code == 409
    assert answer.json["type"] == "/docs/problems/conflict"
    assert answer.json["detail"].startswith(f"quote {quote['number']} is ")
    assert workshop.counts() == before


@pytest.mark.parametrize("what", ["accept", "decline", "renew"])
def test_the_refusals_come_in_their_order(workshop, what):
    """401, 403, 404, 428, 412, 422, 409: the first that holds is told."""
    quote = made(workshop)
    path, bad = f"{QUOTES}/{quote['id']}/{what}", {"no_such": 1}
    named = {"Idempotency-Key": fresh()} if what == "renew" else {}

    def told(address=path, body=bad, key="bench", **headers):
        answer = workshop.send("POST", address, body, key=key, headers=named | headers)
        return answer.status_code

    wrong = {"If-Match": WRONG}
    assert told(key=None, **wrong) == 401
    assert told(key="revoked") == 401
    assert told(key="window", **wrong) == 403
    assert told(key="shop", **wrong) == (412 if what == "accept" else 403)
    assert told(f"{QUOTES}/{NOBODYS}/{what}", **wrong) == 404
    assert told(f"{QUOTES}/{NOBODYS}/{what}") == 404
    assert told() == 428
    assert told(**wrong) == 412
    assert told(**{"If-Match": "quote-1"}) == 400
    assert told(**{"If-Match": 'W/"quote-1"'}) == 412
    assert told(**{"If-Match": '"quote-1"'}) == 422
    assert status(workshop, quote) == "open"
    decide(workshop, quote, "accept")
    named |= {"Idempotency-Key": fresh()} if named else {}
    assert told(body={}, **{"If-Match": '"quote-1"'}) == 412
    assert told(body={}, **{"If-Match": '"quote-2"'}) == 409


@pytest.mark.parametrize("match", ['"quote-1"', "*", '"quote-7", "quote-1"'])
def test_any_form_that_names_the_version_is_taken(workshop, match):
    assert decide(workshop, made(workshop), "accept", match=match).status_code == 200


def test_a_key_of_another_kind_of_thing_does_not_match(workshop):
    answer = decide(workshop, made(workshop), "accept", match='"coin-1"')
    assert answer.status_code == 412


def test_an_accepted_quote_keeps_its_price(workshop):
    quote = made(workshop)
    decide(workshop, quote, "accept")
    workshop.post("/v1/spot-prices", {"price": "99.00"})
    read = workshop.get(f"{QUOTES}/{quote['id']}").json
    assert (read["total"], read["lines"]) == (quote["total"], quote["lines"])


def test_what_is_gone_cannot_be_renewed_and_the_old_one_stays(workshop):
    own = {"gross_mass_g": "20", "fineness_permille": "900", "diameter_mm": "34"}
    coin = workshop.post("/v1/coins", {"key": "heirloom"} | own)
    lines = [PAIR["lines"][0] | {"coin": "heirloom"}]
    quote = made(workshop, lines=lines)
    etag = {"If-Match": coin.headers["ETag"]}
    workshop.send("DELETE", "/v1/coins/heirloom", headers=etag)
    answer = decide(workshop, quote, "renew", {})
    assert answer.status_code == 409
    assert status(workshop, quote) == "open"
