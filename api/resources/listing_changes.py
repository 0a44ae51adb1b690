"""Listings changed and removed, and how their prices changed."""

from __future__ import annotations

from flask import request

from api.cursors import LINKS, SECRET
from api.cursors import Listing as Paging
from api.endpoint import Call, Examples, Reply, Routes
from api.problems import UNKNOWN_CURSOR
from api.resources.listings import (
    ADDRESS,
    ETAG,
    ONE,
    PATH,
    RING,
    UNPRICED,
    ask_of,
    found,
    tag_of,
    unit_of,
    whole,
)
from api.schemas.listing_documents import HistoryDocument, ListingDocument
from api.schemas.listings import HistoryQuery, ListingChangeBody, ListingPath
from api.security import BENCH
from api.services.listings.document import move_document, version
from pricing.errors import InvalidInput

routes = Routes(
    "listing_changes",
    title="Changes of listings",
    about="Listings are changed whole, from a version that was read. Every price there "
    "ever was stays in a history.",
)


@routes.operation(
    "PUT",
    ONE,
    scope=BENCH,
    summary="Change a listing",
    path=ListingPath(),
    body=ListingChangeBody(),
    answers={200: ListingDocument()},
    problems=UNPRICED,
    conditional=True,
    answer_headers=ETAG,
    examples=Examples(path=PATH, body=RING),
)
def change_listing(call: Call) -> Reply:
    """Replace all that a listing says; what is left out gets its default.

    A price that is left out stays where all that it follows from does.
    """
    old, sku = found(call), call.path["sku"]
    expected = version(old) if call.require_match(tag_of(old)) else None
    body = call.body()
    if body.setdefault("sku", sku) != sku:
        raise InvalidInput(
            f"a sku stays what it is; leave it out, or say '{sku}'", path=("sku",)
        )
    changed = call.services.listings.replace(sku, ask_of(body), expected=expected)
    return whole(call, changed)


@routes.operation(
    "DELETE",
    ONE,
    scope=BENCH,
    summary="Remove a listing",
    path=ListingPath(),
    answers={204: None},
    conditional=True,
    examples=Examples(path=PATH),
)
def remove_listing(call: Call) -> Reply:
    """Take a listing out of the shop; the history of its prices stays."""
    old = found(call)
    expected = version(old) if call.require_match(tag_of(old)) else None
    call.services.listings.remove(call.path["sku"], expected=expected)
    return Reply()


@routes.operation(
    "GET",
    f"{ONE}/prices",
    scope=BENCH,
    summary="Read how prices changed",
    path=ListingPath(),
    query=HistoryQuery(),
    answers={200: HistoryDocument()},
    problems=(UNKNOWN_CURSOR,),
    answer_headers={"Link": LINKS},
    examples=Examples(path=PATH, query={"limit": "10"}),
)
def read_listing_prices(call: Call) -> Reply:
    """Read how the prices under a sku changed, newest first: by edits and by runs.

    The sku may be that of a listing that was removed.
    """
    services, sku = call.services, call.path["sku"]
    paging = Paging(
        path=f"{ADDRESS}/{sku}/prices",
        query=request.args.to_dict(),
        secret=services.installation.secret(SECRET),
    )
    limit, past = call.query["limit"], paging.place().past
    page = services.listings.history(sku, limit=limit, past=past)
    links = paging.links(
        [move.rev for move in page.moves], older=page.older, newer=False
    )
    unit = unit_of(call)
    moves = [move_document(move, unit) for move in page.moves]
    document = {"sku": sku, "currency": unit.code, "moves": moves}
    return Reply(document, headers=links)
