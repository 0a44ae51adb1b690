"""Counts of requests in windows of time."""

from __future__ import annotations

from sqlalchemy import Connection, delete

from api.db.repositories.upserts import count_up
from api.db.tables import quotas


class QuotaRepository:
    """The counts of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def count(self, partition: str, *, window: int) -> int:
        """Count one more request of ``partition`` in a window; how many now [count]."""
        key: dict[str, object] = {"who": partition, "began": window}
        return count_up(self._connection, quotas.c.counted, key)

    def forget(self, *, before: int) -> None:
        """Drop windows that began before [s since 1970]."""
        self._connection.execute(delete(quotas).where(quotas.c.began < before))
