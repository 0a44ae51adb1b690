"""Listings changed and removed from the version that was seen; how prices changed."""

from __future__ import annotations

import re

import pytest

from tests.http.listing import LISTINGS, RING, add
from tests.http.workshop import faults

ONE = f"{LISTINGS}/ring-1"
DEARER = RING | {"bands": [{"from": "5", "to": "9.5", "price": "199.95"}]}


def put(workshop, body=DEARER, *, match=None, **more):
    headers = {} if match is None else {"If-Match": match}
    return workshop.put(ONE, body, headers=headers, **more)


def test_a_listing_is_changed_whole(workshop):
    listing = add(workshop, published=True)
    answer = put(workshop, match=listing["_etag"])
    assert answer.status_code == 200
    assert answer.json["bands"][0]["price"] == "199.95"
    assert answer.json["published"] is False
    assert answer.headers["ETag"] != listing["_etag"]
    assert workshop.get(ONE).json == answer.json


def test_the_sku_may_be_left_out_and_never_changes(workshop):
    listing = add(workshop)
    body = {name: value for name, value in DEARER.items() if name != "sku"}
    answer = put(workshop, body, match=listing["_etag"])
    assert answer.json["sku"] == "ring-1"
    other = put(workshop, RING | {"sku": "other"}, match="*")
    assert other.status_code == 422
    assert list(faults(other)) == ["#/sku"]


def test_the_same_again_changes_nothing(workshop):
    listing = add(workshop)
    before = workshop.counts()
    answer = put(workshop, RING, match=listing["_etag"])
    assert answer.headers["ETag"] == listing["_etag"]
    assert workshop.counts() == before


def test_a_price_left_out_stays(workshop):
    listing = add(workshop)
    body = RING | {"title": "New", "bands": [{"from": "5", "to": "9.5"}]}
    answer = put(workshop, body, match=listing["_etag"])
    assert (answer.json["title"], answer.json["bands"]) == ("New", listing["bands"])


def test_refusals_come_in_their_order(workshop):
    listing = add(workshop)
    bad = DEARER | {"title": ""}
    assert put(workshop, bad, key=None).status_code == 401
    assert put(workshop, bad, key="shop").status_code == 403
    assert workshop.put(f"{LISTINGS}/nothing", bad).status_code == 404
    assert put(workshop, bad).status_code == 428
    assert put(workshop, bad, match='"listing-0-0-0"').status_code == 412
    assert put(workshop, bad, match="W/" + listing["_etag"]).status_code == 412
    assert put(workshop, bad, match=listing["_etag"]).status_code == 422
    assert put(workshop, match="*").status_code == 200
    assert put(workshop, RING, match=listing["_etag"]).status_code == 412


def test_a_tag_of_a_listing_made_again_is_another(workshop):
    listing = add(workshop)
    headers = {"If-Match": listing["_etag"]}
    assert workshop.send("DELETE", ONE, headers=headers).status_code == 204
    again = add(workshop)
    assert again["_etag"] != listing["_etag"]
    assert put(workshop, match=listing["_etag"]).status_code == 412


def test_a_removed_listing_is_gone(workshop):
    listing = add(workshop)
    assert workshop.send("DELETE", ONE).status_code == 428
    stale = workshop.send("DELETE", ONE, headers={"If-Match": '"x"'})
    assert stale.status_code == 412
    answer = workshop.send("DELETE", ONE, headers={"If-Match": listing["_etag"]})
    assert (answer.status_code, answer.data) == (204, b"")
    for method in ("GET", "DELETE"):
        headers = {"If-Match": "*"}
        assert workshop.send(method, ONE, headers=headers).status_code == 404
    assert workshop.get(LISTINGS).json["listings"] == []
    assert add(workshop)["sku"] == "ring-1"


@pytest.mark.parametrize(
    "sku", ["a%20b", "é", "x" * 65, "..", "a%00b", "import%2F", "%2e%2e"]
)
def test_what_cannot_be_a_sku_names_nothing(workshop, sku):
    assert workshop.get(f"{LISTINGS}/{sku}").status_code == 404


def moves(answer):
    return [(x["why"], x["from"], x["old"], x["new"]) for x in answer.json["moves"]]


def test_the_history_tells_every_price_there_was(workshop):
    bands = [{"from": "5", "to": "6", "price": "10"}, {"from": "7", "to": "8"}]
    computed = add(workshop, bands=bands)["bands"][1]["price"]
    put(workshop, match="*")
    workshop.send("DELETE", ONE, headers={"If-Match": "*"})
    answer = workshop.get(f"{ONE}/prices")
    assert (answer.json["sku"], answer.json["currency"]) == ("ring-1", "EUR")
    assert moves(answer) == [
        ("removed", "5", "199.95", None),
        ("edited", "5", "10.00", None),
        ("edited", "5", None, "199.95"),
        ("edited", "7", computed, None),
        ("created", "5", None, "10.00"),
        ("created", "7", None, computed),
    ]
    for move in answer.json["moves"]:
        assert move["by"]
        assert move["run"] is move["spot_price"] is move["book_version"] is None


def test_the_history_is_paged_by_moments(workshop):
    add(workshop)
    for price in ("190", "191"):
        put(
            workshop,
            RING | {"bands": [{"from": "5", "to": "9.5", "price": price}]},
            match="*",
        )
    path, seen = f"{ONE}/prices?limit=1", []
    while path:
        answer = workshop.get(path)
        seen += moves(answer)
        found = re.search('<([^>]*)>; rel="next"', answer.headers["Link"])
        path = found and found[1]
    assert [new for *_, new in seen] == ["191.00", "190.00", "189.95"]
    assert "prev" not in answer.headers["Link"]


def test_a_history_that_never_was_is_not_there(workshop):
    add(workshop)
    assert workshop.get(f"{LISTINGS}/nothing/prices").status_code == 404
    assert workshop.get(f"{ONE}/prices?cursor=x").status_code == 400
    assert workshop.get(f"{ONE}/prices?limit=0").status_code == 422
    link = workshop.get(f"{LISTINGS}?limit=1").headers["Link"]
    assert 'rel="first"' in link


def test_a_cursor_of_another_listing_leads_nowhere(workshop):
    for sku in ("ring-1", "ring-2"):
        add(workshop, sku)
        body = DEARER | {"sku": sku}
        workshop.change(f"{LISTINGS}/{sku}", body)
    link = workshop.get(f"{ONE}/prices?limit=1").headers["Link"]
    cursor = re.search("cursor=([^>&]*)", link)[1]
    same = f"prices?limit=1&cursor={cursor}"
    assert workshop.get(f"{ONE}/{same}").status_code == 200
    assert workshop.get(f"{LISTINGS}/ring-2/{same}").status_code == 400
