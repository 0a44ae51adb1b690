"""A shop for tests over HTTP, whose listings can be repriced, and short ways to."""

from __future__ import annotations

from tests.http.quoting import COIN, fresh

REPRICINGS = "/v1/repricings"
HOLD, RAISE, LOWER, REVIEW = "a-hold", "b-raise", "c-lower", "d-review"
LOCKED, BLOCKED = "e-locked", "f-blocked"


def listing(sku, price=None, **more):
    """A listing as it is posted; without a price it gets the one that is asked."""
    band = {"from": "5", "to": "5.5"} | ({"price": price} if price else {})
    return {
        "sku": sku,
        "title": f"Ring {sku}",
        "kind": "made_to_order",
        "coin": COIN,
        "channel": "own_shop",
        "policy": "retail",
        "bands": [band],
    } | more


def stock(workshop):
    """A listing for every decision; what a band of it is asked for."""
    answer = workshop.post("/v1/listings", listing(HOLD))
    assert answer.status_code == 201, answer.text
    asked = answer.json["bands"][0]["price"]
    whole = int(float(asked))
    own = {
        "key": "own",
        "gross_mass_g": "20.00",
        "fineness_permille": "900",
        "diameter_mm": "34.00",
    }
    workshop.post("/v1/coins", own)
    for sku, price, more in (
        (RAISE, whole - 15, {}),
        (LOWER, whole + 15, {}),
        (REVIEW, whole * 2, {}),
        (LOCKED, whole - 15, {"locked": True}),
        (BLOCKED, whole, {"coin": "own"}),
    ):
        body = listing(sku, f"{price}.00", **more)
        assert workshop.post("/v1/listings", body).status_code == 201
    etag = workshop.get("/v1/coins/own").headers["ETag"]
    gone = workshop.send("DELETE", "/v1/coins/own", headers={"If-Match": etag})
    assert gone.status_code == 204
    return asked


def previewed(workshop, **body):
    """A new preview; with its entity tag as ``_etag``."""
    answer = workshop.once(REPRICINGS, body, fresh())
    assert answer.status_code == 201, answer.text
    return answer.json | {"_etag": answer.headers["ETag"]}


def decide(workshop, run, what, body=None, *, match=None, **more):
    """Apply or undo a repricing, from the version that it was read at."""
    headers = {"If-Match": match or run["_etag"]}
    path = f"{REPRICINGS}/{run['id']}/{what}"
    answer = workshop.send("POST", path, body, headers=headers, **more)
    if answer.status_code == 200:
        run["_etag"] = answer.headers["ETag"]
    return answer


def prices(workshop):
    """The prices in force by sku."""
    listings = workshop.get("/v1/listings?limit=100").json["listings"]
    return {each["sku"]: each["bands"][0]["price"] for each in listings}
