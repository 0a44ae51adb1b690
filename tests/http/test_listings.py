"""Listings over HTTP: put into the shop, listed, and shown to a shop in part."""

from __future__ import annotations

import json
from base64 import b64encode
from decimal import Decimal
from typing import get_args
from urllib.parse import quote

import pytest

from api.ports import LISTING_KINDS, Why
from api.schemas import csv_files
from api.schemas import listing_documents as documents
from api.schemas import listings as schemas
from api.services import csv_table
from api.services.listings import files as listing_files
from api.services.listings import rows as listing_rows
from api.services.listings import terms as listing_terms
from tests.http.listing import LISTINGS, RING, add
from tests.http.workshop import BOOK, faults


def test_a_listing_is_made_and_says_where_it_is(workshop):
    bands = [{"from": "10", "to": "12"}, {"from": "5.50", "to": "9.50", "price": "20"}]
    more = {"published": True, "extras": ["ring_box"], "bands": bands}
    answer = workshop.post(LISTINGS, RING | more)
    listing = answer.json
    assert answer.status_code == 201
    assert answer.headers["Location"] == f"{LISTINGS}/ring-1"
    assert listing["currency"] == "EUR"
    assert listing["bands"][0] == {"from": "5.5", "to": "9.5", "price": "20.00"}
    assert Decimal(listing["bands"][1]["price"]) > 0
    assert (listing["locked"], listing["published"]) == (False, True)
    found = workshop.get(f"{LISTINGS}/ring-1")
    assert found.json == listing
    assert found.headers["ETag"] == answer.headers["ETag"]


def test_the_price_left_out_is_that_of_the_dearest_estimate(workshop):
    listing = add(workshop, bands=[{"from": "9", "to": "9.5"}])
    prices = [
        workshop.post(
            "/v1/estimates", {"coin": RING["coin"], "size": {"system": "us", "size": s}}
        ).json["price"]["unit"]
        for s in ("9", "9.25", "9.5")
    ]
    assert Decimal(listing["bands"][0]["price"]) == max(map(Decimal, prices))


def test_the_same_request_again_makes_nothing_new(workshop):
    first = workshop.once(LISTINGS, RING)
    again = workshop.once(LISTINGS, RING)
    assert again.status_code == 201
    assert again.json == first.json
    assert again.headers["Idempotency-Replayed"] == "true"
    assert workshop.post(LISTINGS, RING).status_code == 409
    assert workshop.once(LISTINGS, RING, "another-key").status_code == 409
    assert workshop.once(LISTINGS, RING | {"title": "x"}).status_code == 422


REFUSED = {
    "no sku": ({"sku": None}, {"#/sku"}),
    "an address": ({"sku": "floors"}, {"#/sku"}),
    "a sku with a blank": ({"sku": "a b"}, {"#/sku"}),
    "no bands": ({"bands": []}, {"#/bands"}),
    "a band without sizes": ({"bands": [{}]}, {"#/bands/0/from", "#/bands/0/to"}),
    "a size out of range": ({"bands": [{"from": "5", "to": "17"}]}, {"#/bands/0/to"}),
    "a size between quarters": (
        {"bands": [{"from": "5.1", "to": "6", "price": "1"}]},
        {"#/bands/0/from"},
    ),
    "an overlap": (
        {"bands": [{"from": f"{n}", "to": "9", "price": "1"} for n in (5, 6)]},
        {"#/bands/1/from"},
    ),
    "a price of nothing": (
        {"bands": [{"from": "5", "to": "6", "price": "0"}]},
        {"#/bands/0/price"},
    ),
    "half a cent": (
        {"bands": [{"from": "5", "to": "6", "price": "1.005"}]},
        {"#/bands/0/price"},
    ),
    "a cost of what is not made": ({"actual_cost": "5"}, {"#/actual_cost"}),
    "a member of the answer": ({"currency": "EUR"}, {"#/currency"}),
    "an unknown coin": ({"coin": "nothing"}, {"#/coin"}),
    "an unknown channel": ({"channel": "nothing"}, {"#/channel"}),
    "an unknown policy": ({"policy": "nothing"}, {"#/policy"}),
    "an unknown extra": ({"extras": ["ring_box", "nothing"]}, {"#/extras/1"}),
    "a size that cannot be made": (
        {"bands": [{"from": "5", "to": "6"}, {"from": "0", "to": "0.25"}]},
        {"#/bands/1"},
    ),
}


@pytest.mark.parametrize(("members", "where"), REFUSED.values(), ids=REFUSED)
def test_what_cannot_be_is_pointed_at(workshop, members, where):
    body = {n: v for n, v in (RING | members).items() if v is not None}
    before = workshop.counts()
    answer = workshop.post(LISTINGS, body)
    assert answer.status_code == 422
    assert set(faults(answer)) == where
    assert workshop.counts() == before


def test_a_price_needs_a_spot_and_a_listing_a_book(bare_workshop):
    body = RING | {"bands": [{"from": "5", "to": "6"}]}
    assert bare_workshop.post(LISTINGS, body).status_code == 404
    bare_workshop.services.price_books.replace(BOOK, expected=None)
    answer = bare_workshop.post(LISTINGS, body)
    assert answer.status_code == 409
    assert answer.json["type"] == "/docs/problems/spot-unavailable"
    assert bare_workshop.post(LISTINGS, RING).status_code == 201


def test_an_old_spot_prices_no_listing(timed_workshop):
    answer = timed_workshop.post(LISTINGS, RING | {"bands": [{"from": "5", "to": "6"}]})
    assert answer.status_code == 409
    assert answer.json["type"] == "/docs/problems/spot-stale"


def skus(answer):
    return [each["sku"] for each in answer.json["listings"]]


def test_listings_are_paged_newest_first_each_once(workshop):
    for n in range(5):
        add(workshop, f"ring-{n}")
    path, seen = f"{LISTINGS}?limit=2", []
    while path:
        answer = workshop.get(path)
        seen += skus(answer)
        add(workshop, f"later-{len(seen)}")
        links = dict(
            reversed(part.split("; ")) for part in answer.headers["Link"].split(", ")
        )
        path = links.get('rel="next"', "").strip("<>")
    assert seen == [f"ring-{n}" for n in (4, 3, 2, 1, 0)]
    assert workshop.get(f"{LISTINGS}?cursor=x").status_code == 400


def test_listings_are_narrowed_down(workshop):
    add(workshop, "a", published=True)
    add(workshop, "b", locked=True, title="Café")
    add(workshop, "c", kind="ready_made", actual_cost="40.10", coin="at_100s_1974_1979")
    for query, found in {
        "published=true": ["a"],
        "published=false": ["c", "b"],
        "locked=true": ["b"],
        "kind=ready_made": ["c"],
        "coin=at_100s_1974_1979": ["c"],
        "channel=own_shop&policy=retail": ["c", "b", "a"],
        "channel=elsewhere": [],
        "text=caf%C3%A9": ["b"],
        "text=band&locked=false": ["c", "a"],
    }.items():
        assert skus(workshop.get(f"{LISTINGS}?{query}")) == found, query


@pytest.mark.parametrize("query", ["published=yes", "limit=101", "kind=x", "sort=cost"])
def test_a_list_asked_for_wrongly_is_refused(workshop, query):
    assert workshop.get(f"{LISTINGS}?{query}").status_code == 422


CANARIES = {
    "coin": "canary_coin",
    "channel": "canary_channel",
    "policy": "canary_policy",
    "extras": ["canary_extra"],
    "locked": True,
    "kind": "ready_made",
    "actual_cost": "917346281.46",
}
"""What a shop must not learn of the listing that it may see."""
WORDS = [b"canary", b"917346281.46", b"917346281", b"locked", b"hidden", b"Hidden"]
PUBLIC = {"sku", "title", "kind", "currency", "bands"}


@pytest.fixture
def leaky(workshop):
    """Canaries in a listing that a shop sees, and in one that it does not."""
    coin = {
        "key": "canary_coin",
        "gross_mass_g": "20.00",
        "fineness_permille": "900",
        "diameter_mm": "34.00",
    }
    assert workshop.post("/v1/coins", coin).status_code == 201
    named = {
        "channels": [*BOOK["channels"], {"key": "canary_channel"}],
        "policies": [
            *BOOK["policies"],
            {"key": "canary_policy", "target_margin": "0.3713"},
        ],
        "extras": [*BOOK["extras"], {"key": "canary_extra", "price_cost": "2.1734"}],
    }
    workshop.change("/v1/price-book", BOOK | named)
    add(workshop, "shown", published=True, **CANARIES)
    add(workshop, "hidden", title="Hidden", **CANARIES)
    return workshop


def asked_by_a_shop(workshop):
    """Every way that a shop key has to ask for listings, and a bench key's ways too."""
    one, none = f"{LISTINGS}/shown", f"{LISTINGS}/hidden"
    known = workshop.get(one, key="shop").headers["ETag"]
    bench = workshop.get(one).headers["ETag"]
    yield from (
        workshop.get(path, key="shop")
        for path in (
            LISTINGS, one, none, f"{LISTINGS}/nothing", f"{one}/prices",
            f"{LISTINGS}/export", f"{LISTINGS}/floors", f"{one}?fields=coin",
            *(
                f"{LISTINGS}?{query}"
                for query in (
                    "limit=1", "kind=ready_made", "text=canary", "text=shown",
                    "text=hidden", "locked=true", "published=false", "sort=cost",
                    "coin=canary_coin", "policy=canary_policy", "limit=0", "cursor=x",
                    "channel=canary_channel",
                )
            ),
        )
    )  # fmt: skip
    for tag in (known, bench, "*", "x"):
        yield workshop.get(one, key="shop", headers={"If-None-Match": tag})
        for method in ("PUT", "DELETE"):
            headers = {"If-Match": tag}
            yield workshop.send(method, one, RING, key="shop", headers=headers)
    for method in ("HEAD", "OPTIONS"):
        yield workshop.client.open(
            one,
            method=method,
            headers={"Authorization": f"Bearer {workshop.tokens['shop']}"},
        )
    yield workshop.post(LISTINGS, RING, key="shop")
    yield workshop.once(LISTINGS, RING, key="shop")
    yield workshop.send("POST", f"{LISTINGS}/import", "sku,from,to\r\n", key="shop")


def test_a_shop_never_learns_what_is_none_of_its_business(leaky):
    answers = list(asked_by_a_shop(leaky))
    assert sum(answer.status_code == 200 for answer in answers) > 5
    for answer in answers:
        said = answer.data + str(answer.headers).encode()
        asked = answer.request.url.encode()
        for word in WORDS:
            if word in {b"locked", b"hidden", b"canary"} and word in asked:
                continue  # it said so itself
            forms = word, b64encode(word), quote(word).encode(), json.dumps(
                word.decode()
            ).encode()  # fmt: skip
            assert not any(form in said for form in forms), (word, answer.request.url)


def test_a_shop_sees_exactly_the_public_form(leaky):
    page = leaky.get(LISTINGS, key="shop").json["listings"]
    one = leaky.get(f"{LISTINGS}/shown", key="shop").json
    assert page == [one]
    assert set(one) == PUBLIC
    assert set(one["bands"][0]) == {"from", "to", "price"}
    assert set(documents.PublicListingDocument().fields) == PUBLIC
    assert set(documents.BandDocument().fields) == {"from", "to", "price"}


def test_what_is_not_published_is_not_there_for_a_shop(leaky):
    hidden = leaky.get(f"{LISTINGS}/hidden", key="shop")
    nothing = leaky.get(f"{LISTINGS}/nothing", key="shop")
    assert hidden.status_code == nothing.status_code == 404
    told, same = hidden.json, nothing.json
    assert told["detail"].replace("hidden", "nothing") == same["detail"]
    assert told | {"detail": "", "instance": ""} == same | {
        "detail": "",
        "instance": "",
    }
    assert skus(leaky.get(f"{LISTINGS}?text=hidden", key="shop")) == []


@pytest.mark.parametrize(
    "name", ["coin", "channel", "policy", "locked", "published", "coin=x&policy"]
)
def test_a_shop_cannot_ask_by_what_it_must_not_know(leaky, name):
    answer = leaky.get(f"{LISTINGS}?{name}=true", key="shop")
    assert answer.status_code == 422
    named = {fault["parameter"] for fault in answer.json["errors"]}
    assert named == {part.partition("=")[0] for part in name.split("&")}


def test_a_shops_entity_tag_follows_the_public_form_alone(leaky):
    path = f"{LISTINGS}/shown"
    public, bench = leaky.get(path, key="shop"), leaky.get(path)
    tag = public.headers["ETag"]
    assert tag != bench.headers["ETag"]
    known = leaky.get(path, key="shop", headers={"If-None-Match": tag})
    assert known.status_code == 304
    body = RING | CANARIES | {"sku": "shown", "published": True, "locked": False}
    changed = leaky.change(path, body | {"actual_cost": "5.00"})
    assert changed.headers["ETag"] != bench.headers["ETag"]
    assert leaky.get(path, key="shop").headers["ETag"] == tag
    leaky.change(path, body | {"title": "Another"})
    assert leaky.get(path, key="shop").headers["ETag"] != tag


def test_a_window_key_sees_no_listings(leaky):
    for path in (LISTINGS, f"{LISTINGS}/shown"):
        assert leaky.get(path, key="window").status_code == 403


def test_what_the_wire_takes_is_what_the_services_take():
    assert schemas.KINDS == LISTING_KINDS
    assert schemas.COLUMNS == listing_rows.COLUMNS
    assert csv_files.DELIMITERS == csv_table.DELIMITERS
    assert csv_files.MARKS == csv_table.MARKS
    assert schemas.MOST_BANDS == listing_terms.MOST_BANDS
    assert schemas.MOST_EXTRAS == listing_terms.MOST_EXTRAS
    assert schemas.LARGEST_PRICE == listing_terms.LARGEST_PRICE
    assert get_args(Why) == documents.WHYS
    assert documents.MOST_ROWS == listing_files.MOST_ROWS
