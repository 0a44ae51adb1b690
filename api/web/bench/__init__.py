"""The pages of the bench: one module a part, each with its pages."""

from __future__ import annotations

from api.web.bench import (
    book,
    book_edit,
    book_versions,
    feeds,
    feeds_form,
    listing_files,
    listing_forms,
    listings,
    overview,
    quote_decisions,
    quote_desk,
    quotes,
    repricing_runs,
    repricings,
    sign_in,
    spot,
    spot_rates,
    style,
    week,
    words,
)
from api.web.pages import Pages

PAGES: tuple[Pages, ...] = (
    overview.pages,
    quotes.pages,
    quote_desk.pages,
    quote_decisions.pages,
    listings.pages,
    listing_files.pages,
    listing_forms.pages,
    repricings.pages,
    repricing_runs.pages,
    week.pages,
    sign_in.pages,
    style.pages,
    book.pages,
    book_edit.pages,
    book_versions.pages,
    spot.pages,
    spot_rates.pages,
    words.pages,
    feeds.pages,
    feeds_form.pages,
)
"""Every part of the bench."""
