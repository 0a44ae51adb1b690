"""The ways through the bench, as every page shows them."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Flask


@dataclass(frozen=True, slots=True)
class Tab:
    """An entry of the navigation."""

    name: str
    title: str
    address: str


TABS = (
    Tab("quote", "Quote", "/bench/quotes"),
    Tab("spot", "Spot", "/bench/spot"),
    Tab("listings", "Listings", "/bench/listings"),
    Tab("jobs", "Bench", "/bench/jobs"),
    Tab("week", "Week", "/bench/week"),
    Tab("book", "Price book", "/bench/book"),
    Tab("keys", "Keys", "/bench/keys"),
)
"""In the order of a maker's day."""


def tabs_of(app: Flask) -> tuple[Tab, ...]:
    """Those entries whose pages there are."""
    there = {rule.rule for rule in app.url_map.iter_rules()}
    return tuple(tab for tab in TABS if tab.address in there)
