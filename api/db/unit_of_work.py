"""One transaction with its repositories; rolled back unless committed.

Transaction rule: a service commits by returning from its use case, nothing else
does, and any exception rolls back. A new unit is made for each use.
"""

from __future__ import annotations

from types import TracebackType
from typing import Any, Self

from sqlalchemy import Connection, Engine

from api.db.engine import WRITES
from api.db.repositories import (
    BookRepository,
    CoinRepository,
    FeedRepository,
    FetchRepository,
    KeyRepository,
    RevisionRepository,
    SpotRepository,
)

_OPTIONS: dict[tuple[str, bool], dict[str, Any]] = {
    ("sqlite", False): {WRITES: False},
    ("sqlite", True): {WRITES: True},
    ("postgresql", False): {
        "isolation_level": "REPEATABLE READ",
        "postgresql_readonly": True,
    },
    ("postgresql", True): {"isolation_level": "SERIALIZABLE"},
}


class SqlUnitOfWork:
    """A transaction as a context manager.

    On SQLite a writing unit takes the write lock as it begins, so that what it
    reads stays true until it commits; on PostgreSQL it is SERIALIZABLE. A
    reading unit sees one consistent state on both.
    """

    def __init__(self, engine: Engine, *, writes: bool) -> None:
        self._engine = engine
        self._options = _OPTIONS[engine.dialect.name, writes]

    def __enter__(self) -> Self:
        self._connection: Connection = self._engine.connect()
        try:
            self._connection.execution_options(**self._options)
            self._transaction = self._connection.begin()
        except BaseException:
            self._connection.close()
            raise
        self.revisions = RevisionRepository(self._connection)
        self.books = BookRepository(self._connection)
        self.coins = CoinRepository(self._connection)
        self.spots = SpotRepository(self._connection)
        self.feeds = FeedRepository(self._connection)
        self.fetches = FetchRepository(self._connection)
        self.keys = KeyRepository(self._connection)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._connection.close()  # rolls back whatever is still open

    def commit(self) -> None:
        """Keep what was done; nothing more can be done in this unit."""
        self._transaction.commit()
