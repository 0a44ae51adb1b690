"""What feeds need from outside: a store, a log, somebody to ask, somebody to read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Protocol

from api.ports.feeds import Feed, FeedRow, Fetched, FetchRecord

if TYPE_CHECKING:
    from pricing.spot_guard import Reading

Check = Callable[[bytes, str], object]
"""Raises FeedFailed for a body, of a content type, that holds nothing of use."""


class FeedStore(Protocol):
    """The feeds of the workshop, and their secrets apart from them."""

    def all(self) -> tuple[FeedRow, ...]:
        """Every feed, by key."""
        ...

    def get(self, key: str) -> FeedRow | None: ...  # noqa: D102
    def add(self, row: FeedRow) -> None:
        """Store a new feed. Raises Conflict where the key is in use."""
        ...

    def replace(self, row: FeedRow, *, expected: int) -> bool:
        """Whether the feed was there at revision ``expected`` and is replaced."""
        ...

    def remove(self, key: str, *, expected: int) -> bool:
        """Whether the feed was there at revision ``expected``; it and its secrets go.

        What it fetched stays.
        """
        ...

    def secrets(self, key: str) -> Mapping[str, str]:
        """The secret headers of a feed by name; for the fetcher and nobody else."""
        ...

    def set_secrets(self, key: str, secrets: Mapping[str, str]) -> None:
        """Replace all secret headers of a feed."""
        ...


class FetchLog(Protocol):
    """Every asking of a feed, never changed."""

    def add(self, record: FetchRecord) -> FetchRecord:
        """The record with the id it was given; ids rise."""
        ...

    def last(self, feed: str, *, limit: int) -> tuple[FetchRecord, ...]:
        """Newest first, at most ``limit``."""
        ...


class Fetcher(Protocol):
    """Asks other machines, safely and within a time limit."""

    def fetch(
        self,
        url: str,
        headers: Mapping[str, str],
        *,
        secret_names: tuple[str, ...],
        check: Check | None = None,
    ) -> Fetched:
        """What ``url`` answers. Raises FeedFailed.

        The values of ``secret_names`` are sent and kept nowhere. What ``check``
        refuses is not kept for later askings.
        """
        ...


class FeedReader(Protocol):
    """Finds the prices in what a feed answered."""

    def __call__(
        self, feed: Feed, body: bytes, content_type: str
    ) -> tuple[Reading, ...]:
        """One reading, or one a currency of a file of reference rates.

        Raises FeedFailed, whatever the bytes.
        """
        ...
