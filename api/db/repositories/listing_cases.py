"""Which specs are used at which prices in force, and by which bands."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from decimal import Decimal
from operator import itemgetter
from typing import Any

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

from api.db.listing_mapping import spec
from api.db.listing_tables import listing_bands as bands
from api.db.listing_tables import listing_specs as specs
from api.db.listing_tables import listings
from api.db.mapping import AnyRow
from api.db.prices_in_force import price_in_force
from api.db.repositories.in_parts import in_parts
from api.ports import CaseInUse, Place
from pricing.money import tidy

_PRICE = price_in_force().label("in_force")


def of_some(skus: Collection[str]) -> ColumnElement[bool]:
    """Whether a band belongs to one of some listings."""
    named = listings.c.removed_at.is_(None) & listings.c.sku.in_(skus)
    return bands.c.listing.in_(select(listings.c.seq).where(named))


def counted() -> Select[Any]:
    """Pairs of spec and price in force, with how many bands there are of each."""
    # Not by the index: the bands are read in the order in which they lie.
    spec_id = (bands.c.spec + 0).label("spec")
    price = price_in_force().label("in_force")
    return select(
        spec_id,
        price,
        func.count().label("bands"),
        func.sum(cast(bands.c.locked, Integer)).label("locked"),
    ).group_by(spec_id, price)


def cases_in_use(
    connection: Connection, skus: Collection[str] | None
) -> tuple[CaseInUse, ...]:
    """Every pair of spec and price in force, of all listings or of some."""
    if skus is None:
        queries = [counted()]
    else:
        queries = [counted().where(of_some(part)) for part in in_parts({*skus})]
    found: dict[tuple[int, Decimal], CaseInUse] = {}
    for query in queries:
        for row in connection.execute(_with_specs(query)):
            known = found.get((row.id, row.in_force))
            found[row.id, row.in_force] = _case(row, known)
    return tuple(case for _, case in sorted(found.items(), key=itemgetter(0)))


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


def _with_specs(cases: Select[Any]) -> Select[Any]:
    used = cases.subquery()
    return select(used, specs).join_from(used, specs, specs.c.id == used.c.spec)


def _case(row: AnyRow, known: CaseInUse | None) -> CaseInUse:
    if known is not None:  # of an earlier part of the skus
        bands, locked = known.bands + row.bands, known.locked + row.locked
        return replace(known, bands=bands, locked=locked)
    price = tidy(row.in_force)
    return CaseInUse(spec=spec(row), price=price, bands=row.bands, locked=row.locked)
