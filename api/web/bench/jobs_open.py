"""A job is opened: for a quote that was accepted, or for pieces of a listing."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from api.ports import Band, Listing, ListingFilter, NotFound
from api.schemas.job_bodies import JobBody
from api.services.jobs.terms import JobAsk
from api.web.bench.jobs import ADDRESS
from api.web.pages import Page, Pages, Redirect
from api.web.visit import Visit
from pricing import money
from pricing.ring_size import us_size

NEW = f"{ADDRESS}/new"
SHOWN = 20
_MOST_TEXT = 100
_QUARTER = Decimal("0.25")
_MOST_SIZES = 200

pages = Pages("jobs_open", title="Open a job", tab="jobs")


@pages.get(NEW)
def new(visit: Visit) -> Page:
    """Choose a listing, then which of its pieces."""
    if visit.book is None:
        return Page("bench/jobs_none.html")
    sku = visit.form.text("sku") or visit.query.get("sku", "")
    listing = _listing(visit, sku) if sku else None
    if listing is not None:
        sizes = list(_sizes(listing.bands))
        return Page("bench/job_new.html", {"listing": listing, "sizes": sizes})
    return Page("bench/job_choose.html", _choice(visit, sku))


@pages.post(NEW, again=new, once=True)
def open_job(visit: Visit) -> Redirect:
    """Open the job that is asked for."""
    body = visit.read(JobBody())
    ask = JobAsk(
        quote=body["quote_id"],
        sku=body["sku"],
        size=body["size"],
        quantity=body["quantity"],
        reference=body["reference"],
    )
    job = visit.services.bench.jobs.open(ask)
    return Redirect(f"{ADDRESS}/{job.id}", done="opened")


def _listing(visit: Visit, sku: str) -> Listing | None:
    try:
        found: Listing = visit.services.listings.get(sku)
    except NotFound:
        return None
    return found


def _choice(visit: Visit, sku: str) -> dict[str, Any]:
    """Listings to choose from; those that are made before they are sold stand first."""
    text = visit.query.get("text", "").strip()[:_MOST_TEXT]
    listed = visit.services.listings.page
    first = ListingFilter(text=text, kind=None if text else "ready_made")
    page = listed(first, limit=SHOWN)
    if not page.listings and not text:
        page = listed(ListingFilter(), limit=SHOWN)
    return {
        "text": text,
        "listings": page.listings,
        "more": page.older,
        "missing": sku,
    }


def _sizes(bands: tuple[Band, ...]) -> Iterator[tuple[str, str]]:
    """The sizes of a listing, in quarters: as the form sends them, and in words."""
    count = 0
    for band in bands:
        size = band.size_from
        while size <= band.size_to and count < _MOST_SIZES:
            yield _size(size)
            size, count = size + _QUARTER, count + 1


def _size(size: Decimal) -> tuple[str, str]:
    number = money.trimmed(size)
    iso = us_size(size).marks()["iso"]
    return number, f"US {number}" + (f" · ISO {iso}" if iso else "")
