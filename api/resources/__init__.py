"""The addresses of the API and its pages: one module a resource, each with routes."""

from __future__ import annotations

from api.endpoint import Routes
from api.resources import (
    audit,
    coins,
    estimates,
    feeds,
    floors,
    health,
    hooks,
    keys,
    listing_changes,
    listing_files,
    listings,
    margin_check_proposals,
    margin_checks,
    openapi,
    price_book,
    quote_decisions,
    quotes,
    repricing_decisions,
    repricings,
    ring_sizes,
    spot_prices,
    window,
    window_holds,
)

ROUTES: tuple[Routes, ...] = (
    estimates.routes,
    quotes.routes,
    quote_decisions.routes,
    listings.routes,
    listing_changes.routes,
    listing_files.routes,
    repricings.routes,
    repricing_decisions.routes,
    floors.routes,
    margin_checks.routes,
    margin_check_proposals.routes,
    window.routes,
    window_holds.routes,
    coins.routes,
    ring_sizes.routes,
    spot_prices.routes,
    feeds.routes,
    price_book.routes,
    keys.routes,
    hooks.routes,
    audit.routes,
    health.routes,
    openapi.routes,
)
"""Every resource, in the order the documentation shows them."""
