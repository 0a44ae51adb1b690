"""Held prices over HTTP: promised once, shown to who asked, accepted by the shop."""

from __future__ import annotations

import json
import shutil
from datetime import UTC, datetime, timedelta

import pytest

from api.cursors import SECRET
from api.schemas import window as schemas
from api.schemas import window_holds as documents
from api.services.window import holds as window_holds
from api.services.window import price_tokens
from api.services.window.price_tokens import new_pair, signed, verified
from pricing.errors import InvalidInput
from tests.http.listing import RING
from tests.http.quoting import QUOTES, decide, fresh
from tests.http.quoting import made as quoted
from tests.http.test_quotas import field
from tests.http.window import BANDS, WINDOW, plain, publish
from tests.http.workshop import SPOT, Workshop, faults

HELD = f"{WINDOW}/quotes"
KEYS = f"{WINDOW}/signing-keys"
WISH = {"sku": "ring-1", "size": {"system": "uk", "size": "L"}, "quantity": 2}
HOLD = {
    "id",
    "number",
    "status",
    "sku",
    "size",
    "quantity",
    "unit_price",
    "total",
    "tax",
    "tax_included",
    "currency",
    "valid_until",
    "token",
}
CLAIMS = {
    *("iss", "aud", "jti", "iat", "exp", "sku", "size", "quantity"),
    *("unit_price", "total", "tax", "tax_included", "currency"),
}


@pytest.fixture
def store(workshop):
    publish(workshop)
    return workshop


@pytest.fixture
def still(timed_workshop):
    """The same at the time of a clock that only the test moves, its price fresh."""
    publish(timed_workshop)
    return timed_workshop


def hold(store, name=None, *, key="window", **members):
    return store.once(HELD, WISH | members, name or fresh(), key=key)


def held(store, **members):
    answer = hold(store, **members)
    assert answer.status_code == 201, answer.text
    return answer.json | {"_etag": answer.headers["ETag"]}


def offline(store, token, *, audience="shop", now=None):
    """What a shop's server does with a token: nothing but the published keys."""
    keys = store.get(KEYS, key=None).json["keys"]
    now = now or datetime.now(UTC)
    return verified(token, keys, audience=audience, issuer="fineweight", now=now)


def test_a_price_is_held_and_says_where_it_is(store):
    answer = hold(store)
    made = answer.json
    assert (answer.status_code, set(made)) == (201, HOLD)
    assert answer.headers["Location"] == f"{HELD}/{made['id']}"
    assert answer.headers["Cache-Control"] == "no-store"
    assert answer.headers["Access-Control-Allow-Origin"] == "*"
    assert {name: made[name] for name in WISH} == WISH
    assert (made["status"], made["currency"]) == ("open", "EUR")
    assert (made["unit_price"], made["total"], made["tax"]) == (
        "189.95",
        "379.90",
        "63.32",
    )
    until = datetime.fromisoformat(made["valid_until"])
    left = until - datetime.now(UTC)
    assert timedelta(hours=23) < left <= timedelta(hours=24)


def test_the_same_request_again_gets_the_same_and_holds_nothing_new(store):
    first, again = hold(store, "one-purchase"), hold(store, "one-purchase")
    assert (again.status_code, again.json) == (201, first.json)
    assert again.headers["Idempotency-Replayed"] == "true"
    assert again.headers["ETag"] == first.headers["ETag"]
    assert store.counts()["quotes"] == 1
    other = hold(store, "one-purchase", quantity=3)
    assert other.status_code == 422
    assert other.json["type"].endswith("idempotency-key-reused")
    assert hold(store, "one-purchase", key="shop").json["id"] != first.json["id"]
    assert store.counts()["quotes"] == 2


def test_it_has_to_have_a_name(store):
    answer = store.post(HELD, WISH, key="window")
    assert answer.status_code == 400
    assert answer.json["errors"][0]["header"] == "Idempotency-Key"
    assert store.counts()["quotes"] == 0


def test_it_is_read_by_who_asked_for_it_and_by_the_shop(store):
    made = hold(store)
    path = made.headers["Location"]
    for key in ("window", "shop", "bench"):
        answer = store.get(path, key=key)
        assert (answer.status_code, answer.json) == (200, made.json)
        assert answer.headers["ETag"] == made.headers["ETag"]
    tag = {"If-None-Match": made.headers["ETag"]}
    assert store.get(path, key="window", headers=tag).status_code == 304
    _, store.tokens["other"] = store.services.keys.create("window", "Other page")
    theirs = store.get(path, key="other")
    none = store.get(f"{HELD}/{'A' * 22}", key="other")
    assert (theirs.status_code, none.status_code) == (404, 404)
    swapped = theirs.text.replace(made.json["id"], "A" * 22)
    assert plain(none) == {
        name: value for name, value in json.loads(swapped).items() if name != "instance"
    }


def test_no_other_quote_is_read_here(store):
    quote = quoted(store)
    for key in ("window", "shop", "bench"):
        assert store.get(f"{HELD}/{quote['id']}", key=key).status_code == 404
    made = held(store)
    for path in (f"{QUOTES}/{made['id']}", f"{QUOTES}/{made['id']}/sheet", QUOTES):
        assert store.get(path, key="window").status_code == 403


def test_the_bench_finds_it_with_all_it_stands_on(store):
    made = held(store)
    quote = store.get(f"{QUOTES}/{made['id']}").json
    [line] = quote["lines"]
    assert (line["price"]["unit"], line["price"]["bound_by"]) == ("189.95", "given")
    assert (quote["number"], quote["goods"]) == (made["number"], made["total"])
    assert "token" not in quote


UNFIT = {
    "no size": ({"size": None}, {"#/size"}),
    "no such system": ({"size": {"system": "fr", "size": "5"}}, {"#/size/system"}),
    "a size that is none": ({"size": {"system": "us", "size": "x"}}, {"#/size/size"}),
    "no pieces": ({"quantity": 0}, {"#/quantity"}),
    "a price of one's own": ({"unit_price": "1"}, {"#/unit_price"}),
    "an end of one's own": ({"valid_hours": 999}, {"#/valid_hours"}),
    "a size not offered": ({"size": {"system": "us", "size": "14"}}, {"#/size/size"}),
}


@pytest.mark.parametrize(("members", "where"), UNFIT.values(), ids=UNFIT)
def test_what_cannot_be_is_pointed_at_and_holds_nothing(store, members, where):
    body = {n: v for n, v in (WISH | members).items() if v is not None}
    answer = store.once(HELD, body, key="window")
    assert (answer.status_code, set(faults(answer))) == (422, where)
    assert store.counts()["quotes"] == 0


def test_what_is_not_shown_cannot_be_held(store):
    publish(store, "hidden", published=False)
    hidden = hold(store, sku="hidden")
    assert hidden.status_code == 404
    etag = store.get("/v1/listings/hidden").headers["ETag"]
    store.send("DELETE", "/v1/listings/hidden", headers={"If-Match": etag})
    assert plain(hold(store, sku="hidden")) == plain(hidden)


def test_why_it_cannot_be_held_is_the_workshops_secret(store):
    tiny = [{"from": "0", "to": "0.25", "price": "5"}]
    publish(store, "tiny", bands=tiny)
    answer = hold(store, sku="tiny", size={"system": "us", "size": "0"})
    assert answer.status_code == 409
    assert answer.json["type"] == "/docs/problems/cannot-hold"
    assert set(answer.json) == {"type", "title", "status", "detail", "instance"}
    assert "wall" not in answer.text


# At the shop's checkout


def test_the_shop_accepts_it_once(store):
    made = held(store)
    answer = decide(store, made, "accept", {"token": made["token"]}, key="shop")
    assert answer.status_code == 200
    assert (answer.json["status"], answer.json["goods"]) == ("accepted", made["total"])
    again = decide(
        store,
        made | {"_etag": "*"},
        "accept",
        {"token": made["token"]},
        key="shop",
    )
    assert again.status_code == 409
    assert store.get(f"{HELD}/{made['id']}", key="window").json == {
        name: made[name] for name in HOLD
    } | {"status": "accepted"}
    assert decide(store, held(store), "accept", key="window").status_code == 403


def test_it_is_accepted_at_its_price_whatever_has_changed(store):
    made = held(store)
    body = {name: value for name, value in RING.items() if name != "sku"}
    bands = [BANDS[0] | {"price": "300"}]
    store.change("/v1/listings/ring-1", body | {"bands": bands, "published": False})
    store.services.spot_prices.enter("XAG", SPOT * 2, "EUR")
    answer = decide(store, made, "accept", key="shop")
    assert (answer.status_code, answer.json["goods"]) == (200, "379.90")


def test_an_expired_one_is_refused_and_told_what_to_do(still, clock):
    made = held(still)
    clock.advance(hours=23, minutes=59)
    assert offline(still, made["token"], now=clock.now())["jti"] == made["id"]
    clock.advance(minutes=1)
    assert still.get(f"{HELD}/{made['id']}", key="window").json["status"] == "expired"
    for body in (None, {"token": made["token"]}):
        answer = decide(still, made, "accept", body, key="shop")
        assert answer.status_code == 409
        assert answer.json["type"] == "/docs/problems/quote-expired"
        assert "hold the ring anew for a price of today" in answer.json["detail"]
    with pytest.raises(InvalidInput, match="has expired"):
        offline(still, made["token"], now=clock.now())


def test_a_token_that_was_changed_or_is_anothers_is_refused_at_checkout(store):
    made, other = held(store), held(store)
    _, private = new_pair()
    kid = store.get(KEYS, key=None).json["keys"][0]["kid"]
    forged = signed(offline(store, made["token"]), private=private, kid=kid)
    changed = made["token"][:-6] + "AAAAAA"
    for token in (other["token"], forged, changed, "x"):
        answer = decide(store, made, "accept", {"token": token}, key="shop")
        assert (answer.status_code, set(faults(answer))) == (422, {"#/token"})
    assert decide(store, made, "accept", key="shop").status_code == 200


# Offline


def test_the_shop_checks_a_token_with_the_published_keys_alone(store):
    made = held(store)
    claims = offline(store, made["token"])
    assert set(claims) == CLAIMS
    assert (claims["jti"], claims["aud"]) == (made["id"], "shop")
    shared = HOLD - {"id", "number", "status", "valid_until", "token"}
    assert {name: claims[name] for name in shared} == {
        name: made[name] for name in shared
    }
    with pytest.raises(InvalidInput, match="somebody else"):
        offline(store, made["token"], audience="bank")


def test_the_keys_are_open_and_may_be_kept_for_a_while(store):
    answer = store.get(KEYS, key=None)
    assert answer.headers["Cache-Control"] == "public, max-age=300"
    assert answer.headers["Access-Control-Allow-Origin"] == "*"
    [key] = answer.json["keys"]
    assert set(key) == {"kty", "crv", "x", "kid", "use", "alg"}
    assert (key["kty"], key["crv"], key["alg"]) == ("OKP", "Ed25519", "EdDSA")
    assert key["kid"] == price_tokens.key_name(key["x"])


def test_a_token_stays_valid_when_the_key_is_changed(store):
    old = held(store)["token"]
    store.services.window.signing.rotate()
    new = held(store)["token"]
    assert len(store.get(KEYS, key=None).json["keys"]) == 2
    assert old.split(".")[0] != new.split(".")[0]
    assert offline(store, old)["sku"] == offline(store, new)["sku"] == "ring-1"


def test_no_answer_and_no_entry_of_the_trail_holds_a_private_key(store):
    held(store)
    keys = store.services.storage.read(lambda unit: unit.signing_keys.all())
    secrets = [keys[0].private, store.services.installation.secret(SECRET).decode()]
    answers = [store.get(path) for path in (KEYS, "/v1/audit-entries", "/v1/keys")]
    for secret in secrets:
        assert not any(secret in answer.text for answer in answers)


# Quotas


def test_holds_are_counted_apart_from_what_is_shown(seeded, tmp_path):
    file, tokens = seeded
    copy = tmp_path / "small.sqlite3"
    shutil.copy(file, copy)
    small = Workshop(str(copy), dict(tokens), quota=3)
    publish(small)
    for left in (2, 1, 0):
        answer = hold(small)
        assert field(answer, "RateLimit-Policy") == ("holds", {"q": 3, "w": 60})
        assert field(answer, "RateLimit")[1]["r"] == left
    refused = hold(small)
    assert refused.status_code == 429
    assert refused.json["violated-policies"] == ["holds"]
    assert small.counts()["quotes"] == 3
    path = answer.headers["Location"]
    assert field(small.get(path, key="window"), "RateLimit-Policy")[0] == "window"
    small.close()


def test_schemas_and_services_say_the_same():
    assert window_holds.LONGEST_HOURS == 24
    assert documents.MOST_PIECES == schemas.MOST_PIECES
    assert documents.MOST_TOKEN == price_tokens.LONGEST
