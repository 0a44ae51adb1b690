"""One connection to one address that was judged before, under the original name."""

from __future__ import annotations

import http.client
import socket
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from typing import IO, Any

from urllib3.connection import HTTPConnection, HTTPSConnection

from api.outbound.deadline import Deadline, Limits, ended_by
from api.outbound.trouble import TryAgain
from api.outbound.urls import Address

Connector = Callable[[tuple[str, int], float], socket.socket]
MOST_TRIED = 4
"""Addresses of one host that are tried one after the other."""


class Route:
    """The judged addresses of a host, and how a connection to one is opened.

    Args:
        addresses: where the host is, judged before.
        deadline: when the fetch has to be over.
        limits: of one fetch.
        connector: opens a connection, as ``socket.create_connection`` does.
    """

    def __init__(
        self,
        addresses: Sequence[Address],
        deadline: Deadline,
        *,
        limits: Limits,
        connector: Connector,
    ) -> None:
        self._addresses = addresses
        self.deadline = deadline
        self._limits = limits
        self._connector = connector
        self._open = ExitStack()
        self.head_bytes = limits.head_bytes

    def connect(self, port: int) -> socket.socket:
        """A connection that ends with the deadline.

        Raises:
            TryAgain: no address answers.
        """
        for address in self._addresses[:MOST_TRIED]:
            wait = self.deadline.at_most(self._limits.connect_s)
            try:
                sock = self._connector((str(address), port), wait)
            except OSError:
                continue
            # What encryption needs to begin has to come in the same time.
            sock.settimeout(self.deadline.at_most(self._limits.connect_s))
            self._open.enter_context(ended_by(self.deadline, sock))
            return sock
        raise TryAgain(
            "unreachable",
            "The feed's machine did not take the connection. It may be down, or a "
            "firewall is in the way.",
        )

    def close(self) -> None:
        """Let go of the watch over the connection."""
        self._open.close()


class HeadTooLarge(http.client.HTTPException):
    """Status line and headers are larger than is read of them."""


class _Head:
    """A stream that gives lines until a number of bytes is used up."""

    def __init__(self, stream: IO[bytes], left: int) -> None:
        self._stream = stream
        self._left = left

    def readline(self, size: int) -> bytes:
        line = self._stream.readline(min(size, self._left + 1))
        self._left -= len(line)
        if self._left < 0:
            raise HeadTooLarge
        return line

    def close(self) -> None:
        self._stream.close()


def _answer_class(head_bytes: int) -> type[http.client.HTTPResponse]:
    class BoundedHead(http.client.HTTPResponse):
        def begin(self) -> None:
            stream: Any = self.fp
            self.fp = _Head(stream, head_bytes)  # type: ignore[assignment]
            try:
                super().begin()
            finally:
                self.fp = self.fp and stream  # None where it was no HTTP

    return BoundedHead


class _Pinned(HTTPConnection):
    """Connects by a route; the name stays for Host, SNI and the certificate."""

    route: Route

    def _new_conn(self) -> socket.socket:
        return self.route.connect(self.port or self.default_port)

    def take(self, route: Route) -> None:
        """Use this route for the one connection."""
        self.route = route
        self.response_class = _answer_class(route.head_bytes)


class Plain(_Pinned):
    """Without encryption."""


class Encrypted(_Pinned, HTTPSConnection):
    """With encryption; the certificate has to be right for the host."""
