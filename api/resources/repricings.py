"""Repricings: one run over the listings, previewed and looked at."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from flask import request

from api.cursors import LINKS, SECRET, Listing
from api.endpoint import Call, Examples, Reply, Routes
from api.ports import BandFilter, Place, Repricing
from api.preconditions import tag
from api.problems import NOT_FOUND, SPOT_STALE, UNKNOWN_CURSOR, UNKNOWN_KEY
from api.schemas.repricing_documents import (
    RepricingBandsDocument,
    RepricingDocument,
    RepricingPageDocument,
)
from api.schemas.repricings import (
    RepricingBandsQuery,
    RepricingBody,
    RepricingPath,
    RepricingsQuery,
)
from api.security import BENCH
from api.services.repricings.document import band_document, run_document

ADDRESS = "/v1/repricings"
ONE = f"{ADDRESS}/<repricing_id>"
ETAG = {"ETag": "Its version; to apply or undo it has to name it in If-Match."}
PATH = {"repricing_id": "5d41402abc4b2a76b9719d911017c592"}
ID_IN_BODY = {"repricing_id": "$response.body#/id"}
DECISION = ID_IN_BODY | {"header.If-Match": "$response.header.ETag"}
_BAND_LINKS = LINKS.replace("older", "after").replace("newer", "before")

routes = Routes(
    "repricings",
    title="Repricings",
    about="One run over the listings when silver has moved: what becomes of every "
    "price and why, stored as a preview, applied in one act, and taken back exactly. "
    "Nothing is ever applied by itself.",
)


def work_out(call: Call) -> None:
    """Work a preview out before its transaction, so that nobody waits for it."""
    call.services.repricings.work_out(**call.body())


@routes.operation(
    "POST",
    ADDRESS,
    scope=BENCH,
    summary="Preview a repricing",
    body=RepricingBody(),
    answers={201: RepricingDocument()},
    problems=(NOT_FOUND, UNKNOWN_KEY, SPOT_STALE),
    idempotency="required",
    ahead=work_out,
    answer_headers=ETAG | {"Location": "Where the repricing is."},
    links={
        "read_repricing": ID_IN_BODY,
        "list_repricing_bands": ID_IN_BODY,
        "apply_repricing": DECISION,
    },
    examples=Examples(body={"spot": {"price": "29.10"}, "skus": None}),
)
def preview_repricing(call: Call) -> Reply:
    """Work out what becomes of every price at a spot, and change none.

    Bands that share coin, sizes, channel, policy and extras are worked out once. The
    preview is of one state of the listings; applying it is refused where one of them
    has changed since, or the price book or a coin. Previews that nobody has applied
    go after 30 days, and only the newest 20 are kept.
    """
    made = call.services.repricings.preview(**call.body())
    return whole(made, new=True)


@routes.operation(
    "GET",
    ADDRESS,
    scope=BENCH,
    summary="List repricings",
    query=RepricingsQuery(),
    answers={200: RepricingPageDocument()},
    problems=(UNKNOWN_CURSOR,),
    answer_headers={"Link": LINKS},
    examples=Examples(query={"status": "preview", "limit": "10"}),
)
def list_repricings(call: Call) -> Reply:
    """List repricings, newest first; follow the Link header for more."""
    asked, listing = call.query, listing_of(call, ADDRESS)
    place = listing.place()
    page = call.services.repricings.page(
        asked.get("status"), limit=asked["limit"], past=place.past, newer=place.newer
    )
    links = listing.links(
        [run.seq for run in page.runs], older=page.older, newer=page.newer
    )
    found = [run_document(run) for run in page.runs]
    return Reply({"repricings": found}, headers=links)


@routes.operation(
    "GET",
    ONE,
    scope=BENCH,
    summary="Read a repricing",
    path=RepricingPath(),
    answers={200: RepricingDocument()},
    answer_headers=ETAG,
    examples=Examples(path=PATH),
)
def read_repricing(call: Call) -> Reply:
    """Read a repricing: its totals, and what became of it."""
    return whole(found(call))


@routes.operation(
    "GET",
    f"{ONE}/bands",
    scope=BENCH,
    summary="List the bands of a repricing",
    path=RepricingPath(),
    query=RepricingBandsQuery(),
    answers={200: RepricingBandsDocument()},
    problems=(UNKNOWN_CURSOR,),
    answer_headers={"Link": _BAND_LINKS},
    examples=Examples(path=PATH, query={"decision": "raise", "limit": "10"}),
)
def list_repricing_bands(call: Call) -> Reply:
    """List what is decided for each band, by sku and size.

    Prices and margins are those of the preview, whatever was changed since.
    """
    run, asked = found(call), call.query
    listing = listing_of(call, f"{ADDRESS}/{run.id}/bands")
    place = listing.place()
    page = call.services.repricings.bands(
        run,
        BandFilter(decision=asked.get("decision"), sku=asked.get("sku")),
        limit=asked["limit"],
        past=None if place.past is None else _place(place.past),
        before=place.newer,
    )
    marks = [[band.sku, str(band.size_from)] for band in page.bands]
    links = listing.links(marks, older=page.after, newer=page.before)
    bands = [band_document(band, run.currency) for band in page.bands]
    return Reply({"currency": run.currency, "bands": bands}, headers=links)


def found(call: Call) -> Repricing:
    """The repricing that the path names. Raises NotFound."""
    run: Repricing = call.services.repricings.get(call.path["repricing_id"])
    return run


def tag_of(run: Repricing) -> str:
    """The entity tag of its version."""
    return tag("repricing", run.version)


def whole(run: Repricing, *, new: bool = False) -> Reply:
    """Answer with a repricing."""
    headers = {"Location": f"{ADDRESS}/{run.id}"} if new else {}
    return Reply(run_document(run), etag=tag_of(run), headers=headers)


def listing_of(call: Call, path: str) -> Listing:
    """The list at an address, as it is asked for."""
    return Listing(
        path=path,
        query=request.args.to_dict(),
        secret=call.services.installation.secret(SECRET),
    )


def _place(mark: list[Any]) -> Place:
    sku, size = mark
    return Place(sku, Decimal(size))
