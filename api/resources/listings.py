"""Listings: what is in the shop, with the price of every band of sizes."""

from __future__ import annotations

from typing import Any

from flask import request

from api.cursors import LINKS, SECRET
from api.cursors import Listing as Paging
from api.endpoint import Call, Examples, Reply, Routes
from api.errors import invalid
from api.ports import Listing, ListingFilter
from api.problems import (
    CONFLICT,
    NO_POSSIBLE_PRICE,
    NOT_FOUND,
    NOT_MAKEABLE,
    SPOT_STALE,
    SPOT_UNAVAILABLE,
    UNKNOWN_CURSOR,
    UNKNOWN_KEY,
)
from api.schemas.listing_documents import (
    ListingDocument,
    ListingPageDocument,
    PublicListingDocument,
    PublicListingPageDocument,
)
from api.schemas.listings import (
    ListingBody,
    ListingPath,
    ListingsQuery,
)
from api.security import BENCH, SHOP
from api.services.listings.document import (
    listing_document,
    public_form,
    public_version,
    version,
)
from api.services.listings.lookup import not_there
from api.services.listings.terms import BandAsk, ListingAsk
from pricing.money import Currency

ADDRESS = "/v1/listings"
ONE = f"{ADDRESS}/<sku>"
ETAG = {"ETag": "Its version, prices among it; a change has to name it in If-Match."}
_LOCATION = {"Location": "Where the new listing is."}
PATH = {"sku": "ring-50s-large"}
UNPRICED = (
    UNKNOWN_KEY,
    NOT_MAKEABLE,
    NO_POSSIBLE_PRICE,
    SPOT_UNAVAILABLE,
    SPOT_STALE,
)
_BY_SKU = {"sku": "$response.body#/sku"}
_CHANGE = _BY_SKU | {"header.If-Match": "$response.header.ETag"}
_FOR_ALL = frozenset({"kind", "text", "limit", "cursor"})
RING = {
    "title": "Band ring from a 50 schilling coin",
    "kind": "made_to_order",
    "coin": "at_50s_1959_1973",
    "channel": "own_shop",
    "policy": "retail",
    "published": True,
    "bands": [
        {"from": "5", "to": "9.5", "price": "189.95"},
        {"from": "10", "to": "12"},
    ],
}

routes = Routes(
    "listings",
    title="Listings",
    about="What is in the shop, each with bands of sizes that share a price. A bench "
    "key sees all of it; a shop key sees published listings with their prices, and "
    "nothing of how they come about.",
)


@routes.operation(
    "POST",
    ADDRESS,
    scope=BENCH,
    summary="Add a listing",
    body=ListingBody(),
    answers={201: ListingDocument()},
    problems=(NOT_FOUND, CONFLICT, *UNPRICED),
    idempotency="optional",
    answer_headers=ETAG | _LOCATION,
    links={
        "read_listing": _BY_SKU,
        "read_listing_prices": _BY_SKU,
        "change_listing": _CHANGE,
        "remove_listing": _CHANGE,
    },
    ahead=lambda call: call.services.listings.work_out(ask_of(call.body())),
    examples=Examples(body={"sku": "ring-50s-new", **RING}),
)
def add_listing(call: Call) -> Reply:
    """Put something into the shop.

    A band without a price is priced at the spot in force, for the dearest of its sizes.
    """
    made = call.services.listings.create(ask_of(call.body()))
    return whole(call, made, new=True)


@routes.operation(
    "GET",
    ADDRESS,
    scope=SHOP,
    summary="List listings",
    query=ListingsQuery(),
    answers={200: ListingPageDocument()},
    narrowed={200: PublicListingPageDocument()},
    problems=(UNKNOWN_CURSOR, NOT_FOUND),
    answer_headers={"Link": LINKS},
    examples=Examples(query={"text": "ring", "limit": "10"}),
)
def list_listings(call: Call) -> Reply:
    """List what is in the shop, newest first; follow the Link header for more.

    To a shop key only published listings are shown, and only their public form.
    """
    asked, services = call.query, call.services
    public = _is_public(call)
    if public:
        _refuse_others(request.args)
    paging = Paging(
        path=ADDRESS,
        query=request.args.to_dict(),
        secret=services.installation.secret(SECRET),
    )
    place = paging.place()
    names = ("kind", "text", "coin", "channel", "policy", "locked", "published")
    chosen = {name: asked[name] for name in names if name in asked}
    wanted = ListingFilter(**(chosen | ({"published": True} if public else {})))
    page = services.listings.page(
        wanted, limit=asked["limit"], past=place.past, newer=place.newer
    )
    links = paging.links(
        [each.seq for each in page.listings], older=page.older, newer=page.newer
    )
    form = public_form if public else listing_document
    unit = unit_of(call)
    found = [form(each, unit) for each in page.listings]
    return Reply({"listings": found}, headers=links)


@routes.operation(
    "GET",
    ONE,
    scope=SHOP,
    summary="Read a listing",
    path=ListingPath(),
    answers={200: ListingDocument()},
    narrowed={200: PublicListingDocument()},
    answer_headers={"ETag": ETAG["ETag"] + " To a shop key it is of another kind."},
    examples=Examples(path=PATH),
)
def read_listing(call: Call) -> Reply:
    """Read a listing; to a shop key only if it is published, in its public form."""
    listing = found(call)
    if not _is_public(call):
        return whole(call, listing)
    if not listing.published:
        raise not_there(listing.sku)
    form = public_form(listing, unit_of(call))
    secret = call.services.installation.secret("public listings")
    return Reply(form, etag=f'"public-{public_version(form, secret)}"')


def ask_of(body: dict[str, Any]) -> ListingAsk:
    """What a body asks for."""
    bands = tuple(
        BandAsk(size_from=band["from"], size_to=band["to"], price=band["price"])
        for band in body["bands"]
    )
    return ListingAsk(**body | {"bands": bands, "extras": tuple(body["extras"])})


def found(call: Call) -> Listing:
    """The listing that the path names. Raises NotFound."""
    listing: Listing = call.services.listings.get(call.path["sku"])
    return listing


def _is_public(call: Call) -> bool:
    return call.key is None or call.key.scope != "bench"


def _refuse_others(query: Any) -> None:
    """Raise Refused for parameters that only a bench key may ask by."""
    said = "only a bench key may ask by this"
    others = [{"detail": said, "parameter": name} for name in set(query) - _FOR_ALL]
    if others:
        raise invalid(tuple(others))


def unit_of(call: Call) -> Currency:
    """What prices are in. Raises NotFound."""
    unit: Currency = call.services.listings.currency()
    return unit


def tag_of(listing: Listing) -> str:
    """Its entity tag, for the bench."""
    return f'"listing-{version(listing)}"'


def whole(call: Call, listing: Listing, *, new: bool = False) -> Reply:
    """Answer with all of a listing, for the bench alone."""
    headers = {"Location": f"{ADDRESS}/{listing.sku}"} if new else {}
    document = listing_document(listing, unit_of(call))
    return Reply(document, etag=tag_of(listing), headers=headers)
