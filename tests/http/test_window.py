"""The shop window over HTTP: published listings, prices, and for how long."""

from __future__ import annotations

import json
import re
import shutil
from datetime import datetime

import pytest

from api import parameters
from api.ports import LISTING_KINDS
from api.quotas import HOLDS, SHOWN
from api.schemas import window as schemas
from api.services.window import prices as window_prices
from api.settings import Settings
from pricing.ring_size import ring_size
from tests.http.listing import RING
from tests.http.test_quotas import field
from tests.http.window import BANDS, PRICES, SHOWN_AT, WINDOW, plain, price, publish
from tests.http.window import SHOWN as LISTED
from tests.http.workshop import Workshop, faults

LISTING = {
    "sku",
    "title",
    "availability",
    "currency",
    "tax_included",
    "bands",
    "cautions",
}
PRICE = {
    "sku",
    "title",
    "size",
    "quantity",
    "unit_price",
    "total",
    "tax",
    "tax_included",
    "currency",
    "valid_until",
    "availability",
    "cautions",
}
KEYS = ("window", "shop", "bench")
CHANGED = {name: value for name, value in RING.items() if name != "sku"}


@pytest.fixture
def store(workshop):
    """A workshop with a ring in its window, and one that is not."""
    publish(workshop)
    publish(workshop, "hidden", title="Hidden", published=False)
    return workshop


@pytest.mark.parametrize("key", KEYS)
def test_what_is_shown_has_these_members_whoever_asks(store, key):
    listing = store.get(f"{LISTED}/ring-1", key=key).json
    assert set(listing) == LISTING
    assert [set(band) for band in listing["bands"]] == [{"from", "to", "price"}] * 2
    assert {frozenset(each) for each in listing["cautions"]} == {
        frozenset({"code", "text"})
    }
    assert store.get(LISTED, key=key).json == {"listings": [listing]}
    told = price(store, key=key).json
    assert set(told) == PRICE
    assert set(told["size"]) == {"system", "size"}


def test_a_listing_is_shown_with_its_prices(store):
    listing = store.get(f"{LISTED}/ring-1", key="window").json
    assert listing["bands"] == [BANDS[0], BANDS[1] | {"price": "200.00"}]
    assert (listing["title"], listing["currency"]) == ("A band ring", "EUR")
    assert (listing["availability"], listing["tax_included"]) == ("made_to_order", True)
    assert [each["code"] for each in listing["cautions"]] == [
        "metal_silver",
        "wide_band",
    ]


def test_a_price_is_told_with_all_that_a_buyer_needs(store):
    told = price(store, "L", system="uk", quantity=2).json
    del told["valid_until"], told["cautions"]
    assert told == {
        "sku": "ring-1",
        "title": "A band ring",
        "size": {"system": "uk", "size": "L"},
        "quantity": 2,
        "unit_price": "189.95",
        "total": "379.90",
        "tax": "63.32",
        "tax_included": True,
        "currency": "EUR",
        "availability": "made_to_order",
    }


SIZES = {
    "us": "10",
    "uk": "T 1/2",
    "iso": "62",
    "jp": "21",
    "ch": "22",
    "diameter_mm": "19.76",
    "circumference_mm": "62.08",
}


@pytest.mark.parametrize("system", SIZES)
@pytest.mark.parametrize("posted", [False, True])
def test_a_size_may_be_in_any_system(store, system, posted):
    size = {"system": system, "size": SIZES[system]}
    if posted:
        body = {"sku": "ring-1", "size": size}
        answer = store.post(PRICES, body, key="window")
    else:
        answer = price(store, size["size"], system=system)
    assert answer.status_code == 200
    assert answer.json["size"] == size
    assert answer.json["unit_price"] == "200.00"


def test_asking_by_post_tells_the_same(store):
    body = {"sku": "ring-1", "size": {"system": "us", "size": "8"}, "quantity": 3}
    posted = store.post(PRICES, body, key="window")
    assert posted.json == price(store, quantity=3).json
    assert posted.headers["Cache-Control"] == "no-store"


UNFIT = {
    "no size": ({"size": None}, {"#/size"}),
    "no sku": ({"sku": None}, {"#/sku"}),
    "no such system": ({"size": {"system": "fr", "size": "5"}}, {"#/size/system"}),
    "a size that is none": ({"size": {"system": "us", "size": "x"}}, {"#/size/size"}),
    "no pieces": ({"quantity": 0}, {"#/quantity"}),
    "too many": ({"quantity": 101}, {"#/quantity"}),
    "a quantity in quotes": ({"quantity": "2"}, {"#/quantity"}),
    "a price of one's own": ({"price": "1"}, {"#/price"}),
    "a margin": ({"margin": "0"}, {"#/margin"}),
}  # fmt: skip


@pytest.mark.parametrize(("members", "where"), UNFIT.values(), ids=UNFIT)
def test_what_cannot_be_is_pointed_at(store, members, where):
    body = {"sku": "ring-1", "size": {"system": "us", "size": "8"}} | members
    body = {name: value for name, value in body.items() if value is not None}
    answer = store.post(PRICES, body, key="window")
    assert answer.status_code == 422
    assert set(faults(answer)) == where


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ("sku=ring-1&system=us", "size"),
        ("sku=ring-1&size=8", "system"),
        ("system=us&size=8", "sku"),
        ("sku=ring-1&system=us&size=x", "size"),
        ("sku=ring-1&system=us&size=8&quantity=0", "quantity"),
        ("sku=ring-1&system=us&size=8&spot=20", "spot"),
        ("sku=ring-1&system=us&size=8&fields=cost", "fields"),
    ],
)
def test_a_parameter_that_cannot_be_is_named(store, query, name):
    answer = store.get(f"{PRICES}?{query}", key="window")
    assert answer.status_code == 422
    assert [fault["parameter"] for fault in answer.json["errors"]] == [name]


def test_a_size_that_is_not_offered_is_told_which_are(store):
    answer = price(store, "14")
    assert answer.status_code == 422
    assert answer.json["type"] == "/docs/problems/size-not-offered"
    told = "US 14 is not offered; this ring comes in US 5 to 9.5, US 10 to 12"
    assert answer.json["detail"] == told
    assert answer.json["errors"] == [{"detail": told, "parameter": "size"}]
    body = {"sku": "ring-1", "size": {"system": "us", "size": "14"}}
    posted = store.post(PRICES, body, key="window")
    assert faults(posted) == {"#/size/size": told}


def test_what_is_not_published_is_answered_as_what_never_was(store):
    def asked():
        return [
            store.get(f"{LISTED}/hidden", key="window"),
            store.get(f"{LISTED}/hidden/offer", key="window"),
            price(store, sku="hidden"),
            store.post(
                PRICES,
                {"sku": "hidden", "size": {"system": "us", "size": "8"}},
                key="window",
            ),
        ]

    hidden = asked()
    assert [answer.status_code for answer in hidden] == [404] * 4
    etag = store.get("/v1/listings/hidden").headers["ETag"]
    store.send("DELETE", "/v1/listings/hidden", headers={"If-Match": etag})
    gone = asked()
    assert list(map(plain, gone)) == list(map(plain, hidden))
    for one, other in zip(gone, hidden, strict=True):
        left = {"X-Request-Id", "RateLimit", "Date"}
        headers = [
            {n: v for n, v in each.headers.items() if n not in left}
            for each in (one, other)
        ]
        assert headers[0] == headers[1]


def test_what_is_shown_is_paged_and_searched(workshop):
    for n in range(3):
        publish(workshop, f"ring-{n}", title=f"Ring {n}")
        publish(workshop, f"hidden-{n}", published=False)
    path, seen = f"{LISTED}?limit=2", []
    while path:
        answer = workshop.get(path, key="window")
        seen.append([each["sku"] for each in answer.json["listings"]])
        links = dict(
            reversed(part.split("; ")) for part in answer.headers["Link"].split(", ")
        )
        path = links.get('rel="next"', "").strip("<>")
    assert seen == [["ring-2", "ring-1"], ["ring-0"]]
    found = workshop.get(f"{LISTED}?text=ring%201", key="window").json["listings"]
    assert [each["sku"] for each in found] == ["ring-1"]
    assert workshop.get(f"{LISTED}?text=hidden", key="window").json["listings"] == []
    for query in ("sort=price", "published=false", "limit=0", "locked=true"):
        answer = workshop.get(f"{LISTED}?{query}", key="window")
        assert answer.status_code == 422
    assert workshop.get(f"{LISTED}?cursor=x", key="window").status_code == 400


def test_a_cursor_of_the_bench_leads_nowhere_here(workshop):
    for n in range(3):
        publish(workshop, f"ring-{n}")
    link = workshop.get("/v1/listings?limit=1").headers["Link"]
    cursor = re.search(r"cursor=([^&>]+)", link)[1]
    answer = workshop.get(f"{LISTED}?limit=1&cursor={cursor}", key="window")
    assert answer.status_code == 400


# Linked data


def test_linked_data_tells_the_prices_that_are_told(store):
    answer = store.get(f"{LISTED}/ring-1/offer", key="window")
    assert answer.content_type == "application/ld+json"
    listing = store.get(f"{LISTED}/ring-1", key="window").json
    told = [(each["price"], each["priceCurrency"]) for each in answer.json["offers"]]
    assert told == [(band["price"], "EUR") for band in listing["bands"]]
    until = answer.json["offers"][0]["priceValidUntil"]
    assert datetime.fromisoformat(until) <= datetime.fromisoformat(
        price(store).json["valid_until"]
    )


def test_a_title_cannot_break_out_of_a_script_element(workshop):
    title = "</script><script>alert('&')</script>"
    publish(workshop, title=title)
    answer = workshop.get(f"{LISTED}/ring-1/offer", key="window")
    assert not {b"<", b">", b"&"} & {bytes([sign]) for sign in answer.data}
    assert json.loads(answer.data)["name"] == title


def test_linked_data_is_asked_for_by_its_name(store):
    path = f"{LISTED}/ring-1/offer"
    for accept, status in {
        "application/ld+json": 200,
        "*/*": 200,
        "application/json": 406,
        "text/html": 406,
    }.items():
        answer = store.get(path, key="window", headers={"Accept": accept})
        assert answer.status_code == status, accept


# Quotas


def test_what_a_storefront_asks_is_counted_under_one_policy(seeded, tmp_path):
    file, tokens = seeded
    copy = tmp_path / "small.sqlite3"
    shutil.copy(file, copy)
    small = Workshop(str(copy), dict(tokens), quota=5)
    publish(small)
    for left, path in zip(range(4, -1, -1), (*SHOWN_AT, LISTED), strict=True):
        answer = small.get(path, key="window")
        assert field(answer, "RateLimit-Policy") == ("window", {"q": 5, "w": 60})
        assert field(answer, "RateLimit")[1]["r"] == left
    body = {"sku": "ring-1", "size": {"system": "us", "size": "8"}}
    for answer in (small.post(PRICES, body, key="window"), price(small)):
        assert answer.status_code == 429
        assert answer.json["violated-policies"] == ["window"]
        assert "Access-Control-Allow-Origin" in answer.headers
    assert price(small, key="shop").status_code == 200
    small.close()


def test_the_policies_are_those_of_the_settings():
    usual = Settings(database="x.db")
    assert (
        (SHOWN.name, SHOWN.usual) == ("window", usual.quota_window) == ("window", 120)
    )
    assert (HOLDS.name, HOLDS.usual) == ("holds", usual.quota_holds) == ("holds", 10)


def test_schema_and_service_allow_the_same():
    assert schemas.MOST_PIECES == window_prices.MOST_PIECES
    kinds = {"made_to_order": "made_to_order", "ready_made": "in_stock"}
    assert set(kinds) == set(LISTING_KINDS)
    assert set(kinds.values()) == set(schemas.AVAILABILITIES)


def test_a_size_is_shown_back_as_it_was_given(store):
    assert price(store, "t 1/2", system="uk").json["size"]["size"] == (
        ring_size("uk", "t 1/2").given
    )
    assert WINDOW == "/v1/window"


def test_a_query_that_comes_again_is_read_as_before(store, monkeypatch):
    monkeypatch.setattr("api.parameters._MOST_KEPT", 2)
    monkeypatch.setattr("api.parameters._kept", {})
    padded = "8" + "0" * 300  # too long to be kept
    for _ in range(2):
        for quantity in (1, 2, 3):
            told = price(store, quantity=quantity).json
            assert told["quantity"] == quantity
            assert len(parameters._kept) <= 2
        refused = price(store, padded)
        assert refused.status_code == 422
        assert refused.json["errors"][0]["parameter"] == "size"
    assert all(len(asked) <= 200 for _, asked in parameters._kept)
