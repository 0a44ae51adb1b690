"""A fetcher that is made when it is first asked: what it takes is slow to import.

Most commands never fetch, and pricing never does.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

from api.outbound.addresses import Network
from api.ports import Fetched
from api.ports.feed_protocols import Check

if TYPE_CHECKING:
    from api.feeds.fetcher import CachedFetcher


class FetcherOnDemand:
    """Asks feeds as `CachedFetcher` does, and costs nothing before that.

    Args:
        file: where answers are kept, disposable; None keeps them in memory.
        networks: private networks in which feeds may lie.
        plain_http: whether feeds may be asked without encryption.
    """

    def __init__(
        self,
        file: Path | None = None,
        *,
        networks: tuple[Network, ...] = (),
        plain_http: bool = False,
    ) -> None:
        self._file = file
        self._networks = networks
        self._plain_http = plain_http
        self._made: CachedFetcher | None = None
        self._making = Lock()

    def fetch(
        self,
        url: str,
        headers: Mapping[str, str],
        *,
        secret_names: tuple[str, ...],
        check: Check | None = None,
    ) -> Fetched:
        """What ``url`` answers, or answered lately. Raises FeedFailed."""
        return self._fetcher().fetch(
            url, headers, secret_names=secret_names, check=check
        )

    def _fetcher(self) -> CachedFetcher:
        with self._making:  # callers share what is under way, so there is one
            if self._made is None:
                self._made = self._make()
            return self._made

    def _make(self) -> CachedFetcher:
        fetcher = import_module("api.feeds.fetcher")
        reach = import_module("api.outbound.safe_http").Reach
        made: CachedFetcher = fetcher.CachedFetcher(
            fetcher.Keeping(file=self._file),
            reach=reach(networks=self._networks, plain_http=self._plain_http),
        )
        return made
