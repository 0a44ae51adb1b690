"""Listings as they are told: whole to the bench, and what a shop may know."""

from __future__ import annotations

import hashlib
import hmac
import json
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from api.ports import Listing, PriceMove
from pricing import money
from pricing.money import Currency

_DIGITS = 12
_LABEL = b"listing for a shop "


def version(listing: Listing) -> str:
    """A name for the state that a listing is in, its prices among it.

    A listing that was removed and made again under its sku has another one, and so
    has one whose prices a repricing changed.
    """
    prices = ",".join(format(band.price.normalize(), "f") for band in listing.bands)
    digest = hashlib.sha256(prices.encode()).hexdigest()[:_DIGITS]
    return f"{listing.seq}-{listing.revision}-{digest}"


def listing_document(listing: Listing, unit: Currency) -> dict[str, Any]:
    """The whole of a listing, for the bench."""
    cost = listing.actual_cost
    return {
        "sku": listing.sku,
        "title": listing.title,
        "kind": listing.kind,
        "coin": listing.coin,
        "channel": listing.channel,
        "policy": listing.policy,
        "extras": listing.extras,
        "locked": listing.locked,
        "published": listing.published,
        "actual_cost": None if cost is None else in_unit(cost, unit),
        "currency": unit.code,
        "bands": _bands(listing, unit),
        "created_at": listing.created_at,
        "changed_at": listing.changed_at,
        "changed_by": listing.changed_by,
    }


def public_form(listing: Listing, unit: Currency) -> dict[str, Any]:
    """What a shop may know: member by member, so that nothing new slips in."""
    return {
        "sku": listing.sku,
        "title": listing.title,
        "kind": listing.kind,
        "currency": unit.code,
        "bands": _bands(listing, unit),
    }


def public_version(form: Mapping[str, Any], secret: bytes) -> str:
    """A name for a public form that tells nothing of what is not in it."""
    text = json.dumps(form, sort_keys=True, default=str).encode()
    return hmac.new(secret, _LABEL + text, hashlib.sha256).hexdigest()


def move_document(move: PriceMove, unit: Currency) -> dict[str, Any]:
    """One change of a price."""
    spot = None if move.spot is None else json.loads(move.spot)
    return {
        "at": move.at,
        "by": move.by,
        "why": move.why,
        "from": move.size_from,
        "to": move.size_to,
        "old": None if move.old is None else in_unit(move.old, unit),
        "new": None if move.new is None else in_unit(move.new, unit),
        "run": move.run,
        "spot_price": Decimal(spot["price"]) if spot else None,
        "book_version": move.book_version,
    }


def in_unit(amount: Decimal, unit: Currency) -> Decimal:
    """An amount with the decimals of its currency, if it has no more of them."""
    shown = money.amount(amount, unit)
    return shown if shown == amount else amount


def in_unit_of(listing: Listing, unit: Currency) -> Listing:
    """The listing with its amounts written as `in_unit` writes them."""
    cost = listing.actual_cost
    return replace(
        listing,
        actual_cost=None if cost is None else in_unit(cost, unit),
        bands=tuple(
            replace(band, price=in_unit(band.price, unit)) for band in listing.bands
        ),
    )


def _bands(listing: Listing, unit: Currency) -> list[dict[str, Any]]:
    return [
        {
            "from": Decimal(money.trimmed(band.size_from)),
            "to": Decimal(money.trimmed(band.size_to)),
            "price": in_unit(band.price, unit),
        }
        for band in listing.bands
    ]
