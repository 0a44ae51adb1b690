"""Quotes for tests: what is asked for, and short ways to ask and to decide."""

from __future__ import annotations

from itertools import count

COIN = "at_50s_1959_1973"
RING = {"coin": COIN, "size": {"system": "us", "size": "10"}}
PAIR = {
    "lines": [
        RING | {"spot": {"price": "27.50"}},
        RING | {"size": {"system": "uk", "size": "L"}, "quantity": 2},
    ],
    "customer_note": "For the two of you.",
    "deposit_share": "0.50",
}
QUOTES = "/v1/quotes"
_serial = count(1)


def fresh() -> str:
    """An Idempotency-Key that was never used."""
    return f"request-{next(_serial):08}"


def made(workshop, **terms):
    """A new quote; with its entity tag as ``_etag``."""
    answer = workshop.once(QUOTES, PAIR | terms, fresh())
    assert answer.status_code == 201, answer.text
    return answer.json | {"_etag": answer.headers["ETag"]}


def decide(workshop, quote, what, body=None, *, match=None, name=None, **more):
    """Accept, decline or renew a quote, from the version it was made with."""
    headers = {"If-Match": match or quote["_etag"]}
    if name or what == "renew":
        headers["Idempotency-Key"] = name or fresh()
    path = f"{QUOTES}/{quote['id']}/{what}"
    return workshop.send("POST", path, body, headers=headers, **more)
