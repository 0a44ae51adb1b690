"""Which specs are used at which prices in force, and by which bands."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache
from operator import itemgetter
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Integer,
    Row,
    Select,
    bindparam,
    cast,
    func,
    select,
    type_coerce,
)

from api.db.listing_mapping import names
from api.db.listing_tables import SIZE_SCALE, listings
from api.db.listing_tables import listing_bands as bands
from api.db.listing_tables import listing_specs as specs
from api.db.mapping import AnyRow
from api.db.prices_in_force import price_in_force
from api.db.quote_tables import MONEY_SCALE
from api.db.repositories.in_parts import in_parts
from api.db.types import unscaled
from api.ports import CaseInUse, Place, Spec
from pricing.money import tidy


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
        return tuple(map(_case, connection.execute(_with_specs(counted()))))
    found: dict[tuple[int, Decimal], CaseInUse] = {}
    for part in in_parts({*skus}):
        query = _with_specs(counted().where(of_some(part)))
        for case in map(_case, connection.execute(query)):
            known = found.setdefault((case.spec.id, case.price), case)
            if known is not case:  # of an earlier part of the skus
                bands, locked = known.bands + case.bands, known.locked + case.locked
                found[known.spec.id, known.price] = replace(
                    known, bands=bands, locked=locked
                )
    return tuple(case for _, case in sorted(found.items(), key=itemgetter(0)))


_PLACES: Select[tuple[int, str, Decimal]] = (
    select(bands.c.id, listings.c.sku, specs.c.size_from)
    .join_from(bands, listings)
    .join(specs, specs.c.id == bands.c.spec)
    .where(
        bands.c.spec == bindparam("spec"),
        price_in_force() == bindparam("price"),
        bands.c.id > bindparam("past"),
    )
    .order_by(bands.c.id)
    .limit(bindparam("most", type_=Integer))
)
"""Built once: a page of floors asks it of many cases."""


def places_of_case(
    connection: Connection, spec: int, price: Decimal, *, limit: int, past: int
) -> tuple[tuple[int, Place], ...]:
    """Bands of one case, by id from above ``past`` on."""
    asked = {"spec": spec, "price": price, "past": past, "most": limit}
    return tuple(map(_place, connection.execute(_PLACES, asked)))


def _place(row: Row[tuple[int, str, Decimal]]) -> tuple[int, Place]:
    return row.id, Place(row.sku, tidy(row.size_from))


def _with_specs(cases: Select[Any]) -> Select[Any]:
    # Prices and sizes as they are stored: there are thousands of rows and few values,
    # which are made decimals once each.
    used = cases.subquery()
    query = select(
        used.c.spec,
        type_coerce(used.c.in_force, Integer).label("in_force"),
        used.c.bands,
        used.c.locked,
        specs.c.coin,
        type_coerce(specs.c.size_from, Integer).label("size_from"),
        type_coerce(specs.c.size_to, Integer).label("size_to"),
        specs.c.channel,
        specs.c.policy,
        specs.c.extras,
    )
    query = query.join_from(used, specs, specs.c.id == used.c.spec)
    return query.order_by(used.c.spec, used.c.in_force)


def _case(row: AnyRow) -> CaseInUse:
    # All of it at once, as asking for each column by its name takes longer.
    spec, price, bands, locked, *terms = row
    in_force = _decimal(price, MONEY_SCALE)
    return CaseInUse(
        spec=_spec((spec, *terms)), price=in_force, bands=bands, locked=locked
    )


@lru_cache(8192)
def _spec(columns: tuple[Any, ...]) -> Spec:
    """A spec never changes, and is read for every run."""
    number, coin, size_from, size_to, channel, policy, extras = columns
    return Spec(
        id=number,
        coin=coin,
        size_from=_decimal(size_from, SIZE_SCALE),
        size_to=_decimal(size_to, SIZE_SCALE),
        channel=channel,
        policy=policy,
        extras=names(extras),
    )


@lru_cache(4096)
def _decimal(stored: int, scale: int) -> Decimal:
    return tidy(unscaled(stored, scale))
