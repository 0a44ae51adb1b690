"""Listings for tests: what is asked for, and short ways to put it into the shop."""

from __future__ import annotations

LISTINGS = "/v1/listings"
COIN = "at_50s_1959_1973"
RING = {
    "sku": "ring-1",
    "title": "A band ring",
    "kind": "made_to_order",
    "coin": COIN,
    "channel": "own_shop",
    "policy": "retail",
    "bands": [{"from": "5", "to": "9.5", "price": "189.95"}],
}
HEADER = "sku,title,kind,coin,channel,policy,extras,locked,published,from,to,price"


def add(workshop, sku="ring-1", **members):
    """A listing in the shop; with its entity tag as ``_etag``."""
    answer = workshop.post(LISTINGS, RING | {"sku": sku} | members)
    assert answer.status_code == 201, answer.text
    return answer.json | {"_etag": answer.headers["ETag"]}


def line(
    sku="ring-1", *, size_from="5", size_to="9.5", price="189.95", policy="retail"
):
    """One row of a file."""
    kept = f"A band ring,made_to_order,{COIN},own_shop,{policy},,false,true"
    return f"{sku},{kept},{size_from},{size_to},{price}"


def csv_text(*rows, header=HEADER):
    """A file of these rows."""
    return "".join(f"{row}\r\n" for row in (header, *rows))
