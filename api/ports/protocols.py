"""What the services need from outside: the time, and a storage with transactions."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from typing import Protocol, TypeVar

from api.ports.feed_protocols import FeedStore, FetchLog
from api.ports.hooks import HookStore
from api.ports.job_store import JobStore
from api.ports.keeping import AuditLog, ReplayStore, SecretStore
from api.ports.listing_store import ListingStore
from api.ports.margin_checks import MarginCheckStore
from api.ports.quotes import QuoteStore
from api.ports.repricing_store import RepricingStore
from api.ports.sessions import SessionStore, SignInStore
from api.ports.signing import SigningKeyStore
from api.ports.values import (
    BookVersion,
    Close,
    CoinRow,
    Counted,
    Decision,
    Part,
    Readiness,
    Revisions,
    Series,
    SpotEntry,
    SpotStatus,
    StoredBook,
    StoredKey,
)

T = TypeVar("T")


class Clock(Protocol):
    """The time of day."""

    def now(self) -> datetime:
        """The present instant, in UTC."""
        ...


class RevisionStore(Protocol):
    """The counters that tell whether a part held in memory is still true."""

    def all(self) -> Revisions:
        """Every counter."""
        ...

    def bump(self, part: Part, *, expected: int | None = None) -> int | None:
        """Count one change and return the new count; None if not at ``expected``."""
        ...


class BookStore(Protocol):
    """Price book versions; none is ever changed or removed."""

    def newest(self) -> StoredBook | None: ...  # noqa: D102 - the name says it
    def version(self, number: int) -> StoredBook | None: ...  # noqa: D102
    def versions(self) -> tuple[BookVersion, ...]:
        """All versions, newest first."""
        ...

    def add(self, book: StoredBook) -> None: ...  # noqa: D102


class CoinStore(Protocol):
    """The workshop's own coins."""

    def all(self) -> tuple[CoinRow, ...]: ...  # noqa: D102
    def get(self, key: str) -> CoinRow | None: ...  # noqa: D102
    def add(self, row: CoinRow) -> None:
        """Store a new coin. Raises Conflict where the key is in use."""
        ...

    def replace(self, row: CoinRow, *, expected: int) -> bool:
        """Whether the coin was there at revision ``expected`` and is replaced."""
        ...

    def remove(self, key: str, *, expected: int) -> bool:
        """Whether the coin was there at revision ``expected`` and is gone."""
        ...


class SpotStore(Protocol):
    """Recorded prices; none is changed or removed, but a held one is decided."""

    def add(self, entry: SpotEntry) -> SpotEntry:
        """The entry with the id it was given; ids rise."""
        ...

    def get(self, entry_id: int) -> SpotEntry | None: ...  # noqa: D102
    def candidates(self, now: datetime) -> tuple[SpotEntry, ...]:
        """What can be in force from ``now`` on, newest entry first.

        Of each metal and currency that is every accepted entry that expires
        later, and of those that never do the newest by ``as_of`` and the last
        that was entered by hand.
        """
        ...

    def history(
        self,
        metal: str,
        *,
        limit: int,
        before: int | None,
        status: SpotStatus | None = None,
    ) -> tuple[SpotEntry, ...]:
        """Newest first, at most ``limit``, with ids under ``before``."""
        ...

    def decide(self, entry_id: int, decision: Decision) -> bool:
        """Whether the entry was there and held, and is decided now."""
        ...

    def newest(self, series: Series) -> SpotEntry | None:
        """The newest accepted entry by ``as_of``."""
        ...

    def recorded(
        self, series: Series, *, as_of: datetime, price: Decimal
    ) -> SpotEntry | None:
        """The last entry of that very moment and price, whatever became of it."""
        ...

    def unmoved_since(self, series: Series, price: Decimal) -> datetime | None:
        """Since when every accepted entry has this price; None if the last has not."""
        ...

    def closes(self, metal: str, *, since: datetime) -> tuple[Close, ...]:
        """The last accepted price of each day (UTC) and currency, oldest first."""
        ...


class KeyStore(Protocol):
    """Access keys; revoked ones stay."""

    def all(self) -> tuple[StoredKey, ...]: ...  # noqa: D102
    def add(self, key: StoredKey) -> None: ...  # noqa: D102
    def revoke(self, key_id: str, *, when: datetime) -> bool:
        """Whether there was such a key, in use, and it is revoked now."""
        ...

    def touch(self, key_id: str, *, when: datetime) -> None:
        """Record a use, unless a later one is recorded."""
        ...


class UnitOfWork(Protocol):
    """One transaction; what is not committed is rolled back."""

    @property
    def revisions(self) -> RevisionStore: ...  # noqa: D102
    @property
    def books(self) -> BookStore: ...  # noqa: D102
    @property
    def coins(self) -> CoinStore: ...  # noqa: D102
    @property
    def spots(self) -> SpotStore: ...  # noqa: D102
    @property
    def feeds(self) -> FeedStore: ...  # noqa: D102
    @property
    def fetches(self) -> FetchLog: ...  # noqa: D102
    @property
    def keys(self) -> KeyStore: ...  # noqa: D102
    @property
    def quotes(self) -> QuoteStore: ...  # noqa: D102
    @property
    def listings(self) -> ListingStore: ...  # noqa: D102
    @property
    def jobs(self) -> JobStore: ...  # noqa: D102
    @property
    def margin_checks(self) -> MarginCheckStore: ...  # noqa: D102
    @property
    def repricings(self) -> RepricingStore: ...  # noqa: D102
    @property
    def replays(self) -> ReplayStore: ...  # noqa: D102
    @property
    def secrets(self) -> SecretStore: ...  # noqa: D102
    @property
    def hooks(self) -> HookStore: ...  # noqa: D102
    @property
    def signing_keys(self) -> SigningKeyStore: ...  # noqa: D102
    @property
    def sessions(self) -> SessionStore: ...  # noqa: D102
    @property
    def sign_in(self) -> SignInStore: ...  # noqa: D102
    @property
    def audit(self) -> AuditLog: ...  # noqa: D102


class Storage(Protocol):
    """Runs whole use cases as transactions. All raise StorageUnavailable."""

    def revisions(self) -> Revisions:
        """Every counter, by one small query outside any transaction."""
        ...

    def read(self, work: Callable[[UnitOfWork], T]) -> T:
        """What ``work`` returns, on one consistent view; nothing is kept."""
        ...

    def write(
        self,
        work: Callable[[UnitOfWork], T],
        *,
        wait: bool = True,
        beside: bool = False,
    ) -> T:
        """What ``work`` returns, committed; rolled back if it raises.

        ``work`` may run several times and must decide anew each time. With
        ``wait`` false it runs once and never waits for another writer. With
        ``beside`` true it takes long, and a writer that collided and goes alone need
        not wait for it: both may collide only if they write the same rows.
        """
        ...

    def count(
        self, partition: str, *, window: int, limit: int, number: int = 1
    ) -> Counted | None:
        """Count more requests of ``partition`` in a window; how many now [count].

        It tells every revision as well, so that who counts need not ask. Many may
        count at once, each gets numbers of its own, and none is refused for another's
        sake. A loss of power may take the last. Those of the day before are forgotten.

        Args:
            partition: whose requests: the policy's name and who asks, hashed.
            window: when the window began [s since 1970].
            limit: how many there may be in a window [count].
            number: how many more [count].

        Returns:
            None, with nothing counted, where there would be more than the limit.
        """
        ...

    def uncount(self, partition: str, *, window: int, number: int) -> None:
        """Take back requests that were counted and never made [count]."""
        ...

    def readiness(self) -> Readiness:
        """Whether the storage can serve, found out without waiting."""
        ...
