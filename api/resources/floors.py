"""What would become of prices at another spot, and which falls to its floor next."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from api.cursors import LINKS
from api.endpoint import Call, Examples, Reply, Routes
from api.problems import (
    NOT_FOUND,
    SPOT_STALE,
    SPOT_UNAVAILABLE,
    UNKNOWN_CURSOR,
    UNKNOWN_KEY,
)
from api.resources.repricings import ADDRESS, listing_of
from api.schemas.repricing_documents import FloorsDocument, WhatIfDocument
from api.schemas.repricings import FloorsQuery, WhatIfBody
from api.security import BENCH
from api.services.repricings.document import board_document, what_if_document
from api.services.repricings.floors import FloorMark

BOARD = "/v1/listings/floors"

routes = Routes(
    "floors",
    title="When silver moves",
    about="Looked up, and stored nowhere.",
)


@routes.operation(
    "POST",
    f"{ADDRESS}/what-if",
    scope=BENCH,
    summary="Try another spot price",
    body=WhatIfBody(),
    answers={200: WhatIfDocument()},
    problems=(NOT_FOUND, UNKNOWN_KEY, SPOT_UNAVAILABLE),
    examples=Examples(body={"change_percent": "10"}),
)
def try_repricing(call: Call) -> Reply:
    """Say what a repricing at another spot would decide; nothing is stored.

    Give either 'spot', or 'change_percent' for more or less than the one in force.
    """
    return Reply(what_if_document(call.services.repricings.what_if(**call.body())))


@routes.operation(
    "GET",
    BOARD,
    scope=BENCH,
    summary="List bands by their floor",
    query=FloorsQuery(),
    answers={200: FloorsDocument()},
    problems=(NOT_FOUND, SPOT_STALE, SPOT_UNAVAILABLE, UNKNOWN_CURSOR),
    answer_headers={"Link": LINKS},
    examples=Examples(query={"limit": "10"}),
)
def list_floors(call: Call) -> Reply:
    """List the spot at which each price falls to its policy's floor, nearest first.

    So the next listing to go under is known before it does. Bands that are under
    their floor come first; those that never fall to it are left out.
    """
    listing = listing_of(call, BOARD)
    past = listing.place().past
    page = call.services.repricings.floors(
        limit=call.query["limit"], past=None if past is None else _mark(past)
    )
    marks = [list(map(str, band.mark)) for band in page.bands]
    links = listing.links(marks, older=page.more, newer=False)
    return Reply(board_document(page), headers=links)


def _mark(said: list[Any]) -> FloorMark:
    above, spot, spec, price, band = said
    return FloorMark(int(above), Decimal(spot), int(spec), Decimal(price), int(band))
