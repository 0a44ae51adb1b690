"""How prices changed: by hand as written down, by runs as these have them."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from sqlalchemy import (
    Connection,
    Select,
    and_,
    insert,
    literal,
    null,
    select,
    union_all,
)

from api.db.listing_mapping import price_move
from api.db.listing_tables import listing_specs as specs
from api.db.listing_tables import listings
from api.db.listing_tables import price_changes as changes
from api.db.mapping import Values
from api.db.repricing_tables import repricing_bands as moved
from api.db.repricing_tables import repricings as runs
from api.ports import Band, Listing, PriceMove, Why


def note_moves(
    connection: Connection,
    edits: Iterable[tuple[Listing | None, Listing]],
    *,
    why: Why,
) -> None:
    """Write down how listings changed their prices, from what to what."""
    rows = [row for old, new in edits for row in _moves(old, new, why)]
    if rows:
        connection.execute(insert(changes), rows)


def history(
    connection: Connection, sku: str, *, limit: int, past: int | None
) -> tuple[PriceMove, ...]:
    """How the prices under a sku changed, newest first, ``limit`` moments of it."""
    every = union_all(
        _by_hand(sku),
        _by_runs(sku, "applied").where(runs.c.applied_rev.is_not(None)),
        _by_runs(sku, "undone").where(runs.c.undone_rev.is_not(None)),
    ).subquery()
    older = literal(value=True) if past is None else every.c.rev < past
    moments = select(every.c.rev).where(older).distinct()
    moments = moments.order_by(every.c.rev.desc()).limit(limit)
    revs = [*connection.execute(moments).scalars()]
    if not revs:
        return ()
    query = select(every).where(older, every.c.rev >= revs[-1])
    query = query.order_by(every.c.rev.desc(), every.c.size_from, every.c.size_to)
    return tuple(price_move(row) for row in connection.execute(query))


def _by_hand(sku: str) -> Select[Any]:
    return (
        select(
            changes.c.rev,
            changes.c.at,
            changes.c.changed_by,
            changes.c.why,
            changes.c.size_from,
            changes.c.size_to,
            changes.c.old_price,
            changes.c.new_price,
            null().label("run"),
            null().label("spot"),
            null().label("book_version"),
        )
        .join_from(changes, listings)
        .where(listings.c.sku == sku)
    )


def _by_runs(sku: str, why: Why) -> Select[Any]:
    there, back = moved.c.old_price, moved.c.new_price
    if why == "applied":
        there, back = back, there
    here = and_(moved.c.run == runs.c.seq, moved.c.listing == listings.c.seq)
    return (
        select(
            runs.c[f"{why}_rev"].label("rev"),
            runs.c[f"{why}_at"].label("at"),
            runs.c[f"{why}_by"].label("changed_by"),
            literal(why).label("why"),
            specs.c.size_from,
            specs.c.size_to,
            back.label("old_price"),
            there.label("new_price"),
            runs.c.id.label("run"),
            runs.c.spot,
            runs.c.book_version,
        )
        .join_from(listings, runs, literal(value=True))
        .join(moved, here)
        .join(specs, specs.c.id == moved.c.spec)
        .where(listings.c.sku == sku, moved.c.moves)
    )


def _moves(old: Listing | None, new: Listing, why: Why) -> list[Values]:
    before = {} if old is None else _by_sizes(old)
    after = _by_sizes(new)
    return [
        {
            "listing": new.seq,
            "size_from": sizes[0],
            "size_to": sizes[1],
            "old_price": _price(before.get(sizes)),
            "new_price": _price(after.get(sizes)),
            "rev": new.changed_rev,
            "at": new.changed_at,
            "changed_by": new.changed_by,
            "why": why,
        }
        for sizes in sorted({*before, *after})
        if _price(before.get(sizes)) != _price(after.get(sizes))
    ]


def _by_sizes(listing: Listing) -> dict[tuple[Any, Any], Band]:
    return {(one.size_from, one.size_to): one for one in listing.bands}


def _price(band: Band | None) -> Decimal | None:
    return None if band is None else band.price
