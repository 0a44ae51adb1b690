"""How to call each route that a shop, a storefront or anybody can reach.

A route that is not here fails the suite with its name.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from api.problems import PROBLEMS
from tests.http.leaks import (
    PLANTED,
    SHORTEST,
    SPOT,
    asked,
    done,
    figures,
    plant,
    values,
)
from tests.http.quoting import QUOTES, RING, decide, fresh, made
from tests.http.window import PRICES, SHOWN, WINDOW, publish

NOBODYS = "A" * 22


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One request, and the status it has for whoever may make it."""

    path: str
    body: Any = None
    headers: Mapping[str, str] = field(default_factory=dict)
    status: int = 200
    method: str = "GET"


class Place:
    """A workshop with canaries in everything that a maker keeps to himself."""

    def __init__(self, workshop) -> None:
        self.workshop = workshop
        plant(workshop)
        publish(workshop, policy=PLANTED["policy"])
        ready = {"kind": "ready_made", "actual_cost": PLANTED["paid"]}
        publish(workshop, "ring-2", policy=PLANTED["policy"], **ready)
        tiny = [{"from": "0", "to": "0.25", "price": "5"}]  # no such ring can be made
        publish(workshop, "tiny", policy=PLANTED["policy"], bands=tiny)
        publish(workshop, "hidden", title=PLANTED["not published"], published=False)
        self.quote = self.new_quote()
        old = self.new_quote()
        again = decide(workshop, old, "renew", {"spot": {"price": SPOT}})
        self.quotes = (self.quote, old, done(again).json, self.declined())
        self.secrets = set(PLANTED.values()) | self._figures()

    def new_hold(self):
        """A price held for a buyer; what the bench is told of it is secret, too."""
        headers = {"Idempotency-Key": fresh()}
        post = self.workshop.post
        held = done(post(HELD, RING_PRICE, key="window", headers=headers))
        quote = done(self.workshop.get(f"{QUOTES}/{held.json['id']}")).json
        self.secrets |= figures(quote) - values(held.json) - values(quote["total"])
        return held.json | {"_etag": held.headers["ETag"]}

    def new_quote(self, **terms):
        """A quote that nobody has decided on."""
        return made(self.workshop, **asked(show_spot=False, **terms))

    def declined(self):
        """A quote that was put aside, for a reason of the maker's."""
        quote = self.new_quote()
        why = {"reason": PLANTED["reason"]}
        done(decide(self.workshop, quote, "decline", why))
        return quote

    def _figures(self) -> set[str]:
        """What bench keys are told under the names of secrets, and nobody else."""
        estimate = {"spot": {"price": SPOT}, "policy": PLANTED["policy"]}
        bench = [
            self.quote,
            done(self.workshop.post("/v1/estimates", RING | estimate)).json,
            done(self.workshop.get("/v1/listings/ring-2")).json,
        ]
        path = f"{QUOTES}/{self.quote['id']}/sheet"
        told = values(self.workshop.get(path, key="shop").json)
        told |= values(self.workshop.get(SHOWN, key="window").json)
        found = set().union(*map(figures, bench))
        assert len(found) > 30
        return {one for one in found - told if len(one) >= SHORTEST}


def _accept(quote, **more) -> Ask:
    return Ask(
        method="POST",
        path=f"{QUOTES}/{quote['id']}/accept",
        **({"headers": {"If-Match": quote["_etag"]}} | more),
    )


def _get(*paths: str) -> Callable[[Place], list[Ask]]:
    return lambda _: [Ask(path=path) for path in paths]


def _docs(place: Place) -> list[Ask]:
    described = place.workshop.client.get("/openapi.json").json["tags"]
    slugs = [each["name"].lower().replace(" ", "-") for each in described]
    return [Ask(path=f"/docs/{slug}") for slug in slugs]


RING_PRICE = {"sku": "ring-1", "size": {"system": "us", "size": "8"}, "quantity": 2}
_PRICE = f"{PRICES}?sku=ring-1&system=us&size=8"

HELD = f"{WINDOW}/quotes"


def _hold(body=RING_PRICE, status=201, name=None) -> Ask:
    headers = {"Idempotency-Key": name or fresh()}
    return Ask(method="POST", path=HELD, body=body, headers=headers, status=status)


def _accept_hold(place: Place, *, of=None, **more) -> Ask:
    held = place.new_hold()
    return _accept(held, body={"token": (of or held)["token"]}, **more)


CALLS: dict[str, Callable[[Place], list[Ask]]] = {
    "read_liveness": _get("/livez"),
    "read_readiness": _get("/readyz"),
    "read_openapi": _get("/openapi.json"),
    "docs.index": _get("/docs"),
    "docs.problem_index": _get("/docs/problems"),
    "docs.problem_page": lambda _: [Ask(path=f"/docs/problems/{s}") for s in PROBLEMS],
    "docs.group_page": _docs,
    "docs.static_file": _get("/static/bench.css"),
    "window_script.ring_price_script": _get("/window/ring-price.js"),
    "sheets.quote_sheet": lambda place: [Ask(path=q["sheet"]) for q in place.quotes],
    "convert_ring_size": _get("/v1/ring-sizes?system=us&size=10"),
    "list_listings": _get("/v1/listings", "/v1/listings?limit=1"),
    "read_listing": _get("/v1/listings/ring-1", "/v1/listings/ring-2"),
    "read_quote_sheet": lambda place: [
        Ask(path=f"{QUOTES}/{quote['id']}/sheet") for quote in place.quotes
    ],
    "accept_quote": lambda place: [_accept(place.new_quote()), _accept_hold(place)],
    "list_window_listings": _get(SHOWN, f"{SHOWN}?limit=1"),
    "read_window_listing": _get(f"{SHOWN}/ring-1", f"{SHOWN}/ring-2"),
    "read_window_offer": _get(f"{SHOWN}/ring-1/offer", f"{SHOWN}/ring-2/offer"),
    "read_window_price": _get(_PRICE, f"{_PRICE}&quantity=2"),
    "ask_window_price": lambda _: [Ask(method="POST", path=PRICES, body=RING_PRICE)],
    "hold_window_price": lambda _: [_hold()],
    "read_window_hold": lambda place: [Ask(path=f"{HELD}/{place.new_hold()['id']}")],
    "list_signing_keys": _get(f"{WINDOW}/signing-keys"),
}
"""What succeeds; the first is also asked in every way that is refused."""

REFUSED: dict[str, Callable[[Place], list[Ask]]] = {
    "docs.problem_page": lambda _: [Ask(path="/docs/problems/none", status=404)],
    "docs.group_page": lambda _: [Ask(path="/docs/none", status=404)],
    "docs.static_file": lambda _: [Ask(path="/static/none.css", status=404)],
    "sheets.quote_sheet": lambda place: [
        Ask(path=f"/quotes/{NOBODYS}", status=404),
        Ask(path=f"/quotes/{place.quote['id']}", status=404),
    ],
    "convert_ring_size": lambda _: [
        Ask(path="/v1/ring-sizes?system=us&size=x", status=422),
        Ask(path="/v1/ring-sizes?system=us&size=1&size=2", status=400),
    ],
    "list_listings": lambda _: [
        Ask(path="/v1/listings?cursor=x", status=400),
        Ask(path="/v1/listings?policy=canary_policy", status=422),
        Ask(path="/v1/listings?published=false", status=422),
        Ask(path="/v1/listings?sort=margin", status=422),
    ],
    "read_listing": lambda _: [Ask(path="/v1/listings/hidden", status=404)],
    "accept_quote": lambda place: [
        _accept(place.declined(), headers={"If-Match": "*"}, status=409),
        _accept(
            place.new_hold(), body={"token": place.new_hold()["token"]}, status=422
        ),
        _accept(place.quote, body={"token": "a.b.c"}, status=422),
    ],
    "list_window_listings": lambda _: [
        Ask(path=f"{SHOWN}?cursor=x", status=400),
        Ask(path=f"{SHOWN}?published=false", status=422),
        Ask(path=f"{SHOWN}?limit=0", status=422),
    ],
    "read_window_listing": lambda _: [Ask(path=f"{SHOWN}/hidden", status=404)],
    "read_window_offer": lambda _: [Ask(path=f"{SHOWN}/hidden/offer", status=404)],
    "read_window_price": lambda _: [
        Ask(path=f"{PRICES}?sku=hidden&system=us&size=8", status=404),
        Ask(path=f"{PRICES}?sku=ring-1&system=us&size=14", status=422),
        Ask(path=f"{PRICES}?sku=ring-1&system=us&size=x", status=422),
    ],
    "ask_window_price": lambda _: [
        Ask(method="POST", path=PRICES, body=RING_PRICE | {"sku": sku}, status=status)
        for sku, status in (("hidden", 404), ("nothing", 404), ("!", 422))
    ],
    "hold_window_price": lambda _: [
        _hold(RING_PRICE | {"sku": "hidden"}, 404),
        _hold(RING_PRICE | {"size": {"system": "us", "size": "14"}}, 422),
        _hold(RING_PRICE | {"quantity": 0}, 422),
        _hold({"sku": "tiny", "size": {"system": "us", "size": "0"}}, 409),
    ],
    "read_window_hold": lambda place: [
        Ask(path=f"{HELD}/{place.quote['id']}", status=404),
    ],
}
"""What is refused for reasons of its own."""
