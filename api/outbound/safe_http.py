"""HTTP to machines of others: judged addresses, no redirects, bounded in every way.

Order of one exchange: the URL is taken apart (``urls.target_of``), its host
looked up once and every address judged (``addresses.resolve_public``), a
connection opened to one of these very addresses (``connection``) under the
original name, the status judged and the body read within limits (``answers``).
Nothing of the answer but status and size is ever put into a message.
"""

from __future__ import annotations

import http.client
import io
import socket
import ssl
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from typing import Any, TypeVar

import requests
from requests.adapters import HTTPAdapter
from requests.structures import CaseInsensitiveDict
from requests.utils import DEFAULT_CA_BUNDLE_PATH
from urllib3 import HTTPResponse

from api.outbound.addresses import Network, Resolver, resolve_public
from api.outbound.answers import body_of, check_status
from api.outbound.connection import (
    Connector,
    Encrypted,
    Plain,
    Route,
)
from api.outbound.deadline import Deadline, Limits
from api.outbound.trouble import told
from api.outbound.urls import Target, target_of

KEPT_HEADERS = ("Content-Type", "ETag", "Last-Modified", "Retry-After")
"""All of an answer's headers that is passed on; cookies are among the rest."""

CONDITIONS = ("If-None-Match", "If-Modified-Since")

SENT_ALWAYS = {
    "User-Agent": "fineweight",
    "Accept": "*/*",
    "Accept-Encoding": "gzip, deflate",
}

Session = TypeVar("Session", bound=requests.Session)
Reader = Callable[[HTTPResponse, Deadline], bytes]
"""Judges an answer of which status and headers are read, and gives what is kept."""


@cache
def _usual_trust() -> ssl.SSLContext:
    trust = ssl.create_default_context(cafile=DEFAULT_CA_BUNDLE_PATH)
    # Said here, since the interpreters of some systems leave it to others.
    trust.minimum_version = ssl.TLSVersion.TLSv1_2
    return trust


def _wall_clock() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """Where the program may go, and by which means.

    Attributes:
        networks: allowed though they are private, on any port.
        plain_http: whether ``http`` is allowed.
        resolver: looks names up.
        connector: opens a connection to an address.
        trust: makes the check of certificates.
    """

    networks: tuple[Network, ...] = ()
    plain_http: bool = False
    resolver: Resolver = socket.getaddrinfo
    connector: Connector = socket.create_connection
    trust: Callable[[], ssl.SSLContext] = _usual_trust


class SafeAdapter(HTTPAdapter):
    """What a session sends through: one fresh, watched connection for each request.

    Args:
        reach: where it may go.
        limits: of each request.
        deadline: shared by several requests; a new one for each if left out.
        reader: of answers; left out, a 200 is wanted and its body read.
    """

    def __init__(
        self,
        reach: Reach,
        *,
        limits: Limits | None = None,
        deadline: Deadline | None = None,
        reader: Reader | None = None,
    ) -> None:
        super().__init__()
        self.reach = reach
        self._reader = reader
        self.limits = limits or Limits()
        self.deadline = deadline

    def send(  # type: ignore[override]
        self, request: requests.PreparedRequest, **_settings: Any
    ) -> requests.Response:
        """The answer to a request, read whole.

        The session's settings for proxies, certificates, streaming and time
        limits have no effect: those of this adapter count.

        Raises:
            TryAgain: it failed in a way that may pass.
            FeedFailed: it failed.
        """
        deadline = self.deadline or Deadline(self.limits.total_s)
        target = target_of(request.url or "", plain_http=self.reach.plain_http)
        addresses = resolve_public(
            target,
            allowed=self.reach.networks,
            resolver=self.reach.resolver,
            within_s=deadline.at_most(self.limits.connect_s),
        )
        route = Route(
            addresses,
            deadline,
            limits=self.limits,
            connector=self.reach.connector,
        )
        with closing(route), closing(self._connection(target, route)) as connection:
            answer = told(lambda: self._exchange(connection, request, target), deadline)
        return self.build_response(request, answer)

    def _connection(self, target: Target, route: Route) -> Plain | Encrypted:
        seconds = self.limits.connect_s
        if target.scheme == "http":
            connection: Plain | Encrypted = Plain(
                target.host, target.port, timeout=seconds
            )
        else:
            connection = Encrypted(
                target.host,
                target.port,
                timeout=seconds,
                ssl_context=self.reach.trust(),
            )
        connection.take(route)
        return connection

    def _exchange(
        self,
        connection: Plain | Encrypted,
        request: requests.PreparedRequest,
        target: Target,
    ) -> HTTPResponse:
        connection.connect()
        connection.timeout = self.limits.read_s
        headers = CaseInsensitiveDict({**request.headers, "Connection": "close"})
        connection.request(
            request.method or "GET",
            target.path,
            body=request.body,
            headers=headers,
            preload_content=False,
            decode_content=False,
        )
        with closing(connection.getresponse()) as answer:
            deadline = connection.route.deadline
            if self._reader is not None:
                return _rebuilt(answer, self._reader(answer, deadline), target)
            conditional = any(name in headers for name in CONDITIONS)
            check_status(answer, conditional=conditional, now=_wall_clock())
            body = body_of(answer, limits=self.limits, deadline=deadline)
            return _rebuilt(answer, body, target)


def safe_session(
    reach: Reach,
    *,
    limits: Limits | None = None,
    deadline: Deadline | None = None,
) -> requests.Session:
    """A session that sends through a ``SafeAdapter`` and through nothing else."""
    return secured(
        requests.Session(), SafeAdapter(reach, limits=limits, deadline=deadline)
    )


def secured(session: Session, adapter: SafeAdapter) -> Session:
    """``session`` with this adapter alone, and nothing taken from the environment.

    >>> session = safe_session(Reach())
    >>> session.trust_env, list(session.adapters)
    (False, ['https://', 'http://'])
    """
    session.trust_env = False  # no proxy, no .netrc, no certificates of others
    session.adapters.clear()
    session.mount("https://", adapter)
    session.mount("http://", adapter)
    session.headers = CaseInsensitiveDict(SENT_ALWAYS)
    return session


def _rebuilt(answer: HTTPResponse, body: bytes, target: Target) -> HTTPResponse:
    """The answer over again: body in memory, only the headers that are kept."""
    headers = {
        name: value for name in KEPT_HEADERS if (value := answer.headers.get(name))
    }
    return HTTPResponse(
        body=io.BytesIO(body),
        headers=headers,
        status=answer.status,
        reason=http.client.responses.get(answer.status, ""),
        version=answer.version,
        preload_content=False,
        request_url=target.path,
    )
