"""Rows of listings to values and back."""

from __future__ import annotations

import json
from collections.abc import Iterable
from decimal import Decimal
from functools import lru_cache

from api.db.mapping import AnyRow, Values
from api.db.quote_mapping import folded
from api.ports import Band, Listing, PriceMove, Spec
from pricing.money import tidy

KEPT = 512
"""Texts and sizes that are read once; thousands of rows share them."""


def names_text(names: Iterable[str]) -> str:
    """A list of keys as stored."""
    return json.dumps([*names], separators=(",", ":"))


@lru_cache(KEPT)
def names(text: str) -> tuple[str, ...]:
    """A list of keys from the text that is stored."""
    return tuple(json.loads(text))


@lru_cache(KEPT)
def size(value: Decimal) -> Decimal:
    """A size with two decimals; there are few of them."""
    return tidy(value)


def listing(row: AnyRow, bands: Iterable[Band]) -> Listing:
    """A listing with its bands."""
    return Listing(
        seq=row.seq,
        sku=row.sku,
        title=row.title,
        kind=row.kind,
        coin=row.coin,
        channel=row.channel,
        policy=row.policy,
        extras=names(row.extras),
        locked=row.locked,
        published=row.published,
        actual_cost=None if row.actual_cost is None else tidy(row.actual_cost),
        bands=tuple(bands),
        revision=row.revision,
        changed_rev=row.changed_rev,
        created_at=row.created_at,
        changed_at=row.changed_at,
        changed_by=row.changed_by,
        removed_at=row.removed_at,
    )


def listing_values(listing: Listing) -> Values:
    """The columns that a new listing and its replacement both have."""
    return {
        "sku": listing.sku,
        "title": listing.title,
        "kind": listing.kind,
        "coin": listing.coin,
        "channel": listing.channel,
        "policy": listing.policy,
        "extras": names_text(listing.extras),
        "locked": listing.locked,
        "published": listing.published,
        "actual_cost": listing.actual_cost,
        "changed_rev": listing.changed_rev,
        "changed_at": listing.changed_at,
        "changed_by": listing.changed_by,
        "search": folded(f"{listing.sku}\n{listing.title}"),
    }


def band(row: AnyRow) -> Band:
    """A band, from its row with its sizes, price in force and run."""
    return Band(
        id=row.id,
        size_from=size(row.size_from),
        size_to=size(row.size_to),
        price=tidy(row.in_force),
        run=row.run,
    )


def spec(row: AnyRow) -> Spec:
    """What a price follows from."""
    return Spec(
        id=row.id,
        coin=row.coin,
        size_from=size(row.size_from),
        size_to=size(row.size_to),
        channel=row.channel,
        policy=row.policy,
        extras=names(row.extras),
    )


def spec_values(spec: Spec) -> Values:
    """The columns of a spec; the database gives the id."""
    return {
        "coin": spec.coin,
        "channel": spec.channel,
        "policy": spec.policy,
        "extras": names_text(spec.extras),
        "size_from": spec.size_from,
        "size_to": spec.size_to,
    }


def price_move(row: AnyRow) -> PriceMove:
    """One change of a price."""
    return PriceMove(
        rev=row.rev,
        at=row.at,
        by=row.changed_by,
        why=row.why,
        size_from=size(row.size_from),
        size_to=size(row.size_to),
        old=None if row.old_price is None else tidy(row.old_price),
        new=None if row.new_price is None else tidy(row.new_price),
        run=row.run,
        spot=row.spot,
        book_version=row.book_version,
    )
