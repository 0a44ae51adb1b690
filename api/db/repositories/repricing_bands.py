"""The bands of a run: filled by one statement, and read by sku."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, cast

from sqlalchemy import (
    ColumnElement,
    Connection,
    Insert,
    Select,
    and_,
    bindparam,
    case,
    func,
    insert,
    literal,
    or_,
    select,
    update,
)

from api.db.listing_tables import listing_bands as here
from api.db.listing_tables import listing_specs as specs
from api.db.listing_tables import listings
from api.db.prices_in_force import price_in_force, run_in_force
from api.db.repositories.in_parts import in_parts
from api.db.repositories.listing_cases import of_some
from api.db.repricing_mapping import repricing_band
from api.db.repricing_tables import repricing_bands as bands
from api.db.repricing_tables import repricing_cases as cases
from api.ports import BandDecision, BandFilter, Place, RepricingBand

_OF_ITS_CASE = and_(
    cases.c.run == bands.c.run,
    cases.c.spec == bands.c.spec,
    cases.c.old_price == bands.c.old_price,
)
_DECISION: ColumnElement[str] = case(
    (bands.c.locked, literal("locked")), else_=cases.c.decision
)
_WHOLE = (
    select(
        bands.c.band,
        bands.c.listing,
        listings.c.sku,
        specs.c.size_from,
        specs.c.size_to,
        bands.c.old_price,
        bands.c.new_price,
        bands.c.locked,
        bands.c.moves,
        cases.c.old_margin,
        cases.c.new_margin,
        cases.c.decision,
        cases.c.reason,
        cases.c.spot_at_floor,
    )
    .join_from(bands, cases, _OF_ITS_CASE)
    .join(specs, specs.c.id == bands.c.spec)
    .join(listings, listings.c.seq == bands.c.listing)
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """Which part of an ordered list is asked for."""

    limit: int
    past: Place | None
    newer: bool


def filling(run: int, only: ColumnElement[bool] | None = None) -> Insert:
    """The statement that gives a run its bands, of all listings or of some."""
    fits = and_(
        cases.c.run == run,
        # Not by the index: the bands are read in the order in which they lie, and
        # each looks its case up. Led by the cases, all of it would jump about.
        cases.c.spec == here.c.spec + 0,
        cases.c.old_price == price_in_force(),
    )
    found = select(
        cases.c.run,
        here.c.listing,
        here.c.id,
        here.c.spec,
        run_in_force(),
        cases.c.old_price,
        cases.c.new_price,
        here.c.locked,
        and_(cases.c.moves, here.c.locked.is_(other=False)),
    ).join_from(here, cases, fits)
    if only is not None:
        found = found.where(only)
    return insert(bands).from_select([each.name for each in bands.c], found)


def fill(connection: Connection, run: int, skus: Collection[str] | None) -> int:
    """Give a run its bands; how many there are then [count]."""
    if skus is None:
        connection.execute(filling(run))
    else:
        for part in in_parts({*skus}):
            connection.execute(filling(run, of_some(part)))
    counted = select(func.count()).where(bands.c.run == run)
    return connection.execute(counted).scalar_one()


def page(
    connection: Connection, run: int, wanted: BandFilter, asked: Page
) -> tuple[RepricingBand, ...]:
    """Bands by sku and size that lie past a place."""
    # Its listings first: there are no more of them than bands, and the index gives
    # them in order, where sorting the bands would sort all of a run for each page.
    listed = [*connection.execute(_listings(run, wanted, asked)).scalars()]
    query = _WHOLE.where(bands.c.run == run, bands.c.listing.in_(listed))
    if wanted.decision is not None:
        query = query.where(_decided(wanted.decision))
    if asked.past is not None:
        query = query.where(_beyond(asked.past, newer=asked.newer))
    order = (listings.c.sku, specs.c.size_from)
    directed = [each.desc() if asked.newer else each.asc() for each in order]
    query = query.order_by(*directed).limit(asked.limit)
    rows = connection.execute(query).all()
    return tuple(map(repricing_band, reversed(rows) if asked.newer else rows))


def at_places(
    connection: Connection, run: int, places: Iterable[Place]
) -> dict[Place, RepricingBand]:
    """The run's bands at some places."""
    wanted = {*places}
    found: dict[Place, RepricingBand] = {}
    for part in in_parts({place.sku for place in wanted}):
        query = _WHOLE.where(bands.c.run == run, bands.c.listing.in_(_named(part)))
        each = map(repricing_band, connection.execute(query))
        found |= {Place(one.sku, one.size_from): one for one in each}
    return {place: one for place, one in found.items() if place in wanted}


def counts(connection: Connection, run: int) -> Mapping[BandDecision, int]:
    """Bands of a run by decision [count]."""
    decision = _DECISION.label("decided")
    query = select(decision, func.count()).join_from(bands, cases, _OF_ITS_CASE)
    query = query.where(bands.c.run == run).group_by(decision)
    rows = connection.execute(query)
    return {cast("BandDecision", name): count for name, count in rows}


def until(connection: Connection, run: int, listing: int) -> int:
    """Bands of a run that are of listings up to a ``seq`` [count]."""
    query = select(func.count()).where(bands.c.run == run, bands.c.listing <= listing)
    return connection.execute(query).scalar_one()


def let_move(connection: Connection, run: int, places: Collection[Place]) -> None:
    """Let bands in review move as if they were to be raised or lowered."""
    _set_moves(connection, run, places, moves=True)


def let_stay(connection: Connection, run: int, places: Collection[Place]) -> None:
    """Let bands in review stay again."""
    _set_moves(connection, run, places, moves=False)


def _set_moves(
    connection: Connection, run: int, places: Collection[Place], *, moves: bool
) -> None:
    found = at_places(connection, run, places).values()
    rows = [{"number": one.band} for one in found if one.decision == "review"]
    if not rows:
        return
    sku = select(here.c.listing).where(here.c.id == bindparam("number"))
    change = update(bands).where(
        bands.c.run == run,
        bands.c.listing == sku.scalar_subquery(),
        bands.c.band == bindparam("number"),
    )
    connection.execute(change.values(moves=moves), rows)


def _listings(run: int, wanted: BandFilter, asked: Page) -> Select[tuple[int]]:
    has = select(bands.c.band).where(
        bands.c.run == run, bands.c.listing == listings.c.seq
    )
    if wanted.decision is not None:
        has = has.join(cases, _OF_ITS_CASE).where(_decided(wanted.decision))
    query = select(listings.c.seq).where(has.exists())
    if wanted.sku is not None:
        query = query.where(listings.c.sku == wanted.sku)
    sku = listings.c.sku
    if asked.past is not None:
        last = asked.past.sku
        query = query.where(sku <= last if asked.newer else sku >= last)
    # One more than is asked for: the first one may have nothing left past the place.
    query = query.order_by(sku.desc() if asked.newer else sku)
    return query.limit(asked.limit + 1)


def _decided(decision: BandDecision) -> ColumnElement[bool]:
    return literal(decision) == _DECISION


def _named(skus: Collection[str]) -> Select[tuple[int]]:
    return select(listings.c.seq).where(listings.c.sku.in_(skus))


def _beyond(past: Place, *, newer: bool) -> ColumnElement[Any]:
    sku, size = listings.c.sku, specs.c.size_from
    if newer:
        further = and_(sku == past.sku, size < past.size_from)
        return or_(sku < past.sku, further)
    return or_(sku > past.sku, and_(sku == past.sku, size > past.size_from))
