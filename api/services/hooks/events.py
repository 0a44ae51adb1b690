"""Writing down what is to be told, in the transaction that does it.

A repricing is one row, however many prices it moves: which listings they are is
looked up when it is told. What is told is the state of then, so that a change that
was taken back before is told as what stands.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from api.ports import Listing, UnitOfWork
from api.ports.hooks import Happening, HookEvent

PRICES: HookEvent = "listing.prices_changed"
ACCEPTED: HookEvent = "quote.accepted"
EXPIRED: HookEvent = "quote.expired"
Change = tuple[Listing | None, Listing | None]
"""A listing as it was and as it is; None where it was not, or is not, there."""
MOST_SKUS = 100
"""Listings in one message [count]."""


def tell_listings(unit: UnitOfWork, at: datetime, pairs: Iterable[Change]) -> None:
    """Note listings that changed.

    Only what is or was published is told, and only where it is seen: the sizes, the
    prices, or that it came or went.
    """
    skus = [
        listing.sku
        for before, after in pairs
        if (listing := after or before) and _seen(before) != _seen(after)
    ]
    if skus and _wanted(unit, PRICES, at):
        for first in range(0, len(skus), MOST_SKUS):
            part = tuple(skus[first : first + MOST_SKUS])
            unit.hooks.note(Happening(event=PRICES, at=at, skus=part))


def tell_run(unit: UnitOfWork, at: datetime, run: int) -> None:
    """Note that the prices of a run came into force, or went again."""
    if _wanted(unit, PRICES, at):
        unit.hooks.note(Happening(event=PRICES, at=at, run=run))


def tell_quote(unit: UnitOfWork, at: datetime, quote_id: str) -> None:
    """Note that a quote was accepted."""
    if _wanted(unit, ACCEPTED, at):
        unit.hooks.note(Happening(event=ACCEPTED, at=at, quote=quote_id))


def _seen(listing: Listing | None) -> Sequence[object] | None:
    """What others can see of its prices; None where it is not published."""
    if listing is None or not listing.published:
        return None
    return [(band.size_from, band.size_to, band.price) for band in listing.bands]


def _wanted(unit: UnitOfWork, event: HookEvent, at: datetime) -> bool:
    return any(hook.wants(event, at) for hook in unit.hooks.all())
