"""Listings, and the history of their prices, page by page."""

from __future__ import annotations

from dataclasses import dataclass, replace

from api.ports import (
    Listing,
    ListingFilter,
    PriceMove,
    Storage,
    UnitOfWork,
)
from api.services.listings.lookup import not_there
from api.services.paging import check_limit, cut
from api.services.plain_text import sought


@dataclass(frozen=True, slots=True, kw_only=True)
class ListingPage:
    """Some listings, newest first, and whether there are more on either side."""

    listings: tuple[Listing, ...]
    older: bool
    newer: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryPage:
    """How prices changed, newest first, and whether there is more before."""

    moves: tuple[PriceMove, ...]
    older: bool


def listing_page(
    storage: Storage,
    wanted: ListingFilter,
    *,
    limit: int,
    past: int | None,
    newer: bool,
) -> ListingPage:
    """The listings next to one of them, as `Listings.page` says."""
    check_limit(limit)
    meant = replace(wanted, text=sought(wanted.text))
    found = storage.read(
        lambda unit: unit.listings.page(meant, limit=limit + 1, past=past, newer=newer)
    )
    shown, older, before = cut(found, limit=limit, begun=past is not None, back=newer)
    return ListingPage(listings=shown, older=older, newer=before)


def history_page(
    storage: Storage, sku: str, *, limit: int, past: int | None
) -> HistoryPage:
    """How the prices under a sku changed, as `Listings.history` says."""
    check_limit(limit)

    def read(unit: UnitOfWork) -> tuple[PriceMove, ...]:
        moves = unit.listings.history(sku, limit=limit + 1, past=past)
        # A page beyond the last change is empty; a sku that never was is unknown.
        if not (moves or past or unit.listings.get(sku)):
            raise not_there(sku)
        return moves

    moves = storage.read(read)
    moments = list(dict.fromkeys(move.rev for move in moves))
    kept = set(moments[:limit])
    return HistoryPage(
        moves=tuple(move for move in moves if move.rev in kept),
        older=len(moments) > limit,
    )
