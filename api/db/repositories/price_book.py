"""Price book versions: added, read, never changed."""

from __future__ import annotations

from sqlalchemy import Connection, insert, select

from api.db.mapping import book_values, book_version, stored_book
from api.db.tables import price_book_versions as versions
from api.ports import BookVersion, StoredBook


class BookRepository:
    """The price book versions of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def newest(self) -> StoredBook | None:
        """The version in force, or None before the first one."""
        query = select(versions).order_by(versions.c.version.desc()).limit(1)
        row = self._connection.execute(query).one_or_none()
        return None if row is None else stored_book(row)

    def version(self, number: int) -> StoredBook | None:
        """The version of this number, or None."""
        query = select(versions).where(versions.c.version == number)
        row = self._connection.execute(query).one_or_none()
        return None if row is None else stored_book(row)

    def versions(self) -> tuple[BookVersion, ...]:
        """All versions, newest first, without their documents."""
        table = versions.c
        columns = (table.version, table.created_at, table.created_by, table.note)
        rows = self._connection.execute(select(*columns).order_by(table.version.desc()))
        return tuple(book_version(row) for row in rows)

    def add(self, book: StoredBook) -> None:
        """Store a version."""
        self._connection.execute(insert(versions), book_values(book))
