"""Prices made ready for a run, so many bands at a time.

Nothing here changes a price in force. What was in force goes into the slot ``price``
with its run, and what the run wants into the slot ``next``; while the run is not
applied, the former counts.

References:
    [1] Measured on both databases, each row written once: on SQLite an upsert by the
        row's id is 1.3 to 2 times as fast as UPDATE … FROM, which gathers and sorts
        what it will change; on PostgreSQL UPDATE … FROM is the fastest form.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Select,
    Update,
    and_,
    func,
    select,
    update,
)
from sqlalchemy.dialects import sqlite

from api.db.listing_tables import listing_bands as there
from api.db.listing_tables import listings
from api.db.prices_in_force import applied_runs, run_in_force
from api.db.repricing_tables import repricing_bands as bands
from api.db.repricing_tables import repricings


def apply_chunk(
    connection: Connection, run: int, *, after: int, size: int, at: datetime
) -> int | None:
    """Make ready the next bands, from whole listings; the last listing's ``seq``."""
    last = _last(connection, run, after, size)
    if last is None:
        return None
    going = (repricings.c.seq == run) & (repricings.c.status == "applying")
    reached = update(repricings).where(going).values(reached=last, reached_at=at)
    since = connection.execute(
        reached.returning(repricings.c.listings_rev)
    ).scalar_one_or_none()
    if since is None:
        return None
    part = _part(run, after, last) & bands.c.moves & _unedited(since)
    if connection.dialect.name == "sqlite":
        connection.execute(readying_on_sqlite(run, part))
    else:
        connection.execute(readying_on_postgresql(run, part))
    return last


def clear_chunk(
    connection: Connection, run: int, *, after: int, size: int
) -> int | None:
    """Take back what was made ready for a run that is not in force."""
    last = _last(connection, run, after, size)
    over = (repricings.c.seq == run) & repricings.c.status.in_(("preview", "undone"))
    still = select(repricings.c.seq).where(over)
    if last is None or connection.execute(still).first() is None:
        return None
    ready = and_(
        there.c.next_run == run, there.c.listing > after, there.c.listing <= last
    )
    earlier = and_(
        bands.c.run == there.c.price_run,
        bands.c.listing == there.c.listing,
        bands.c.band == there.c.id,
        bands.c.moves,
        bands.c.new_price == there.c.price,
        bands.c.run.in_(applied_runs()),
    )
    # Where an earlier run's price is in force, what was before it is on record.
    back = update(there).where(ready, earlier)
    back = back.values(
        price=bands.c.old_price,
        price_run=None,
        next_price=there.c.price,
        next_run=there.c.price_run,
    )
    connection.execute(back)
    emptied = update(there).where(ready).values(next_price=None, next_run=None)
    connection.execute(emptied)
    return last


def readying_on_sqlite(run: int, part: ColumnElement[bool]) -> sqlite.Insert:
    """Every row is there already, so that each is changed and none is added [1].

    No listing of the part was edited since the preview, so its bands are there, and
    their price in force is the one that the preview saw.
    """
    seen = select(
        bands.c.band,
        bands.c.listing,
        bands.c.spec,
        bands.c.locked,
        bands.c.old_price,
        bands.c.new_price,
        bands.c.run,
    ).where(part)
    columns = ("id", "listing", "spec", "locked", "price", "next_price", "next_run")
    ready = sqlite.insert(there).from_select(columns, seen)
    return ready.on_conflict_do_update(
        index_elements=[there.c.id],
        set_={
            "price": ready.excluded.price,
            "price_run": run_in_force(),
            "next_price": ready.excluded.next_price,
            "next_run": run,
        },
    )


def readying_on_postgresql(run: int, part: ColumnElement[bool]) -> Update:
    """Each band changed in its place [1]."""
    change = update(there).where(there.c.id == bands.c.band, part)
    return change.values(
        price=bands.c.old_price,
        price_run=run_in_force(),
        next_price=bands.c.new_price,
        next_run=run,
    )


def _part(run: int, after: int, last: int) -> ColumnElement[bool]:
    return and_(bands.c.run == run, bands.c.listing > after, bands.c.listing <= last)


def _unedited(since: int) -> ColumnElement[bool]:
    edited = select(listings.c.seq).where(listings.c.changed_rev > since)
    return bands.c.listing.not_in(edited)


def _last(connection: Connection, run: int, after: int, size: int) -> int | None:
    """The listing that completes a chunk; None where nothing is left."""
    rest: Select[Any] = select(bands.c.listing)
    rest = rest.where(bands.c.run == run, bands.c.listing > after)
    nth = rest.order_by(bands.c.listing).offset(size - 1).limit(1)
    last: int | None = connection.execute(nth).scalar_one_or_none()
    if last is not None:
        return last
    end = select(func.max(bands.c.listing))
    end = end.where(bands.c.run == run, bands.c.listing > after)
    furthest: int | None = connection.execute(end).scalar_one()
    return furthest
