"""Answers already given."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Connection, delete, select

from api.db.keeping_mapping import answered, replay_values
from api.db.repositories.upserts import add_unless_there
from api.db.tables import replays
from api.ports import Answered, Once


class ReplayRepository:
    """The kept answers of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def find(self, once: Once, *, since: datetime) -> tuple[str, Answered] | None:
        """Fingerprint and answer under the same credential, operation and key."""
        query = select(replays).where(
            replays.c.credential == once.credential,
            replays.c.operation == once.operation,
            replays.c.key == once.key,
            replays.c.at >= since,
        )
        row = self._connection.execute(query).one_or_none()
        return None if row is None else (row.fingerprint, answered(row))

    def add(self, once: Once, answer: Answered, *, at: datetime) -> bool:
        """Whether the answer is kept; False where there is one, however old."""
        values = replay_values(once, answer, at)
        return add_unless_there(self._connection, replays, values)

    def forget(self, *, before: datetime) -> int:
        """Drop what is older; how many there were [count]."""
        old = delete(replays).where(replays.c.at < before)
        return self._connection.execute(old).rowcount
