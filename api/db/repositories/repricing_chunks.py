"""Prices made ready for a run, so many bands at a time.

Nothing here changes a price in force. What was in force goes into the slot ``price``
with its run, and what the run wants into the slot ``next``; while the run is not
applied, the former counts.

References:
    [1] Measured on both databases. SQLite writes a row with an upsert by its id in
        half to all of the time of UPDATE … FROM, which gathers and sorts first what
        it will change. PostgreSQL is quickest where the listings' bands are read
        through, each looking up its case among the few, rather than its row among as
        many.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Select,
    Table,
    Update,
    and_,
    func,
    select,
    update,
)
from sqlalchemy.dialects import sqlite

from api.db.listing_tables import listing_bands as there
from api.db.listing_tables import listings
from api.db.mapping import Values
from api.db.prices_in_force import applied_runs, price_in_force, run_in_force
from api.db.repricing_mapping import NOBODY
from api.db.repricing_tables import repricing_bands as bands
from api.db.repricing_tables import repricing_cases as cases
from api.db.repricing_tables import repricings
from api.ports import Repricing

_Part = Callable[[ColumnElement[int]], ColumnElement[bool]]


def apply_chunk(
    connection: Connection, run: int, *, after: int, size: int, at: datetime
) -> int | None:
    """Make ready the next bands, from whole listings; the last listing's ``seq``."""
    last = _last(connection, run, after, size)
    if last is None:
        return None
    going = (repricings.c.seq == run) & (repricings.c.status == "applying")
    reached = update(repricings).where(going).values(reached=last, reached_at=at)
    whole = and_(repricings.c.skus.is_(None), repricings.c.named == NOBODY)
    told = reached.returning(repricings.c.listings_rev, whole.label("whole"))
    row = connection.execute(told).one_or_none()
    if row is None:
        return None
    part = partial(_slice, after=after, last=last, since=row.listings_rev)
    _make_ready(connection, run, part, whole=row.whole)
    return last


def make_all_ready(connection: Connection, run: Repricing) -> None:
    """Make every band ready that the run moves."""
    whole = run.skus is None and not run.named
    part = partial(_unedited, since=run.listings_rev)
    _make_ready(connection, run.seq, part, whole=whole)


def _make_ready(connection: Connection, run: int, part: _Part, *, whole: bool) -> None:
    if connection.dialect.name == "sqlite":
        connection.execute(readying_on_sqlite(run, part(bands.c.listing)))
    elif whole:
        connection.execute(readying_by_cases(run, part(there.c.listing)))
    else:
        connection.execute(readying_by_bands(run, part(bands.c.listing)))


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
        price_run=bands.c.old_run,
        next_price=there.c.price,
        next_run=there.c.price_run,
    )
    connection.execute(back)
    emptied = update(there).where(ready).values(next_price=None, next_run=None)
    connection.execute(emptied)
    return last


def slice_of_bands(after: int, last: int, since: int) -> ColumnElement[bool]:
    """A run's bands of some listings, if these were not edited since a count."""
    return _slice(bands.c.listing, after=after, last=last, since=since)


def slice_of_listings(after: int, last: int, since: int) -> ColumnElement[bool]:
    """All bands of some listings, if these were not edited since a count."""
    return _slice(there.c.listing, after=after, last=last, since=since)


def readying_on_sqlite(run: int, part: ColumnElement[bool]) -> sqlite.Insert:
    """Every band that the run moves, by its id [1].

    Each is there already, so that it is changed and none is added: a band goes only
    with an edit of its listing, and the part has no listing that was edited.
    """
    moving = select(
        bands.c.band,
        bands.c.listing,
        bands.c.spec,
        bands.c.locked,
        bands.c.old_price,
        bands.c.old_run,
        bands.c.new_price,
        bands.c.run,
    ).where(bands.c.run == run, bands.c.moves, part)
    slots = ("price", "price_run", "next_price", "next_run")
    given = ("id", "listing", "spec", "locked", *slots)
    ready = sqlite.insert(there).from_select(given, moving)
    return ready.on_conflict_do_update(
        index_elements=[there.c.id],
        set_={name: ready.excluded[name] for name in slots},
    )


def readying_by_bands(run: int, part: ColumnElement[bool]) -> Update:
    """Every band that the run moves, by its id [1].

    No listing of the part was edited since the preview, so that the price in force is
    still the one it saw.
    """
    change = update(there).where(
        there.c.id == bands.c.band, bands.c.run == run, bands.c.moves, part
    )
    return change.values(_ready(run, bands, bands.c.old_run))


def readying_by_cases(run: int, part: ColumnElement[bool]) -> Update:
    """The same bands, found anew by spec and price [1].

    For a run over all listings, with nothing named. It finds what the preview found,
    as no listing of the part was added or edited since.
    """
    change = update(there).where(
        cases.c.run == run,
        cases.c.spec == there.c.spec + 0,  # not by the index, as in the preview
        cases.c.old_price == price_in_force(),
        cases.c.moves,
        there.c.locked.is_(other=False),
        part,
    )
    return change.values(_ready(run, cases, run_in_force()))


def _ready(run: int, source: Table, old_run: ColumnElement[int | None]) -> Values:
    return {
        "price": source.c.old_price,
        "price_run": old_run,
        "next_price": source.c.new_price,
        "next_run": run,
    }


def _slice(
    listing: ColumnElement[int], *, after: int, last: int, since: int
) -> ColumnElement[bool]:
    return and_(listing > after, listing <= last, _unedited(listing, since=since))


def _unedited(listing: ColumnElement[int], *, since: int) -> ColumnElement[bool]:
    edited = select(listings.c.seq).where(listings.c.changed_rev > since)
    return listing.not_in(edited)


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
