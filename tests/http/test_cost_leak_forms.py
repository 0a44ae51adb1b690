"""What others are told has exactly the members allowed, and tags that say nothing."""

from __future__ import annotations

import hashlib
from base64 import b64encode, urlsafe_b64encode
from dataclasses import replace

import pytest

from api.security import OPEN
from tests.http import leaks
from tests.http.leak_calls import Place
from tests.http.leak_routes import (
    OPERATIONS,
    REACHED,
    SCOPES,
    allowed,
    first,
    public_members,
    public_schemas,
    send,
    told,
)
from tests.http.leaks import ALLOWED, PLANTED, SECRET_NAMES
from tests.http.listing import RING
from tests.http.window import BANDS, PRICES, SHOWN


def test_public_schemas_have_exactly_the_members_that_are_allowed():
    assert public_members() == {
        name: members
        for name, members in ALLOWED.items()
        if name not in {"Problem", "Fault"}
    }


def test_no_member_that_is_allowed_is_named_as_a_secret():
    named = [(s, m) for s in ALLOWED for m in ALLOWED[s] if SECRET_NAMES.search(m)]
    assert named == []


def test_what_is_described_to_others_is_what_is_allowed(place):
    described = place.workshop.client.get("/openapi.json").json["components"]["schemas"]
    for name in public_schemas():
        shape = described[name.removesuffix("Document")]
        assert shape["properties"].keys() == ALLOWED[name].keys()
        assert shape["additionalProperties"] is False


# Entity tags


def tags(workshop):
    """The entity tags that others are given, by address and key."""
    paths = ("/v1/listings/ring-1", f"{SHOWN}/ring-1", f"{SHOWN}/ring-1/offer", SHOWN)
    asked = [(path, key) for path in paths for key in ("window", "shop")]
    asked.append((f"{PRICES}?sku=ring-1&system=us&size=8", "window"))
    asked.append((f"{PRICES}?sku=ring-1&system=us&size=8", "shop"))
    found = {}
    for path, key in asked:
        answer = workshop.get(path, key=key)
        if answer.status_code != 403:
            found[path, key] = (leaks.done(answer).headers["ETag"], answer.data)
    return found


def test_equal_answers_have_equal_tags_whatever_a_ring_costs(
    timed_workshop,
):
    place = Place(timed_workshop)
    workshop = place.workshop
    before = tags(workshop)
    assert len(before) > 6
    book = workshop.get("/v1/price-book").json
    book["labour"]["rate_per_hour"] = "12.34"
    for policy in book["policies"]:
        policy["target_margin"] = "0.41"
    leaks.done(workshop.change("/v1/price-book", book))
    leaks.done(workshop.change(f"/v1/coins/{leaks.COIN}", leaks.coin("3.21")))
    spot = {"metal": "XAG", "price": "11.11", "currency": "EUR"}
    leaks.done(workshop.post("/v1/spot-prices", spot))
    ring = {name: value for name, value in RING.items() if name != "sku"}
    secret = {"locked": True}
    policies = {each["key"] for each in book["policies"]}
    secret["policy"] = min(policies - {RING["policy"], PLANTED["policy"]})
    shown = {"published": True, "bands": BANDS}
    leaks.done(workshop.change("/v1/listings/ring-1", ring | shown | secret))
    assert tags(workshop) == before


def digests(data):
    """What a tag would be if it were a plain hash of these bytes."""
    for name in ("md5", "sha1", "sha256", "sha512", "blake2b"):
        digest = hashlib.new(name, data, usedforsecurity=False).digest()
        yield digest.hex()[:16]
        yield b64encode(digest).decode()[:12]
        yield urlsafe_b64encode(digest).decode()[:12]


TAGGED = {"read_listing", "read_quote_sheet", "read_window_listing"}
TAGGED |= {"read_window_offer", "read_window_price", "list_window_listings"}
TAGGED |= {"read_window_hold"}


@pytest.mark.parametrize("key", ["window", "shop"])
@pytest.mark.parametrize("name", sorted(TAGGED))
def test_no_tag_is_a_plain_hash_of_an_answer(place, name, key):
    if allowed(name, key) is not True:
        key = "shop"
    ask = first(place, name)
    mine, benchs = send(place, ask, key), send(place, ask, "bench")
    tag = mine.headers["ETag"]
    for answer in (mine, benchs):
        assert not [one for one in digests(answer.data) if one in tag]
    again = replace(ask, headers={"If-None-Match": tag})
    assert told(place, name, again, key) == 304


def test_these_are_all_the_tags_that_others_are_given(place):
    found = set()
    for name in OPERATIONS.keys() & set(REACHED):
        ask = first(place, name)
        tagged = "ETag" in send(place, ask, "shop").headers
        if ask.method == "GET" and tagged and SCOPES[name] is not OPEN:
            found.add(name)
    assert found == TAGGED
