"""The feeds of the workshop; secrets lie in a table of their own."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import Connection, delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from api.db.mapping import feed_row, feed_values
from api.db.tables import feed_secrets as kept
from api.db.tables import feeds
from api.ports import Conflict, FeedRow


class FeedRepository:
    """The feeds of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def all(self) -> tuple[FeedRow, ...]:
        """Every feed, by key."""
        rows = self._connection.execute(select(feeds))
        return tuple(sorted((feed_row(row) for row in rows), key=_key))

    def get(self, key: str) -> FeedRow | None:
        """The feed of this key, or None."""
        query = select(feeds).where(feeds.c.key == key)
        row = self._connection.execute(query).one_or_none()
        return None if row is None else feed_row(row)

    def add(self, row: FeedRow) -> None:
        """Store a new feed. Raises Conflict where the key is in use."""
        try:
            self._connection.execute(insert(feeds), feed_values(row))
        except IntegrityError as error:
            raise Conflict(
                f"there is a feed '{row.key}' already; "
                "change that one, or use another key"
            ) from error

    def replace(self, row: FeedRow, *, expected: int) -> bool:
        """Whether the feed was there at revision ``expected`` and is replaced."""
        here = (feeds.c.key == row.key) & (feeds.c.revision == expected)
        change = update(feeds).where(here).values(**feed_values(row))
        return self._connection.execute(change).rowcount == 1

    def remove(self, key: str, *, expected: int) -> bool:
        """Whether the feed was there at revision ``expected``; its secrets go too."""
        here = (feeds.c.key == key) & (feeds.c.revision == expected)
        there = select(feeds.c.key).where(here)
        self._connection.execute(delete(kept).where(kept.c.feed.in_(there)))
        return self._connection.execute(delete(feeds).where(here)).rowcount == 1

    def secrets(self, key: str) -> Mapping[str, str]:
        """The secret headers of a feed by name."""
        query = select(kept).where(kept.c.feed == key).order_by(kept.c.name)
        rows = self._connection.execute(query)
        return {row.name: row.value for row in rows}

    def set_secrets(self, key: str, secrets: Mapping[str, str]) -> None:
        """Replace all secret headers of a feed."""
        self._connection.execute(delete(kept).where(kept.c.feed == key))
        rows = [{"feed": key, "name": n, "value": v} for n, v in secrets.items()]
        if rows:
            self._connection.execute(insert(kept), rows)


def _key(row: FeedRow) -> str:
    return row.key
