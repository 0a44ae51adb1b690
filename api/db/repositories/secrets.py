"""Random secrets of this installation."""

from __future__ import annotations

from sqlalchemy import Connection, select

from api.db.repositories.upserts import add_unless_there
from api.db.tables import secrets


class SecretRepository:
    """The secrets of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def get(self, name: str) -> str | None:
        """The secret of this name, or None."""
        query = select(secrets.c.value).where(secrets.c.name == name)
        found: str | None = self._connection.execute(query).scalar_one_or_none()
        return found

    def add(self, name: str, value: str) -> bool:
        """Whether it is kept; False where there was one already."""
        row: dict[str, object] = {"name": name, "value": value}
        return add_unless_there(self._connection, secrets, row)
