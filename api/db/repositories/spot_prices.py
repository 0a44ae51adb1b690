"""Recorded spot prices: added, read, never changed."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from sqlalchemy import Connection, func, insert, or_, select

from api.db.mapping import spot_entry, spot_values
from api.db.tables import spot_prices as spots
from api.ports import SpotEntry


class SpotRepository:
    """The spot prices of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def add(self, entry: SpotEntry) -> SpotEntry:
        """The entry with the id it was given; ids rise."""
        added = insert(spots).values(**spot_values(entry)).returning(spots.c.id)
        return replace(entry, id=self._connection.execute(added).scalar_one())

    def candidates(self, now: datetime) -> tuple[SpotEntry, ...]:
        """What can be current from ``now`` on, newest first, all metals together."""
        other = spots.alias("other")
        lasting = (
            select(func.coalesce(func.max(other.c.id), 0))
            .where(other.c.metal == spots.c.metal, other.c.expires_at.is_(None))
            .scalar_subquery()
        )
        unexpired = or_(spots.c.expires_at.is_(None), spots.c.expires_at > now)
        query = (
            select(spots)
            .where(unexpired, spots.c.id >= lasting)
            .order_by(spots.c.id.desc())
        )
        return tuple(spot_entry(row) for row in self._connection.execute(query))

    def history(
        self, metal: str, *, limit: int, before: int | None
    ) -> tuple[SpotEntry, ...]:
        """Newest first, at most ``limit``, with ids under ``before``."""
        query = select(spots).where(spots.c.metal == metal)
        if before is not None:
            query = query.where(spots.c.id < before)
        query = query.order_by(spots.c.id.desc()).limit(limit)
        return tuple(spot_entry(row) for row in self._connection.execute(query))
