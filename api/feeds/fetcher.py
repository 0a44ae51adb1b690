"""Asking feeds, with a memory: what was fetched lately is not fetched again.

The life of one fetch: callers who ask for the same at the same time share one
(``flights``); the caching session looks into its file (``cache_file``); only then
the feed itself is asked, beneath the cache, and its answer judged there
(``upstream``), so that a bad one is never kept over a good one.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import requests
from requests_cache import CachedSession
from requests_cache.models.response import CachedResponse
from requests_cache.policy.settings import DEFAULT_IGNORED_PARAMS

from api.feeds.cache_file import CacheFile, FeedCache
from api.feeds.flights import Flights
from api.feeds.upstream import Upstream
from api.outbound.deadline import Limits
from api.outbound.safe_http import Reach, SafeAdapter, secured
from api.ports.feed_protocols import Check
from api.ports.feeds import FeedFailed, Fetched

# These belong to the program: they say where a request goes, how long it is, or
# what the cache may do.
_OURS = {
    "accept-encoding", "cache-control", "connection", "content-length", "expect",
    "host", "if-match", "if-modified-since", "if-none-match", "if-range",
    "if-unmodified-since", "keep-alive", "proxy-authorization", "proxy-connection",
    "range", "te", "trailer", "transfer-encoding", "upgrade", "x-actual-no-cache",
    "x-http-method", "x-http-method-override", "x-method-override",
}  # fmt: skip
_HEADER_NAME = re.compile(r"[A-Za-z0-9!#$%&'*+.^_`|~-]{1,100}", re.ASCII)
_HEADER_VALUE = re.compile(r"[!-~](?:[ -~]{0,3998}[!-~])?", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class Keeping:
    """How answers are kept.

    Attributes:
        file: disposable, of this program alone; None keeps them in memory.
        fresh: how long an answer serves without asking again.
        stale: how long after that it serves if the feed fails, in whole seconds.
    """

    file: Path | None = None
    fresh: timedelta = timedelta(minutes=10)
    stale: timedelta = timedelta(hours=1)


class CachedFetcher:
    """Asks feeds, at most once in ten minutes each.

    Args:
        keeping: how answers are kept.
        reach: where it may go.
        limits: of one fetch.
        sleep: pauses between tries [s].
    """

    def __init__(
        self,
        keeping: Keeping,
        *,
        reach: Reach | None = None,
        limits: Limits | None = None,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self.keeping = keeping
        self.reach = reach or Reach()
        self.limits = limits or Limits()
        self._sleep = sleep
        self._answers = CacheFile(keeping.file, useful=keeping.stale)
        self._flights: Flights[Fetched] = Flights(self.limits.total_s)

    def fetch(
        self,
        url: str,
        headers: Mapping[str, str],
        *,
        secret_names: tuple[str, ...] = (),
        check: Check | None = None,
    ) -> Fetched:
        """What ``url`` answers, or answered lately.

        Args:
            url: of the feed.
            headers: sent along, secret ones included.
            secret_names: of the headers whose values are written down nowhere.
            check: refuses a body that holds nothing of use.

        Raises:
            FeedFailed: there is no answer, or none worth keeping.
        """
        _check_headers(headers)
        upstream = Upstream(self.reach, self.limits, sleep=self._sleep, check=check)
        secrets = hidden(headers, secret_names)
        return self._flights.share(
            (url, *sorted(headers.items())),
            lambda: self._ask(url, headers, secrets=secrets, upstream=upstream),
        )

    def _ask(
        self,
        url: str,
        headers: Mapping[str, str],
        *,
        secrets: Mapping[str, str],
        upstream: Upstream,
    ) -> Fetched:
        with self.session(upstream, secrets) as session:
            try:
                answer = session.get(url, headers=dict(headers), allow_redirects=False)
            except requests.RequestException:  # its text may repeat a header
                raise FeedFailed("bad_url", "The feed's URL cannot be asked.") from None
        return Fetched(
            body=answer.content,
            content_type=answer.headers.get("Content-Type", ""),
            from_cache=isinstance(answer, CachedResponse),
            failure=upstream.passed_over(),
        )

    def session(
        self, upstream: SafeAdapter, secrets: Mapping[str, str]
    ) -> CachedSession:
        """A session for one fetch; sessions are not safe to share between threads.

        Args:
            upstream: what it sends through.
            secrets: headers, and nothing else, that never reach the cache.
        """
        session = CachedSession(
            backend=FeedCache(self._answers),
            expire_after=self.keeping.fresh,
            stale_if_error=int(self.keeping.stale.total_seconds()),
            cache_control=False,
            allowable_codes=(200,),
            allowable_methods=("GET",),
            match_headers=True,
            ignored_parameters=sorted({*DEFAULT_IGNORED_PARAMS, *secrets}),
            filter_fn=lambda answer: not _repeats(answer, secrets.values()),
            autoclose=False,
        )
        return secured(session, upstream)


def hidden(headers: Mapping[str, str], secret_names: Iterable[str]) -> dict[str, str]:
    """The headers to keep out of the cache, spelled as they are sent.

    The cache compares names letter by letter; HTTP does not.

    >>> sorted(hidden({"x-key": "1", "authorization": "2", "Accept": "3"}, ("X-Key",)))
    ['authorization', 'x-key']
    """
    names = {name.lower() for name in (*secret_names, *DEFAULT_IGNORED_PARAMS)}
    return {name: value for name, value in headers.items() if name.lower() in names}


def _check_headers(headers: Mapping[str, str]) -> None:
    for name, value in headers.items():
        if not _HEADER_NAME.fullmatch(name) or name.lower() in _OURS:
            raise FeedFailed("bad_header", f"The header {name!r} cannot be sent.")
        if not _HEADER_VALUE.fullmatch(value):
            raise FeedFailed(
                "bad_header",
                f"The value of the header {name} cannot be sent: it has to be plain "
                "ASCII text without line breaks or blanks around it.",
            )


def _repeats(answer: requests.Response, secrets: Iterable[str]) -> bool:
    """Whether a body says a secret back, so that it must not be written down."""
    return any(secret.encode() in answer.content for secret in secrets)
