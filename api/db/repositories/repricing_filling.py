"""Previews of many bands, filled so many at a time and seen only when whole.

While its status is ``filling`` a run is found by nothing that reads repricings, and
`prices_in_force` takes no price from it. What a process leaves when it ends in the
middle is dropped by a later preview, and so is one that nobody has applied for long:
it is turned back into what nobody sees first, so that none is ever seen in part.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Select, delete, func, or_, select, update

from api.db.listing_tables import listing_bands as here
from api.db.mapping import Values
from api.db.repositories.repricing_bands import filling
from api.db.repricing_mapping import repricing
from api.db.repricing_tables import repricing_bands as bands
from api.db.repricing_tables import repricing_cases as cases
from api.db.repricing_tables import repricings
from api.ports import Filled, Repricing

FILLING = "filling"
"""The status that no port names, since nobody sees such a run."""


def fill_chunk(
    connection: Connection, run: int, *, after: int, size: int, at: datetime
) -> Filled | None:
    """Give a run the next bands, of whole listings."""
    rest = select(here.c.listing).where(here.c.listing > after)
    last = _last(connection, rest, size)
    if last is None:
        return None
    going = (repricings.c.seq == run) & (repricings.c.status == FILLING)
    reached = update(repricings).where(going).values(reached=last, reached_at=at)
    if not connection.execute(reached).rowcount:
        return None
    part = (here.c.listing > after) & (here.c.listing <= last)
    # Asked for, as the count of an INSERT is else forgotten with its cursor.
    counted = filling(run, part).execution_options(preserve_rowcount=True)
    return Filled(reached=last, bands=connection.execute(counted).rowcount)


def end_filling(connection: Connection, run: int) -> Repricing | None:
    """The run as a preview; None unless it is being filled."""
    change = update(repricings).where(
        repricings.c.seq == run, repricings.c.status == FILLING
    )
    values: Values = {"status": "preview", "reached": 0, "reached_at": None}
    change = change.values(values).returning(*repricings.c)
    row = connection.execute(change).one_or_none()
    return None if row is None else repricing(row)


def expendable(
    connection: Connection, *, before: datetime, keep: int, limit: int
) -> tuple[Repricing, ...]:
    """Previews made before a moment, or not among the newest ones."""
    previews = select(repricings).where(repricings.c.status == "preview")
    newest = previews.with_only_columns(repricings.c.seq)
    newest = newest.order_by(repricings.c.seq.desc()).limit(keep)
    query = previews.where(
        or_(repricings.c.created_at < before, repricings.c.seq.not_in(newest))
    )
    query = query.order_by(repricings.c.seq).limit(limit)
    return tuple(map(repricing, connection.execute(query)))


def let_go(connection: Connection, runs: Collection[int], at: datetime) -> None:
    """Let previews be seen by nobody."""
    change = update(repricings).where(
        repricings.c.seq.in_(runs), repricings.c.status == "preview"
    )
    connection.execute(change.values(status=FILLING, reached_at=at))


def left_behind(connection: Connection, before: datetime) -> tuple[int, ...]:
    """Runs that have not been filled any further since a moment."""
    query = select(repricings.c.seq).where(
        repricings.c.status == FILLING, repricings.c.reached_at < before
    )
    return tuple(connection.execute(query.order_by(repricings.c.seq)).scalars())


def drop_chunk(connection: Connection, run: int, *, size: int) -> bool:
    """Drop the first bands of a run, or with the last of them all of it."""
    unseen = (repricings.c.seq == run) & (repricings.c.status == FILLING)
    # Whoever fills it, should that go on, is told that there is nothing to fill.
    ending = update(repricings).where(unseen).values(reached=repricings.c.reached)
    if not connection.execute(ending).rowcount:
        return False
    its = bands.c.run == run
    last = _last(connection, select(bands.c.listing).where(its), size)
    if last is not None:
        connection.execute(delete(bands).where(its, bands.c.listing <= last))
        return True
    connection.execute(delete(cases).where(cases.c.run == run))
    connection.execute(delete(repricings).where(unseen))
    return False


def _last(connection: Connection, rest: Select[Any], size: int) -> int | None:
    """The listing that completes a chunk; None where nothing is left."""
    [listing] = rest.selected_columns
    nth = rest.order_by(listing).offset(size - 1).limit(1)
    last: int | None = connection.execute(nth).scalar_one_or_none()
    if last is None:
        end = rest.with_only_columns(func.max(listing))
        last = connection.execute(end).scalar_one()
    return last
