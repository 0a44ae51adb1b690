"""Keys that prices held for buyers are signed with."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Connection, insert, select, update

from api.db.tables import signing_keys
from api.ports.signing import SigningKey


class SigningKeyRepository:
    """The signing keys of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def all(self) -> tuple[SigningKey, ...]:
        """Every key, newest first."""
        newest = (signing_keys.c.created_at.desc(), signing_keys.c.kid)
        rows = self._connection.execute(select(signing_keys).order_by(*newest))
        return tuple(
            SigningKey(
                kid=row.kid,
                public=row.public,
                private=row.private,
                created_at=row.created_at,
                retired_at=row.retired_at,
            )
            for row in rows
        )

    def add(self, key: SigningKey) -> None:
        """Store a new key."""
        values = {
            "kid": key.kid,
            "public": key.public,
            "private": key.private,
            "created_at": key.created_at,
            "retired_at": key.retired_at,
        }
        self._connection.execute(insert(signing_keys).values(values))

    def retire(self, kid: str, *, at: datetime) -> bool:
        """Whether it was in use, and is retired now; its private half is gone."""
        table = signing_keys
        in_use = (table.c.kid == kid) & table.c.retired_at.is_(None)
        change = update(table).where(in_use).values(retired_at=at, private=None)
        return self._connection.execute(change).rowcount == 1
