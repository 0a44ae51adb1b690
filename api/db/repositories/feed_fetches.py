"""Every asking of a feed: added, read, never changed."""

from __future__ import annotations

from dataclasses import replace

from sqlalchemy import Connection, insert, select

from api.db.mapping import fetch_record, fetch_values
from api.db.tables import feed_fetches as fetches
from api.ports import FetchRecord


class FetchRepository:
    """The fetches of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def add(self, record: FetchRecord) -> FetchRecord:
        """The record with the id it was given; ids rise."""
        added = insert(fetches).values(**fetch_values(record))
        done = self._connection.execute(added.returning(fetches.c.id))
        return replace(record, id=done.scalar_one())

    def last(self, feed: str, *, limit: int) -> tuple[FetchRecord, ...]:
        """Newest first, at most ``limit``."""
        query = select(fetches).where(fetches.c.feed == feed)
        query = query.order_by(fetches.c.id.desc()).limit(limit)
        return tuple(fetch_record(row) for row in self._connection.execute(query))
