"""One listing: put into the shop, changed, looked at, and taken out again."""

from __future__ import annotations

from typing import Any

from api.ports import Listing, NotFound
from api.schemas.listings import ListingBody, ListingChangeBody
from api.services.listings.document import version
from api.services.listings.terms import BandAsk, ListingAsk
from api.web.bench.coins import by_name
from api.web.bench.listings import ADDRESS, choices
from api.web.pages import Page, Pages, Redirect, Result
from api.web.sent_form import Form
from api.web.visit import Visit
from pricing.errors import Fault, InvalidInput

NEW = f"{ADDRESS}/new"
ONE = f"{ADDRESS}/<sku>"
REMOVE = f"{ONE}/remove"
TRIED = "bench/listing_tried.html"
MOMENTS_SHOWN = 20
MOST_ROWS = 40

pages = Pages(
    "listing_forms",
    title="Listing",
    tab="listings",
    done={
        "added": "The listing is in the shop.",
        "kept": "The listing is changed.",
        "same": "Nothing was different; the listing is as it was.",
    },
)


@pages.get(NEW)
def new_listing(visit: Visit) -> Page:
    """The form of a new listing, begun like another where the address names one."""
    if visit.book is None:
        return Page("bench/listings_none.html")
    return Page(
        "bench/listing_new.html",
        {"listing": None, "rows": visit.form.rows("bands")} | _choices(visit),
    )


@pages.post(NEW, again=new_listing, once=True)
def add_listing(visit: Visit) -> Result:
    """Put it into the shop, or only add or drop a row."""
    reshaped = _reshaped(visit)
    if reshaped is not None:
        return new_listing(visit.again(reshaped))
    ask = _ask(_read(visit, ListingBody()))
    made = visit.services.listings.create(ask)
    return Redirect(f"{ADDRESS}/{made.sku}", done="added")


@pages.live(NEW, part="tried", template=TRIED)
def tried_new(visit: Visit) -> dict[str, Any]:
    """What it would cost, and how that stands."""
    return _tried(visit, _ask(_read(visit, ListingBody())))


@pages.get(ONE)
def show_listing(visit: Visit) -> Page:
    """A listing as it is, to be changed."""
    listing = _found(visit)
    sent = visit.form.sent
    rows = visit.form.rows("bands") if sent else range(len(listing.bands))
    values = {
        "listing": listing,
        "version": visit.form.text("_version") if sent else version(listing),
        "standings": visit.services.listings.standings.of([listing]),
        "rows": list(rows),
        "history": visit.services.listings.history(listing.sku, limit=MOMENTS_SHOWN),
        "offer": _offer(visit, listing),
    }
    return Page("bench/listing.html", values | _choices(visit))


@pages.post(ONE, again=show_listing, once=True)
def change_listing(visit: Visit) -> Result:
    """Change it, or only add or drop a row."""
    reshaped = _reshaped(visit)
    if reshaped is not None:
        return show_listing(visit.again(reshaped))
    before = _found(visit)
    ask = _ask(_read(visit, ListingChangeBody()) | {"sku": before.sku})
    after = visit.services.listings.replace(
        before.sku, ask, expected=visit.form.text("_version")
    )
    done = "same" if version(after) == version(before) else "kept"
    return Redirect(f"{ADDRESS}/{before.sku}", done=done)


@pages.live(ONE, part="tried", template=TRIED)
def tried_change(visit: Visit) -> dict[str, Any]:
    """What the change would make of it."""
    sku = visit.path["sku"]
    return _tried(visit, _ask(_read(visit, ListingChangeBody()) | {"sku": sku}))


@pages.get(REMOVE)
def ask_to_remove(visit: Visit) -> Page:
    """The step before it is taken out."""
    listing = _found(visit)
    return Page(
        "bench/listing_remove.html", {"listing": listing, "version": version(listing)}
    )


@pages.post(REMOVE, again=ask_to_remove, once=True)
def remove_listing(visit: Visit) -> Redirect:
    """Take it out of the shop."""
    visit.services.listings.remove(
        visit.path["sku"], expected=visit.form.text("_version")
    )
    return Redirect(ADDRESS, done="removed")


def _choices(visit: Visit) -> dict[str, Any]:
    book, coins = visit.services.price_books.current(), visit.services.coins.list()
    return choices(book) | {
        "coins": [(each.coin.key, each.coin.label) for each in by_name(coins)],
        "extras": [(each.key, each.title or each.key) for each in book.extras],
    }


def _found(visit: Visit) -> Listing:
    listing: Listing = visit.services.listings.get(visit.path["sku"])
    return listing


def _read(visit: Visit, schema: Any) -> dict[str, Any]:
    """What the form asks for. Raises InvalidInput, in words of this form."""
    try:
        body: dict[str, Any] = visit.read(schema)
    except InvalidInput as error:
        raise InvalidInput(
            error.message, faults=tuple(map(_plainer, error.faults))
        ) from None
    return body


def _plainer(fault: Fault) -> Fault:
    no_bands = "give one band at least: its smallest and its largest size"
    return Fault(fault.path, no_bands) if fault.path == ("bands",) else fault


def _ask(body: dict[str, Any]) -> ListingAsk:
    bands = tuple(
        BandAsk(size_from=band["from"], size_to=band["to"], price=band["price"])
        for band in body["bands"]
    )
    return ListingAsk(**body | {"bands": bands, "extras": tuple(body["extras"])})


def _tried(visit: Visit, ask: ListingAsk) -> dict[str, Any]:
    tried = visit.services.listings.tried(ask)
    return {
        "tried": tried,
        "tried_standings": visit.services.listings.standings.of([tried]),
    }


def _reshaped(visit: Visit) -> Form | None:
    """The form with a row more or less; None where that was not asked for."""
    form, dropped = visit.form, visit.form.deed("drop-")
    rows = form.rows("bands")
    if form.wants("add") and len(rows) < MOST_ROWS:
        return form.with_values(**{f"bands-{max(rows) + 1}-from": ""})
    if form.wants("add"):
        return form
    return form.without(f"bands-{dropped}") if dropped else None


def _offer(visit: Visit, listing: Listing) -> Any:
    """The listing as the window shows it; None where it does not."""
    try:
        return visit.services.window.listings.get(listing.sku)
    except NotFound:
        return None
