"""Which specs are used at which prices in force, and by which bands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from decimal import Decimal

from sqlalchemy import (
    ColumnElement,
    Connection,
    Integer,
    Row,
    Select,
    cast,
    func,
    select,
)

from api.db.listing_mapping import spec as spec_of
from api.db.listing_tables import listing_bands as bands
from api.db.listing_tables import listing_specs as specs
from api.db.listing_tables import listings
from api.db.prices_in_force import price_in_force
from api.db.repositories.in_parts import in_parts
from api.ports import CaseInUse, Place, Spec
from pricing.money import tidy

_PRICE = price_in_force().label("in_force")
_COUNTED = select(
    bands.c.spec,
    _PRICE,
    func.count().label("bands"),
    func.sum(cast(bands.c.locked, Integer)).label("locked"),
).group_by(bands.c.spec, _PRICE)


def of_some(skus: Collection[str]) -> ColumnElement[bool]:
    """Whether a band belongs to one of some listings."""
    named = listings.c.removed_at.is_(None) & listings.c.sku.in_(skus)
    return bands.c.listing.in_(select(listings.c.seq).where(named))


def cases_in_use(
    connection: Connection, skus: Collection[str] | None
) -> tuple[CaseInUse, ...]:
    """Every pair of spec and price in force, of all listings or of some."""
    if skus is None:
        queries = [_COUNTED]
    else:
        queries = [_COUNTED.where(of_some(part)) for part in in_parts({*skus})]
    every: Counter[tuple[int, Decimal]] = Counter()
    locked: Counter[tuple[int, Decimal]] = Counter()
    for query in queries:
        for row in connection.execute(query):
            every[row.spec, row.in_force] += row.bands
            locked[row.spec, row.in_force] += row.locked
    known = _specs(connection, {number for number, _ in every})
    return tuple(
        CaseInUse(
            spec=known[number],
            price=tidy(price),
            bands=count,
            locked=locked[number, price],
        )
        for (number, price), count in sorted(every.items())
    )


def places_of_case(
    connection: Connection, here: ColumnElement[bool], *, limit: int, past: int
) -> tuple[tuple[int, Place], ...]:
    """Bands that meet a condition, by id from above ``past`` on."""
    query: Select[tuple[int, str, Decimal]] = (
        select(bands.c.id, listings.c.sku, specs.c.size_from)
        .join_from(bands, listings)
        .join(specs, specs.c.id == bands.c.spec)
        .where(here, bands.c.id > past)
        .order_by(bands.c.id)
        .limit(limit)
    )
    return tuple(map(_place, connection.execute(query)))


def _place(row: Row[tuple[int, str, Decimal]]) -> tuple[int, Place]:
    return row.id, Place(row.sku, tidy(row.size_from))


def _specs(connection: Connection, ids: Collection[int]) -> dict[int, Spec]:
    found: dict[int, Spec] = {}
    for part in in_parts(ids):
        rows = connection.execute(select(specs).where(specs.c.id.in_(part)))
        found |= {row.id: spec_of(row) for row in rows}
    return found
