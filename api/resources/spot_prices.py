"""Spot prices: what a troy ounce of silver costs, entered or fetched, remembered.

A rate of exchange is a price too: that of one unit of a currency in another.
"""

from __future__ import annotations

from urllib.parse import urlencode

from api.endpoint import Call, Examples, Reply, Routes
from api.ports import NotFound
from api.problems import CONFLICT, NOT_FOUND, SPOT_UNAVAILABLE, UNKNOWN_KEY
from api.schemas.spot_prices import (
    CurrentSpotDocument,
    EntryPath,
    FetchBody,
    FetchDocument,
    MetalQuery,
    SpotHistoryDocument,
    SpotPriceBody,
    SpotPriceDocument,
    SpotPriceQuery,
)
from api.security import BENCH
from pricing.errors import UnknownKey

_SPOTS = "/v1/spot-prices"

routes = Routes(
    "spot_prices",
    title="Spot prices",
    about="Prices per troy ounce (ISO 4217: XAG is one troy ounce of silver), entered "
    "by hand or fetched from a feed. A rate of exchange is entered and fetched the "
    "same way: as the price of one unit of a currency, with its code as 'metal'.",
)


@routes.operation(
    "GET",
    _SPOTS,
    scope=BENCH,
    summary="What was recorded, newest first",
    query=SpotPriceQuery(),
    answers={200: SpotHistoryDocument()},
    answer_headers={"Link": 'The next page, as rel="next", where there is one.'},
    examples=Examples(query={"metal": "XAG", "status": "held", "limit": "10"}),
)
def list_spot_prices(call: Call) -> Reply:
    """List recorded prices; follow the Link header for older ones.

    With 'status=held' it lists what waits for a person to accept or reject.
    """
    asked = call.query
    found = call.services.spot_prices.history(
        asked["metal"],
        limit=asked["limit"] + 1,
        before=asked["before"],
        status=asked["status"],
    )
    page = found[: asked["limit"]]
    headers = {}
    if len(found) > len(page):
        older = {name: asked[name] for name in ("metal", "status", "limit")}
        query = {name: value for name, value in older.items() if value is not None}
        address = f"{_SPOTS}?{urlencode(query | {'before': page[-1].id})}"
        headers["Link"] = f'<{address}>; rel="next"'
    return Reply({"spot_prices": page}, headers=headers)


@routes.operation(
    "POST",
    _SPOTS,
    scope=BENCH,
    summary="Enter a spot price",
    body=SpotPriceBody(),
    answers={201: SpotPriceDocument()},
    problems=(NOT_FOUND,),
    answer_headers={"Location": "Where the price in force is."},
    examples=Examples(body={"price": "27.50", "note": "read off the dealer's board"}),
)
def enter_spot_price(call: Call) -> Reply:
    """Enter a price by hand; estimates stand on it at once.

    With an expiry it stays in force until then, whatever is fetched meanwhile.
    Without a currency it is in the price book's.
    """
    body = call.body()
    currency = body["currency"] or call.services.price_books.current().currency.code
    entry = call.services.spot_prices.enter(
        body["metal"],
        body["price"],
        currency,
        note=body["note"],
        expires_at=body["expires_at"],
    )
    return Reply(entry, headers={"Location": f"{_SPOTS}/current"})


@routes.operation(
    "GET",
    f"{_SPOTS}/current",
    scope=BENCH,
    summary="The price in force",
    query=MetalQuery(),
    answers={200: CurrentSpotDocument()},
    problems=(SPOT_UNAVAILABLE,),
    examples=Examples(query={"metal": "XAG"}),
)
def read_current_spot_price(call: Call) -> Reply:
    """Show the price estimates stand on now: from where, how old, and what waits."""
    return Reply(call.services.standings.of(call.query["metal"]))


@routes.operation(
    "POST",
    f"{_SPOTS}/fetch",
    scope=BENCH,
    summary="Fetch prices",
    body=FetchBody(),
    answers={200: FetchDocument()},
    problems=(UNKNOWN_KEY, CONFLICT),
    examples=Examples(body={"feed": "assay_office"}),
)
def fetch_spot_prices(call: Call) -> Reply:
    """Ask one feed, or every one that is switched on, and record what passes.

    A price that is doubtful is held or refused, with the reason, and never counts
    by itself. A feed that was asked in the last ten minutes is not asked again, and
    one that failed three times in a row is left alone for a while.
    """
    feed = call.body()["feed"]
    try:
        results = call.services.spot_prices.fetch(feed)
    except NotFound as error:
        raise UnknownKey(error.message, path=("feed",)) from error
    return Reply({"results": results})


@routes.operation(
    "POST",
    f"{_SPOTS}/<entry_id>/accept",
    scope=BENCH,
    summary="Accept a held price",
    path=EntryPath(),
    answers={200: SpotPriceDocument()},
    problems=(CONFLICT,),
    examples=Examples(path={"entry_id": "2"}),
)
def accept_spot_price(call: Call) -> Reply:
    """Let a price that was held count from now on.

    It is decided once: what was accepted or rejected before is answered with 409.
    """
    entry_id = call.path["entry_id"]
    return Reply(call.services.spot_prices.accept(entry_id))


@routes.operation(
    "POST",
    f"{_SPOTS}/<entry_id>/reject",
    scope=BENCH,
    summary="Reject a held price",
    path=EntryPath(),
    answers={200: SpotPriceDocument()},
    problems=(CONFLICT,),
    examples=Examples(path={"entry_id": "3"}),
)
def reject_spot_price(call: Call) -> Reply:
    """Put a price that was held aside for good; it stays in the history."""
    entry_id = call.path["entry_id"]
    return Reply(call.services.spot_prices.reject(entry_id))
