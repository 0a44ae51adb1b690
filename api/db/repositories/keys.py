"""Access keys; a revoked one stays on record."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Connection, insert, or_, select, update

from api.db.mapping import key_values, stored_key
from api.db.tables import api_keys as keys
from api.ports import StoredKey


class KeyRepository:
    """The access keys of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def all(self) -> tuple[StoredKey, ...]:
        """Every key, oldest first."""
        query = select(keys).order_by(keys.c.created_at, keys.c.id)
        return tuple(stored_key(row) for row in self._connection.execute(query))

    def add(self, key: StoredKey) -> None:
        """Store a new key."""
        self._connection.execute(insert(keys), key_values(key))

    def revoke(self, key_id: str, *, when: datetime) -> bool:
        """Whether there was such a key, in use, and it is revoked now."""
        in_use = (keys.c.id == key_id) & keys.c.revoked_at.is_(None)
        change = update(keys).where(in_use).values(revoked_at=when)
        return self._connection.execute(change).rowcount == 1

    def touch(self, key_id: str, *, when: datetime) -> None:
        """Record a use, unless a later one is recorded."""
        last = keys.c.last_used_at
        older = (keys.c.id == key_id) & or_(last.is_(None), last < when)
        self._connection.execute(update(keys).where(older).values(last_used_at=when))
