"""A real local server that misbehaves on demand, over HTTP or HTTPS.

Each path is a way to answer. ``LIMIT_SAFE`` ones answer at once; those in
``ENDLESS`` go on until the client or the test ends it. ``server.script(path, …)``
gives a path several answers in a row, the last of which stays.
"""

from __future__ import annotations

import contextlib
import gzip
import json
import socket
import ssl
import struct
import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Self

GOOD = {"price": "27.50", "ts": "2026-01-02T12:00:00Z"}
GOOD_BODY = json.dumps(GOOD).encode()
PAGE = b"<!DOCTYPE html><html><title>Maintenance</title><p>Back at 9</html>"
SECRET_ECHO = "X-Echo-Me"
TICK_S = 0.01


@dataclass(frozen=True)
class Request:
    """What a client sent: the path with its query, and headers in lower case."""

    path: str
    headers: dict[str, str] = field(default_factory=dict)


Behaviour = Callable[["HostileServer", socket.socket, Request], None]


def reply(status: int = 200, body: bytes = b"", **headers: str) -> bytes:
    """A sound answer as bytes; ``Retry_After="5"`` becomes a header."""
    fields = {"Content-Length": str(len(body)), "Content-Type": "application/json"}
    fields |= {name.replace("_", "-"): value for name, value in headers.items()}
    lines = [f"{name}: {value}\r\n" for name, value in fields.items()]
    return f"HTTP/1.1 {status} Word\r\n{''.join(lines)}\r\n".encode() + body


def says(data: bytes) -> Behaviour:
    """Send these bytes and close."""
    return lambda _server, sock, _request: sock.sendall(data)


def status(code: int, body: bytes = b"never shown", **headers: str) -> Behaviour:
    """A sound answer of this status."""
    return says(reply(code, b"" if code in {204, 304} else body, **headers))


def good(body: bytes = GOOD_BODY, kind: str = "application/json") -> Behaviour:
    """A sound answer with this body."""
    return says(reply(200, body, Content_Type=kind))


def for_ever(first: bytes, piece: bytes, every_s: float = TICK_S) -> Behaviour:
    """Send ``first``, then ``piece`` again and again until somebody ends it."""

    def behave(server: HostileServer, sock: socket.socket, _request: Request) -> None:
        sock.sendall(first)
        while not server.closing.wait(every_s):
            sock.sendall(piece)

    return behave


def hang(server: HostileServer, _sock: socket.socket, _request: Request) -> None:
    """Take the request and say nothing."""
    server.closing.wait()


def reset(_server: HostileServer, sock: socket.socket, _request: Request) -> None:
    """Break the connection off at once."""
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))


def echo(_server: HostileServer, sock: socket.socket, request: Request) -> None:
    """Say back what came in the header ``SECRET_ECHO``."""
    said = request.headers.get(SECRET_ECHO.lower(), "")
    sock.sendall(reply(200, json.dumps(GOOD | {"you": said}).encode()))


def tagged(_server: HostileServer, sock: socket.socket, request: Request) -> None:
    """Answer with a tag, and 'not modified' to whoever names it."""
    known = request.headers.get("if-none-match") == '"v1"'
    body = b"" if known else GOOD_BODY
    sock.sendall(reply(304 if known else 200, body, ETag='"v1"'))


def bomb(megabytes: int) -> bytes:
    """Zeros, compressed to about a thousandth."""
    return gzip.compress(bytes(megabytes << 20), 9)


def _huge_head(lines: int, size: int) -> bytes:
    fields = "".join(f"X-{n}: {'a' * size}\r\n" for n in range(lines))
    return f"HTTP/1.1 200 OK\r\n{fields}\r\n".encode()


_TLS_HELLO = b"\x16\x03"
_CHUNKED = b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n"
_NO_END = b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\n\r\n"
_BLANK = b" " * 65536

ANSWERS: dict[str, Behaviour] = {
    "/good": good(),
    "/gzip": says(reply(200, gzip.compress(GOOD_BODY), Content_Encoding="gzip")),
    "/chunked": says(
        _CHUNKED + f"{len(GOOD_BODY):x}\r\n".encode() + GOOD_BODY + b"\r\n0\r\n\r\n"
    ),
    "/until-close": says(_NO_END + GOOD_BODY),
    "/tagged": tagged,
    "/echo": echo,
    "/bom": good(b"\xef\xbb\xbf" + GOOD_BODY),
    "/utf-16": good(GOOD_BODY.decode().encode("utf-16"), "application/json"),
    "/latin-1": good('{"note": "£"}'.encode("latin-1"), "text/plain; charset=latin-1"),
    "/wrong-type": good(GOOD_BODY, "image/png"),
}
"""Sound answers, though some are odd to read."""

BROKEN: dict[str, tuple[Behaviour, str]] = {
    "/204": (status(204), "no_content"),
    "/206": (status(206), "http_status"),
    "/300": (status(300), "redirect"),
    "/301": (status(301, Location="http://127.0.0.1/"), "redirect"),
    "/302": (status(302, Location="http://127.0.0.1:22/"), "redirect"),
    "/302-nowhere": (status(302), "redirect"),
    "/307": (status(307, Location="file:/etc/hosts"), "redirect"),
    "/308": (status(308, Location="/good"), "redirect"),
    "/304": (status(304), "not_modified"),
    "/400": (status(400), "http_status"),
    "/401": (status(401, WWW_Authenticate="Basic"), "not_allowed"),
    "/403": (status(403), "not_allowed"),
    "/404": (status(404), "not_found"),
    "/407": (status(407, Proxy_Authenticate="Basic"), "http_status"),
    "/410": (status(410), "not_found"),
    "/429": (status(429), "too_many_requests"),
    "/429-later": (status(429, Retry_After="3600"), "too_many_requests"),
    "/500": (status(500), "http_status"),
    "/502": (status(502), "http_status"),
    "/503": (status(503), "http_status"),
    "/504": (status(504), "http_status"),
    "/999": (status(999), "http_status"),
    "/page": (good(PAGE, "text/html"), "html_page"),
    "/page-as-json": (good(b"\n " + PAGE), "html_page"),
    "/page-xml-type": (good(b"<HTML></HTML>", "text/xml"), "html_page"),
    "/empty": (good(b""), "empty"),
    "/blank": (good(b" \r\n\t"), "empty"),
    "/bomb": (says(reply(200, bomb(10), Content_Encoding="gzip")), "too_large"),
    "/bomb-deflate": (
        says(reply(200, bomb(10), Content_Encoding="deflate")),
        "too_large",
    ),
    "/large": (says(reply(200, bytes(2**20 + 1))), "too_large"),
    "/large-told": (
        says(b"HTTP/1.1 200 OK\r\nContent-Length: 99999999999\r\n\r\n"),
        "too_large",
    ),
    "/large-untold": (says(_NO_END + bytes(2**20 + 1)), "too_large"),
    "/not-gzip": (says(reply(200, GOOD_BODY, Content_Encoding="gzip")), "bad_encoding"),
    "/half-gzip": (
        says(reply(200, gzip.compress(GOOD_BODY)[:-9], Content_Encoding="gzip")),
        "bad_encoding",
    ),
    "/two-gzips": (
        says(reply(200, gzip.compress(GOOD_BODY) * 2, Content_Encoding="gzip")),
        "bad_encoding",
    ),
    "/brotli": (says(reply(200, b"\x0b\x02", Content_Encoding="br")), "bad_encoding"),
    "/twice-packed": (
        says(reply(200, bomb(1), Content_Encoding="gzip, gzip")),
        "bad_encoding",
    ),
    "/head-line": (says(_huge_head(1, 100_000)), "bad_headers"),
    "/head-lines": (says(_huge_head(99, 1_000)), "bad_headers"),
    "/head-count": (says(_huge_head(200, 1)), "bad_headers"),
    "/not-http": (says(b"SSH-2.0-OpenSSH_9\r\n"), "bad_headers"),
    "/http-2": (says(b"HTTP/2 200\r\n\r\n"), "bad_headers"),
    "/two-lengths": (
        says(b"HTTP/1.1 200 OK\r\nContent-Length: 2\r\nContent-Length: 3\r\n\r\nabc"),
        "bad_headers",
    ),
    "/continues": (says(b"HTTP/1.1 100 Continue\r\n\r\n" * 5000), "bad_headers"),
    "/nothing": (says(b""), "broken_off"),
    "/truncated": (says(reply(200, GOOD_BODY)[:-5]), "broken_off"),
    "/truncated-chunk": (says(_CHUNKED + b"ff\r\n{}"), "broken_off"),
    "/bad-chunk": (says(_CHUNKED + b"zz\r\n{}"), "broken_off"),
    "/reset": (reset, "broken_off"),
}
"""Answers that are no use, each with the reason to expect; all come at once."""

ENDLESS: dict[str, tuple[Behaviour, str]] = {
    "/hang": (hang, "timeout"),
    "/silent-body": (
        lambda server, sock, request: (
            sock.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: 9\r\n\r\n{"),
            hang(server, sock, request),
        ),
        "timeout",
    ),
    "/drip": (for_ever(_NO_END, b"1"), "timeout"),
    "/drip-told": (
        for_ever(b"HTTP/1.1 200 OK\r\nContent-Length: 9999\r\n\r\n", b"1"),
        "timeout",
    ),
    "/drip-chunks": (for_ever(_CHUNKED, b"1\r\n1\r\n"), "timeout"),
    "/drip-head": (for_ever(b"HTTP/1.1 200 OK\r\nX: ", b"a"), "timeout"),
    "/drip-status": (for_ever(b"HTTP/1.1 200 ", b"a"), "timeout"),
    "/endless": (for_ever(_NO_END, _BLANK, 0), "too_large"),
    "/endless-chunks": (
        for_ever(_CHUNKED, b"10000\r\n" + _BLANK + b"\r\n", 0),
        "too_large",
    ),
    "/endless-head": (for_ever(b"HTTP/1.1 200 OK\r\n", b"X: a\r\n", 0), "bad_headers"),
    "/endless-trailer": (for_ever(_CHUNKED + b"0\r\n", b"X: a\r\n"), "timeout"),
}
"""Answers that never end, each with the reason to expect."""


class HostileServer:
    """Serves on a free loopback port until closed; counts and keeps what came."""

    def __init__(self, tls: ssl.SSLContext | None = None) -> None:
        self.tls = tls
        self.closing = threading.Event()
        self.connections = 0
        self.requests: list[Request] = []
        self._scripts: dict[str, list[Behaviour]] = {}
        self._lock = threading.Lock()
        self._listener = socket.create_server(("127.0.0.1", 0), backlog=64)
        self.port: int = self._listener.getsockname()[1]
        threading.Thread(target=self._serve, daemon=True).start()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """End every answer and stop listening."""
        self.closing.set()
        self._listener.close()

    def url(self, path: str, host: str = "127.0.0.1") -> str:
        """The URL of one way to answer."""
        return f"{'https' if self.tls else 'http'}://{host}:{self.port}{path}"

    def script(self, path: str, answers: Iterable[Behaviour]) -> str:
        """Answer a path with these in turn, then with the last; its URL."""
        with self._lock:
            self._scripts[path] = list(answers)
        return self.url(path)

    def _serve(self) -> None:
        with contextlib.suppress(OSError):
            while not self.closing.is_set():
                sock, _ = self._listener.accept()
                threading.Thread(target=self._answer, args=(sock,), daemon=True).start()

    def _answer(self, sock: socket.socket) -> None:
        with self._lock:
            self.connections += 1
        # A client that goes away is what these answers are for.
        with contextlib.suppress(OSError, ValueError), sock:
            sock.settimeout(10)
            if self.tls:
                sock = self.tls.wrap_socket(sock, server_side=True)
            request = _read(sock)
            self._behaviour(request)(self, sock, request)
            sock.close()

    def _behaviour(self, request: Request) -> Behaviour:
        path = request.path.partition("?")[0]
        with self._lock:
            self.requests.append(request)
            script = self._scripts.get(path)
            if script:
                return script.pop(0) if len(script) > 1 else script[0]
        if path in ANSWERS:
            return ANSWERS[path]
        return (BROKEN | ENDLESS).get(path, (status(404), ""))[0]


def _read(sock: socket.socket) -> Request:
    head = b""
    while b"\r\n\r\n" not in head:
        piece = sock.recv(65536)
        if not piece or piece.startswith(_TLS_HELLO):
            sock.sendall(reply(400))
            raise ValueError("no request came")
        head += piece
    first, *lines = head.decode("latin-1").split("\r\n\r\n")[0].split("\r\n")
    fields = (line.partition(":") for line in lines)
    return Request(
        first.split(" ")[1], {name.lower(): value.strip() for name, _, value in fields}
    )
