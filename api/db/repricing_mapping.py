"""Rows of repricings to values and back."""

from __future__ import annotations

import json
from collections.abc import Iterable
from decimal import Decimal

from api.db.listing_mapping import names, names_text
from api.db.mapping import AnyRow, Values
from api.ports import Place, Repricing, RepricingBand
from pricing.money import tidy

MOVING = frozenset({"raise", "lower"})
"""Decisions that change a price unless somebody has to say so first."""


NOBODY = "[]"
"""No places, as stored."""
COINS = "coins_rev"
"""The count of changes of coins, which stands beside the counts of bands."""


def repricing(row: AnyRow) -> Repricing:
    """A run without its bands."""
    counts = json.loads(row.counts)
    coins_rev = counts.pop(COINS, None)
    return Repricing(
        seq=row.seq,
        id=row.id,
        status=row.status,
        version=row.version,
        created_at=row.created_at,
        created_by=row.created_by,
        currency=row.currency,
        spot=row.spot,
        spot_price=tidy(row.spot_price),
        book_version=row.book_version,
        skus=None if row.skus is None else names(row.skus),
        counts=counts,
        value_change=tidy(row.value_change),
        listings_rev=row.listings_rev,
        coins_rev=coins_rev,
        named=tuple(Place(sku, Decimal(size)) for sku, size in json.loads(row.named)),
        reached=row.reached,
        reached_at=row.reached_at,
        applied_at=row.applied_at,
        applied_by=row.applied_by,
        applied_rev=row.applied_rev,
        undone_at=row.undone_at,
        undone_by=row.undone_by,
        undone_rev=row.undone_rev,
    )


def repricing_values(run: Repricing) -> Values:
    """The columns of a new preview; the database gives its place in the order."""
    return {
        "id": run.id,
        "status": "preview",
        "version": 1,
        "created_at": run.created_at,
        "created_by": run.created_by,
        "currency": run.currency,
        "spot": run.spot,
        "spot_price": run.spot_price,
        "book_version": run.book_version,
        "skus": None if run.skus is None else names_text(run.skus),
        "counts": _counts_text(run),
        "value_change": run.value_change,
        "listings_rev": run.listings_rev,
        "named": NOBODY,
        "reached": 0,
        "applied_by": "",
        "undone_by": "",
    }


def _counts_text(run: Repricing) -> str:
    counts = dict(run.counts)
    if run.coins_rev is not None:
        counts[COINS] = run.coins_rev
    return json.dumps(counts, separators=(",", ":"))


def places_text(places: Iterable[Place]) -> str:
    """Places as stored, in order."""
    said = [[place.sku, str(place.size_from)] for place in sorted(places)]
    return json.dumps(said, separators=(",", ":"))


def repricing_band(row: AnyRow) -> RepricingBand:
    """A band with its case; locked ones say so whatever their case is."""
    return RepricingBand(
        band=row.band,
        sku=row.sku,
        size_from=tidy(row.size_from),
        size_to=tidy(row.size_to),
        old_price=tidy(row.old_price),
        new_price=_tidy(row.new_price),
        old_margin=_tidy(row.old_margin),
        new_margin=_tidy(row.new_margin),
        decision="locked" if row.locked else row.decision,
        reason=row.reason,
        spot_at_floor=_tidy(row.spot_at_floor),
        moves=row.moves,
    )


def _tidy(value: Decimal | None) -> Decimal | None:
    return None if value is None else tidy(value)
