"""What has changed since a run was previewed or applied."""

from __future__ import annotations

from sqlalchemy import Connection, and_, or_, select

from api.db.listing_tables import listing_bands as there
from api.db.listing_tables import listing_specs as specs
from api.db.listing_tables import listings
from api.db.repricing_tables import repricing_bands as bands
from api.db.repricing_tables import repricings
from api.ports import Place, Repricing
from pricing.money import tidy


def stands_against(
    connection: Connection, run: Repricing, limit: int
) -> tuple[str, ...]:
    """Skus of the run's listings whose preview no longer holds, in order."""
    found = {*_edited(connection, run, limit)}
    others = _switched(connection, run)
    if others:
        found |= {*_moved_by(connection, run, others, limit)}
    return tuple(sorted(found)[:limit])


def touched_since(connection: Connection, run: int, limit: int) -> tuple[Place, ...]:
    """Bands moved by an applied run that have changed since, in order."""
    query = (
        select(listings.c.sku, specs.c.size_from)
        .join_from(bands, listings, listings.c.seq == bands.c.listing)
        .join(specs, specs.c.id == bands.c.spec)
        .outerjoin(there, there.c.id == bands.c.band)
        .where(
            bands.c.run == run,
            bands.c.moves,
            listings.c.removed_at.is_(None),
            there.c.next_run.is_distinct_from(run),
        )
        .order_by(listings.c.sku, specs.c.size_from)
        .limit(limit)
    )
    rows = connection.execute(query)
    return tuple(Place(row.sku, tidy(row.size_from)) for row in rows)


def _edited(connection: Connection, run: Repricing, limit: int) -> list[str]:
    edited = listings.c.changed_rev > run.listings_rev
    # Most often none is, as the index knows; else all the bands would be gone through.
    first = select(listings.c.seq).where(edited).limit(1)
    if connection.execute(first).first() is None:
        return []
    has = select(bands.c.band).where(
        bands.c.run == run.seq, bands.c.listing == listings.c.seq
    )
    query = select(listings.c.sku).where(edited, has.exists())
    query = query.order_by(listings.c.sku).limit(limit)
    return [*connection.execute(query).scalars()]


def _switched(connection: Connection, run: Repricing) -> list[int]:
    """Other runs applied or undone since the preview; seldom any."""
    since = run.listings_rev
    query = select(repricings.c.seq).where(
        repricings.c.seq != run.seq,
        or_(repricings.c.applied_rev > since, repricings.c.undone_rev > since),
    )
    return [*connection.execute(query).scalars()]


def _moved_by(
    connection: Connection, run: Repricing, others: list[int], limit: int
) -> list[str]:
    other = bands.alias("other")
    same = and_(
        other.c.listing == bands.c.listing,
        other.c.band == bands.c.band,
        other.c.run.in_(others),
        other.c.moves,
    )
    query = (
        select(listings.c.sku)
        .distinct()
        .join_from(bands, other, same)
        .join(listings, listings.c.seq == bands.c.listing)
        .where(bands.c.run == run.seq)
        .order_by(listings.c.sku)
        .limit(limit)
    )
    return [*connection.execute(query).scalars()]
