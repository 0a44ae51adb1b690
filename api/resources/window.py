"""The shop window: published listings and their prices, for storefronts.

Answers are values of their own with nothing of how a price comes about; so are their
entity tags, which are made of the answer alone with a secret of this installation.
"""

from __future__ import annotations

import hmac
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any

from flask import request

from api.cursors import LINKS, SECRET, Listing
from api.endpoint import Call, Examples, Reply, Routes
from api.problems import NOT_FOUND, SIZE_NOT_OFFERED, UNKNOWN_CURSOR
from api.quotas import SHOWN
from api.schemas.document import Remembered
from api.schemas.listings import ListingPath
from api.schemas.window import (
    KeptAnswer,
    WindowListingDocument,
    WindowListingPageDocument,
    WindowListingsQuery,
    WindowPriceBody,
    WindowPriceDocument,
    WindowPriceQuery,
)
from api.schemas.window_offers import ProductDocument
from api.security import WINDOW
from api.services.window.listings import WindowListing
from api.services.window.offers import product
from api.services.window.prices import WindowPrice
from api.text_body import JSON_LD
from pricing.ring_size import ring_size

ADDRESS = "/v1/window"
LISTINGS = f"{ADDRESS}/listings"
PRICES = f"{ADDRESS}/prices"
PATH = {"sku": "ring-50s-large"}
FRESH_FOR = timedelta(minutes=1)
"""How long a browser may show an answer again without asking."""
ETAG = {"ETag": "A name for exactly this answer.", "Cache-Control": "For how long."}
WISH: dict[str, Any] = {
    "sku": "ring-50s-large",
    "size": {"system": "uk", "size": "L"},
    "quantity": 1,
}
_LABEL = b"window "
_tags = Remembered()
_size = lru_cache(maxsize=1024)(ring_size)

routes = Routes(
    "window",
    title="Shop window",
    about="What a storefront shows, from the buyer's browser or from the shop's "
    "server: published listings and prices. Pages of any origin may ask. A listing "
    "that is not published is answered as one that never was.",
)


@routes.operation(
    "GET",
    LISTINGS,
    scope=WINDOW,
    summary="List what is shown",
    query=WindowListingsQuery(),
    answers={200: WindowListingPageDocument()},
    problems=(UNKNOWN_CURSOR, NOT_FOUND),
    quota=SHOWN,
    answer_headers=ETAG | {"Link": LINKS},
    examples=Examples(query={"limit": "10"}),
)
def list_window_listings(call: Call) -> Reply:
    """List published listings, newest first; follow the Link header for more."""
    asked, services = call.query, call.services
    paging = Listing(
        path=LISTINGS,
        query=request.args.to_dict(),
        secret=services.installation.secret(SECRET),
    )
    place = paging.place()
    page = services.window.listings.page(
        limit=asked["limit"],
        past=place.past,
        newer=place.newer,
        text=asked.get("text", ""),
    )
    links = paging.links(page.places, older=page.older, newer=page.newer)
    told = {"listings": page.listings}
    until = services.window.prices.valid_until()
    return _shown(call, told, until=until, headers=links)


@routes.operation(
    "GET",
    f"{LISTINGS}/<sku>",
    scope=WINDOW,
    summary="Read what is shown of a listing",
    path=ListingPath(),
    answers={200: WindowListingDocument()},
    quota=SHOWN,
    answer_headers=ETAG,
    examples=Examples(path=PATH),
)
def read_window_listing(call: Call) -> Reply:
    """Read a published listing, with the prices of its bands of sizes."""
    listing = _found(call)
    return _shown(call, listing, until=call.services.window.prices.valid_until())


@routes.operation(
    "GET",
    f"{LISTINGS}/<sku>/offer",
    scope=WINDOW,
    summary="Read a listing as linked data",
    path=ListingPath(),
    answers={200: ProductDocument()},
    gives=JSON_LD,
    quota=SHOWN,
    answer_headers=ETAG,
    examples=Examples(path=PATH),
)
def read_window_offer(call: Call) -> Reply:
    """Read a published listing in the words of schema.org, to be put into a page.

    It can stand in a script element as it is.
    """
    until = call.services.window.prices.valid_until()
    return _shown(call, product(_found(call), until), until=until)


@routes.operation(
    "GET",
    PRICES,
    scope=WINDOW,
    summary="Read a price",
    query=WindowPriceQuery(),
    answers={200: WindowPriceDocument()},
    problems=(NOT_FOUND, SIZE_NOT_OFFERED),
    quota=SHOWN,
    answer_headers=ETAG,
    examples=Examples(
        query={
            "sku": WISH["sku"],
            "system": "uk",
            "size": "L",
        }
    ),
)
def read_window_price(call: Call) -> Reply:
    """Read the price of a ring in a size of any system.

    It is that of the band which holds the size, at its nearest quarter of a US size.
    Shipping is left out.
    """
    asked = call.query
    price = _price(
        call, asked["sku"], asked["system"], asked["size"], asked["quantity"]
    )
    return _shown(call, price, until=price.valid_until)


@routes.operation(
    "POST",
    PRICES,
    scope=WINDOW,
    summary="Ask for a price",
    body=WindowPriceBody(),
    answers={200: WindowPriceDocument()},
    problems=(NOT_FOUND, SIZE_NOT_OFFERED),
    quota=SHOWN,
    examples=Examples(body=WISH),
)
def ask_window_price(call: Call) -> Reply:
    """Ask for the price of a ring in a size, as it can be read; nothing is kept."""
    asked = call.body()
    size = asked["size"]
    price = _price(call, asked["sku"], size["system"], size["size"], asked["quantity"])
    return Reply(price)


def _price(call: Call, *asked: str | int) -> WindowPrice:
    sku, system, size, quantity = asked
    wanted = _size(str(system), str(size))
    price: WindowPrice = call.services.window.prices.price(sku, wanted, quantity)
    return price


def _found(call: Call) -> WindowListing:
    listing: WindowListing = call.services.window.listings.get(call.path["sku"])
    return listing


def _shown(
    call: Call,
    value: object,
    *,
    until: datetime,
    headers: dict[str, str] | None = None,
) -> Reply:
    """Answer with something that may be shown again until it may have changed."""
    left = min(until - call.services.clock.now(), FRESH_FOR)
    seconds = max(0, left // timedelta(seconds=1))
    caching = {
        "Cache-Control": f"private, max-age={seconds}",
        "Vary": "Authorization",
    }
    return Reply(value, etag=_tag(call, value), headers=caching | (headers or {}))


def _tag(call: Call, value: object) -> str:
    """An entity tag that says nothing but whether an answer is the same."""
    schema = call.operation.answer_for(call.key, 200)
    if isinstance(schema, KeptAnswer):  # written once, and asked for again
        digest = _tags.encoded(value, lambda _: _digest(call, schema.encoded(value)))
    else:
        digest = _digest(call, repr(value).encode())
    return f'"window-{digest.decode()}"'


def _digest(call: Call, said: bytes) -> bytes:
    secret = call.services.installation.secret("window")
    return hmac.digest(secret, _LABEL + said, "sha256").hex()[:32].encode()
