"""Spot prices: what one troy ounce of silver costs, entered and remembered."""

from __future__ import annotations

from urllib.parse import urlencode

from api.endpoint import Call, Examples, Reply, Routes
from api.problems import NOT_FOUND, SPOT_UNAVAILABLE
from api.schemas.spot_prices import (
    CurrentSpotDocument,
    MetalQuery,
    SpotHistoryDocument,
    SpotPriceBody,
    SpotPriceDocument,
    SpotPriceQuery,
)
from api.security import BENCH

routes = Routes(
    "spot_prices",
    title="Spot prices",
    about="Prices per troy ounce (ISO 4217: XAG is one troy ounce of silver).",
)


@routes.operation(
    "GET",
    "/v1/spot-prices",
    scope=BENCH,
    summary="What was entered, newest first",
    query=SpotPriceQuery(),
    answers={200: SpotHistoryDocument()},
    answer_headers={"Link": 'The next page, as rel="next", where there is one.'},
    examples=Examples(query={"metal": "XAG", "limit": "10"}),
)
def list_spot_prices(call: Call) -> Reply:
    """List recorded prices; follow the Link header for older ones."""
    metal, limit = call.query["metal"], call.query["limit"]
    found = call.services.spot_prices.history(
        metal, limit=limit + 1, before=call.query["before"]
    )
    page = found[:limit]
    headers = {}
    if len(found) > limit:
        older = urlencode({"metal": metal, "limit": limit, "before": page[-1].id})
        headers["Link"] = f'</v1/spot-prices?{older}>; rel="next"'
    return Reply({"spot_prices": page}, headers=headers)


@routes.operation(
    "POST",
    "/v1/spot-prices",
    scope=BENCH,
    summary="Enter a spot price",
    body=SpotPriceBody(),
    answers={201: SpotPriceDocument()},
    problems=(NOT_FOUND,),
    answer_headers={"Location": "Where the price in force is."},
    examples=Examples(body={"price": "27.50", "note": "read off the dealer's board"}),
)
def enter_spot_price(call: Call) -> Reply:
    """Enter a price by hand.

    Estimates stand on it from now on, until it expires or another is entered.
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
        by=call.key.id if call.key else "",
    )
    return Reply(entry, headers={"Location": "/v1/spot-prices/current"})


@routes.operation(
    "GET",
    "/v1/spot-prices/current",
    scope=BENCH,
    summary="The price in force",
    query=MetalQuery(),
    answers={200: CurrentSpotDocument()},
    problems=(SPOT_UNAVAILABLE,),
    examples=Examples(query={"metal": "XAG"}),
)
def read_current_spot_price(call: Call) -> Reply:
    """Show the price estimates stand on now, from where and how old."""
    return Reply(call.services.spot_prices.current(call.query["metal"]))
