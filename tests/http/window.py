"""A storefront for tests: what is put into it, and short ways to ask."""

from __future__ import annotations

from tests.http.listing import add

WINDOW = "/v1/window"
SHOWN = f"{WINDOW}/listings"
PRICES = f"{WINDOW}/prices"
BANDS = [
    {"from": "5", "to": "9.5", "price": "189.95"},
    {"from": "10", "to": "12", "price": "200"},
]
SHOWN_AT = (
    SHOWN,
    f"{SHOWN}/ring-1",
    f"{SHOWN}/ring-1/offer",
    f"{PRICES}?sku=ring-1&system=us&size=8",
)
"""Every way to read what is shown."""


def publish(workshop, sku="ring-1", **members):
    """A published listing of two bands."""
    return add(workshop, sku, **({"published": True, "bands": BANDS} | members))


def price(workshop, size="8", *, system="us", sku="ring-1", quantity=None, **more):
    """The price of a ring, asked for by a storefront."""
    query = {"sku": sku, "system": system, "size": size}
    query |= {} if quantity is None else {"quantity": str(quantity)}
    more = {"key": "window", "query_string": query} | more
    return workshop.get(PRICES, **more)


def plain(answer):
    """The body of an answer, but for the id of its request."""
    told = answer.json
    return {name: value for name, value in told.items() if name != "instance"}
