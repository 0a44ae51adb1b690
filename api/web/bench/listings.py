"""Listings: what is in the shop, how each price stands, and what falls next."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from flask import abort

from api.ports import LISTING_KINDS, ListingFilter, ServiceError
from api.services.repricings.floors import FloorMark, FloorPage
from api.web.pages import Page, Pages
from api.web.paging import place, ways
from api.web.visit import Visit
from pricing.price_book import PriceBook

ADDRESS = "/bench/listings"
FLOORS = f"{ADDRESS}/floors"
ON_A_PAGE = 20
_MOST_TEXT = 100
_TRUTHS = {"yes": True, "no": False}
_MARK = re.compile(
    r"([01])_([0-9]{1,12}(?:\.[0-9]{1,9})?)_([0-9]{1,18})_"
    r"([0-9]{1,12}(?:\.[0-9]{1,9})?)_([0-9]{1,18})",
    re.ASCII,
)

pages = Pages(
    "listings",
    title="Listings",
    tab="listings",
    done={
        "imported": "The file is read in; all of it is in force.",
        "removed": "The listing is out of the shop; its prices stay on record.",
    },
)


@dataclass(frozen=True, slots=True)
class Asked:
    """Which listings an address asks for; what it says in error is left out."""

    query: Mapping[str, str]

    @property
    def chosen(self) -> dict[str, str]:
        """What of the address chooses listings."""
        names = ("text", "kind", "locked", "published", "coin", "channel", "policy")
        return {name: self.query[name] for name in names if self.query.get(name)}

    def wanted(self) -> ListingFilter:
        """As the service takes it."""
        chosen: dict[str, Any] = {**self.chosen}
        chosen["text"] = chosen.get("text", "").strip()[:_MOST_TEXT]
        if chosen.get("kind") not in LISTING_KINDS:
            chosen.pop("kind", None)
        for name in ("locked", "published"):
            chosen[name] = _TRUTHS.get(chosen.get(name, ""))
        return ListingFilter(**chosen)


@pages.get(ADDRESS)
def listings(visit: Visit) -> Page:
    """What is in the shop, newest first."""
    if visit.book is None:
        return Page("bench/listings_none.html")
    asked = Asked(visit.query)
    past, newer = place(visit.query)
    found = visit.services.listings.page(
        asked.wanted(), limit=ON_A_PAGE, past=past, newer=newer
    )
    seqs = [each.seq for each in found.listings]
    values = {
        "listings": found.listings,
        "standings": visit.services.listings.standings.of(found.listings),
        "chosen": asked.chosen,
    }
    values |= ways(ADDRESS, found, seqs, chosen=asked.chosen)
    return Page("bench/listings.html", values | choices(visit.book))


@pages.get(FLOORS)
def floors(visit: Visit) -> Page:
    """Which price falls to its floor next, when silver rises."""
    if visit.book is None:
        return Page("bench/listings_none.html")
    try:
        board = _board(visit)
    except ServiceError as error:  # no spot, or one too old: said in place of it
        return Page("bench/listing_floors.html", {"trouble": str(error)})
    last = board.bands[-1].mark if board.more else None
    older = f"{FLOORS}?past={_mark(last)}" if last else ""
    return Page(
        "bench/listing_floors.html",
        {"board": board, "older": older, "begun": "past" in visit.query},
    )


def choices(book: PriceBook) -> dict[str, Any]:
    """What a listing can be made of and priced by: pairs of key and words."""
    channels = [(each.key, each.title or each.key) for each in book.channels]
    policies = [(each.key, each.title or each.key) for each in book.policies]
    return {
        "kinds": [(kind, KIND_WORDS[kind]) for kind in LISTING_KINDS],
        "channels": channels,
        "policies": policies,
        "kind_words": KIND_WORDS,
        "channel_titles": dict(channels),
        "policy_titles": dict(policies),
    }


KIND_WORDS = {"made_to_order": "Made to order", "ready_made": "Ready made"}


def _board(visit: Visit) -> FloorPage:
    past = visit.query.get("past", "")
    found = _MARK.fullmatch(past)
    if past and not found:
        abort(404)
    board: FloorPage = visit.services.repricings.floors(
        limit=2 * ON_A_PAGE, past=_read(found) if found else None
    )
    return board


def _read(found: re.Match[str]) -> FloorMark:
    above, spot, spec, price, band = found.groups()
    return FloorMark(int(above), Decimal(spot), int(spec), Decimal(price), int(band))


def _mark(mark: FloorMark) -> str:
    return f"{mark.above}_{mark.spot:f}_{mark.spec}_{mark.price:f}_{mark.band}"
