"""Listings from a spreadsheet and into one: looked at first, then read in one act."""

from __future__ import annotations

from api.services.listings.rows import COLUMNS, NEEDED
from api.web.bench.file_look import (
    MOST_SENT,
    Reading,
    look_or_import,
    saved,
    usual_writing,
)
from api.web.bench.listings import ADDRESS
from api.web.pages import File, Page, Pages, Redirect
from api.web.visit import Visit

IMPORT = f"{ADDRESS}/import"
EXPORT = f"{ADDRESS}/export"

pages = Pages("listing_files", title="Files of listings", tab="listings")


@pages.get(IMPORT)
def files(visit: Visit) -> Page:
    """Where files come in and go out."""
    if visit.book is None:
        return Page("bench/listings_none.html")
    values = {"usual": usual_writing(visit), "columns": COLUMNS}
    return Page("bench/listing_files.html", values)


@pages.post(IMPORT, again=files, most_bytes=MOST_SENT)
def import_listings(visit: Visit) -> Page | Redirect:
    """Say what a file would change; and read it in, once that was seen."""
    reading = Reading(
        template="bench/listing_look.html",
        address=ADDRESS,
        columns=lambda _: COLUMNS,
        needed=NEEDED,
        read=visit.services.listings.import_csv,
    )
    return look_or_import(visit, reading)


@pages.get(EXPORT)
def export(visit: Visit) -> File:
    """All listings as one file."""
    return saved(visit, "listings.csv", visit.services.listings.export_csv)
