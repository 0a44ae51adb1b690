"""The Idempotency-Key over HTTP: one effect, one answer, whoever asks again."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest

from api.idempotency import fingerprint, read_key
from api.ports import StorageCollision, StorageUnavailable
from api.services.replays import LIFETIME
from tests.http.quoting import PAIR, QUOTES, RING, decide, fresh, made
from tests.http.workshop import BOOK

REPLAYED = "Idempotency-Replayed"
KEY = "8e03978e-40d5-43dd-bc93-6894a57f9324"


def same(first, second):
    """Whether the second answer is the first again, and says so."""
    assert REPLAYED not in first.headers
    assert second.headers[REPLAYED] == "true"
    for header in ("Content-Type", "ETag", "Location"):
        assert second.headers.get(header) == first.headers.get(header)
    return (second.status_code, second.data) == (first.status_code, first.data)


def quotes(workshop):
    return workshop.counts()["quotes"]


def test_a_quote_asked_for_twice_is_made_once(workshop):
    first, second = (workshop.once(QUOTES, PAIR, KEY) for _ in range(2))
    assert first.status_code == 201
    assert same(first, second)
    assert quotes(workshop) == 1
    assert first.headers["X-Request-Id"] != second.headers["X-Request-Id"]


def test_the_answer_is_given_again_as_it_was_whatever_became_of_the_quote(workshop):
    first = workshop.once(QUOTES, PAIR, KEY)
    decide(workshop, first.json | {"_etag": '"quote-1"'}, "decline")
    assert same(first, workshop.once(QUOTES, PAIR, KEY))


@pytest.mark.parametrize("key", [f'"{KEY}"', f' "{KEY}" ', KEY])
def test_a_key_is_the_same_with_and_without_quotes(workshop, key):
    first = workshop.once(QUOTES, PAIR, KEY)
    assert same(first, workshop.once(QUOTES, PAIR, key))


@pytest.mark.parametrize(
    "key",
    ["", "short-7", "a" * 65, '"unfinished', "two words", "é" * 8, "a,b" * 4, '""',
     f'"{KEY}";a=1', f"'{KEY}'"],
)  # fmt: skip
def test_a_key_of_another_form_is_refused_with_the_header_named(workshop, key):
    answer = workshop.once(QUOTES, PAIR, key)
    assert answer.status_code == 400
    assert answer.json["type"] == "/docs/problems/idempotency-key-needed"
    assert answer.json["errors"][0]["header"] == "Idempotency-Key"


@pytest.mark.parametrize("length", [8, 64])
def test_keys_at_both_ends_of_the_lengths_are_taken(length):
    assert read_key("a" * length, required=True) == "a" * length


def test_making_and_renewing_need_a_key_and_deciding_does_not(workshop):
    assert workshop.post(QUOTES, PAIR).status_code == 400
    quote = made(workshop)
    renew = f"{QUOTES}/{quote['id']}/renew"
    match = {"If-Match": quote["_etag"]}
    assert workshop.post(renew, {}, headers=match).status_code == 400
    assert quotes(workshop) == 1
    assert decide(workshop, quote, "accept").status_code == 200


def test_the_same_key_for_something_else_is_refused(workshop):
    workshop.once(QUOTES, PAIR, KEY)
    answer = workshop.once(QUOTES, PAIR | {"valid_hours": 7}, KEY)
    assert answer.status_code == 422
    assert answer.json["type"] == "/docs/problems/idempotency-key-reused"
    assert quotes(workshop) == 1


def test_a_key_that_was_refused_for_something_else_still_gives_its_answer(workshop):
    first = workshop.once(QUOTES, PAIR, KEY)
    workshop.once(QUOTES, PAIR | {"valid_hours": 7}, KEY)
    assert same(first, workshop.once(QUOTES, PAIR, KEY))


def test_order_and_blanks_do_not_matter_but_texts_do(workshop):
    def asked(price):
        return {"lines": [RING | {"spot": {"price": price}}], "valid_hours": 5}

    first = workshop.once(QUOTES, asked("27.50"), KEY)
    turned = dict(reversed(asked("27.50").items()))
    spaced = json.dumps(turned, indent=3).encode()
    assert same(first, workshop.once(QUOTES, spaced, KEY))
    answer = workshop.once(QUOTES, asked("27.5"), KEY)
    assert answer.json["type"] == "/docs/problems/idempotency-key-reused"


def test_numbers_of_one_value_are_one_request():
    def of(text):
        return fingerprint("POST", "/v1/x", json.loads(text))

    assert of('{"a": 1, "b": "é"}') == of('{"b": "\\u00e9", "a": 1.0}')
    assert of('{"a": 10}') == of('{"a": 1e1}') != of('{"a": "10"}')
    assert fingerprint("POST", "/v1/x", {}) != fingerprint("POST", "/v1/y", {})
    assert fingerprint("POST", "/v1/x", {}) != fingerprint("PUT", "/v1/x", {})


def test_a_number_that_programs_read_differently_is_refused(workshop):
    body = json.dumps(PAIR | {"valid_hours": 2**53}).encode()
    answer = workshop.once(QUOTES, body, KEY)
    assert answer.json["type"] == "/docs/problems/malformed-json"


def test_two_keys_of_the_api_do_not_see_each_others_answers(workshop):
    _, workshop.tokens["other"] = workshop.services.keys.create("bench", "Other")
    first = workshop.once(QUOTES, PAIR, KEY)
    second = workshop.once(QUOTES, PAIR | {"valid_hours": 7}, KEY, key="other")
    assert (first.status_code, second.status_code) == (201, 201)
    assert first.json["id"] != second.json["id"]
    assert REPLAYED not in second.headers


def test_one_key_serves_for_different_operations(workshop):
    quote = workshop.once(QUOTES, PAIR, KEY).json | {"_etag": '"quote-1"'}
    assert decide(workshop, quote, "accept", name=KEY).status_code == 200
    assert decide(workshop, quote, "accept", name=KEY).headers[REPLAYED] == "true"


@pytest.mark.parametrize(
    ("what", "key"), [("accept", "shop"), ("decline", "bench"), ("renew", "bench")]
)
def test_a_decision_sent_twice_is_answered_twice_with_the_same(workshop, what, key):
    quote, before = made(workshop), workshop.counts()
    first, second = (decide(workshop, quote, what, name=KEY, key=key) for _ in range(2))
    assert first.status_code in {200, 201}
    assert same(first, second)
    assert quotes(workshop) - before["quotes"] == (what == "renew")


def test_no_body_and_an_empty_one_are_the_same_request(workshop):
    quote = made(workshop)
    first = decide(workshop, quote, "decline", name=KEY)
    assert same(first, decide(workshop, quote, "decline", {}, name=KEY))


def test_a_key_used_on_another_quote_is_refused(workshop):
    one, other = made(workshop), made(workshop)
    decide(workshop, one, "accept", name=KEY)
    answer = decide(workshop, other, "accept", name=KEY)
    assert answer.json["type"] == "/docs/problems/idempotency-key-reused"


def test_a_refusal_of_the_values_sent_is_kept(workshop):
    body = PAIR | {"valid_hours": 0}
    first = workshop.once(QUOTES, body, KEY)
    assert first.json["type"].endswith("/invalid-input")
    assert same(first, workshop.once(QUOTES, body, KEY))
    assert workshop.once(QUOTES, PAIR, fresh()).status_code == 201


def test_one_that_a_new_coin_mends_is_not(workshop):
    body = PAIR | {"lines": [RING | {"coin": "find"}]}
    assert workshop.once(QUOTES, body, KEY).json["type"].endswith("/unknown-key")
    coin = {"gross_mass_g": "20", "fineness_permille": "900", "diameter_mm": "34"}
    workshop.post("/v1/coins", {"key": "find"} | coin)
    answer = workshop.once(QUOTES, body, KEY)
    assert answer.status_code == 201
    assert REPLAYED not in answer.headers
    assert same(answer, workshop.once(QUOTES, body, KEY))


def test_nor_is_one_that_the_price_book_mends(workshop):
    greedy = [each | {"target_margin": "0.9999"} for each in BOOK["policies"]]
    workshop.change("/v1/price-book", BOOK | {"policies": greedy})
    refused = workshop.once(QUOTES, PAIR, KEY)
    assert refused.json["type"].endswith("/no-possible-price")
    workshop.change("/v1/price-book", BOOK)
    assert workshop.once(QUOTES, PAIR, KEY).status_code == 201


def test_nor_is_one_that_a_mended_coin_lets_be_made(workshop):
    coin = {"gross_mass_g": "20", "fineness_permille": "900", "diameter_mm": "12"}
    body = PAIR | {"lines": [RING | {"coin": "find"}]}
    workshop.post("/v1/coins", {"key": "find"} | coin)
    refused = workshop.once(QUOTES, body, KEY)
    assert refused.json["type"].endswith("/not-makeable")
    workshop.change("/v1/coins/find", coin | {"diameter_mm": "34"})
    assert workshop.once(QUOTES, body, KEY).status_code == 201


def test_one_that_the_day_decided_is_not(timed_workshop, clock):
    clock.advance(days=20)
    body = {"lines": [RING]}
    assert timed_workshop.once(QUOTES, body, KEY).json["type"].endswith("/spot-stale")
    timed_workshop.services.spot_prices.enter("XAG", Decimal("27.50"), "EUR")
    answer = timed_workshop.once(QUOTES, body, KEY)
    assert answer.status_code == 201
    assert REPLAYED not in answer.headers


def test_neither_are_those_of_key_version_and_state(workshop):
    quote = made(workshop)

    def told(**more):
        return decide(workshop, quote, "accept", name=KEY, **more).status_code

    assert told(key=None) == 401
    assert told(key="window") == 403
    assert told(match='"quote-9"') == 412
    assert told(body=b"[") == 400
    assert told() == 200
    assert (
        decide(workshop, quote, "decline", match="*", name=fresh()).status_code == 409
    )


def test_an_answer_is_kept_for_a_day(timed_workshop, clock):
    body = {"lines": [RING | {"spot": {"price": "27.50"}}]}
    first = timed_workshop.once(QUOTES, body, KEY)
    clock.advance(seconds=LIFETIME.total_seconds())
    assert same(first, timed_workshop.once(QUOTES, body, KEY))
    clock.advance(seconds=1)
    later = timed_workshop.once(QUOTES, body, KEY)
    assert (later.status_code, REPLAYED in later.headers) == (201, False)
    assert quotes(timed_workshop) == 2


def test_while_another_change_is_in_the_way_it_is_told_when_to_come_again(
    workshop, monkeypatch
):
    def collide(*_, **__):
        raise StorageCollision("in the way")

    before = workshop.counts()
    with monkeypatch.context() as patch:
        patch.setattr(workshop.services.snapshots, "transaction", collide)
        answer = workshop.once(QUOTES, PAIR, KEY)
    assert answer.status_code == 409
    assert answer.json["type"] == "/docs/problems/idempotency-in-progress"
    assert answer.headers["Retry-After"] == "1"
    assert workshop.counts() == before
    assert workshop.once(QUOTES, PAIR, KEY).status_code == 201


def test_a_refusal_stands_even_if_it_cannot_be_kept(workshop, monkeypatch):
    def fail(*_):
        raise StorageUnavailable("the disk is full")

    monkeypatch.setattr(workshop.services.replays, "keep", fail)
    assert workshop.once(QUOTES, {"lines": []}, KEY).status_code == 422


def test_a_fault_of_the_program_leaves_nothing_behind(workshop, monkeypatch):
    before = workshop.counts()
    with monkeypatch.context() as patch:
        patch.setattr("api.resources.quotes.tags_of", lambda *_: 1 / 0)
        answer = workshop.client.post(
            QUOTES,
            json=PAIR,
            headers={
                "Authorization": f"Bearer {workshop.tokens['bench']}",
                "Idempotency-Key": KEY,
            },
        )
    assert answer.status_code == 500
    assert workshop.counts() == before
    assert workshop.once(QUOTES, PAIR, KEY).status_code == 201


def test_a_retry_after_the_book_changed_gets_the_price_that_was_promised(workshop):
    first = workshop.once(QUOTES, PAIR, KEY)
    book = BOOK | {"labour": BOOK["labour"] | {"rate_per_hour": "99.00"}}
    workshop.change("/v1/price-book", book)
    assert same(first, workshop.once(QUOTES, PAIR, KEY))
