"""One transaction with its repositories; rolled back unless committed.

Transaction rule: a service commits by returning from its use case, nothing else
does, and any exception rolls back. A new unit is made for each use.
"""

from __future__ import annotations

from types import TracebackType
from typing import Any, Literal, Self

from sqlalchemy import Connection, Engine, text

from api.db.engine import WRITES
from api.db.repositories import (
    AuditRepository,
    BookRepository,
    CoinRepository,
    FeedRepository,
    FetchRepository,
    HookRepository,
    JobRepository,
    KeyRepository,
    ListingRepository,
    MarginCheckRepository,
    QuoteRepository,
    ReplayRepository,
    RepricingRepository,
    RevisionRepository,
    SecretRepository,
    SessionRepository,
    SigningKeyRepository,
    SignInRepository,
    SpotRepository,
)

Kind = Literal["read", "write"]

_OPTIONS: dict[tuple[str, Kind], dict[str, Any]] = {
    ("sqlite", "read"): {WRITES: False},
    ("sqlite", "write"): {WRITES: True},
    ("postgresql", "read"): {
        "isolation_level": "REPEATABLE READ",
        "postgresql_readonly": True,
    },
    ("postgresql", "write"): {"isolation_level": "SERIALIZABLE"},
}


class SqlUnitOfWork:
    """A transaction as a context manager.

    On SQLite a writing unit takes the write lock as it begins, so that what it
    reads stays true until it commits; on PostgreSQL it is SERIALIZABLE. A
    reading unit sees one consistent state on both.
    """

    def __init__(self, engine: Engine, kind: Kind) -> None:
        self._engine = engine
        self._options = _OPTIONS[engine.dialect.name, kind]

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
        self.quotes = QuoteRepository(self._connection)
        self.listings = ListingRepository(self._connection)
        self.jobs = JobRepository(self._connection)
        self.margin_checks = MarginCheckRepository(self._connection)
        self.repricings = RepricingRepository(self._connection)
        self.replays = ReplayRepository(self._connection)
        self.secrets = SecretRepository(self._connection)
        self.hooks = HookRepository(self._connection)
        self.signing_keys = SigningKeyRepository(self._connection)
        self.sessions = SessionRepository(self._connection)
        self.sign_in = SignInRepository(self._connection)
        self.audit = AuditRepository(self._connection)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._connection.close()  # rolls back whatever is still open

    def queue(self, *, alone: bool) -> None:
        """Go ahead beside other writers, or wait for them and then keep them out.

        For PostgreSQL, and before anything else is done: a lock taken first leaves
        the view of the data to be taken after the wait. Readers are not held up.
        """
        mode = "SHARE ROW EXCLUSIVE" if alone else "ROW EXCLUSIVE"
        self._connection.execute(text(f"LOCK TABLE revisions IN {mode} MODE"))

    def commit(self) -> None:
        """Keep what was done; nothing more can be done in this unit."""
        self._transaction.commit()
