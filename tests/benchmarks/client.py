"""A small client for when there is no better one: one process, plain sockets.

`python -m tests.benchmarks.client ADDRESS HEADERS FILE START CONNECTIONS SECONDS
METHOD` sends the bodies of a file, a line each, in rotation, from line START on; for a
GET a line is an address and, after a space, the entity tag that is known of it. Prints
what came of it as one line of JSON.
"""

from __future__ import annotations

import json
import re
import selectors
import socket
import sys
import time
from collections.abc import Iterator
from itertools import cycle, islice
from pathlib import Path
from statistics import quantiles
from urllib.parse import urlsplit

_LENGTH = re.compile(rb"\r\ncontent-length: *(\d+)", re.IGNORECASE)
_GOOD = (b"HTTP/1.1 200 ", b"HTTP/1.1 304 ")
HUNDREDTHS = 100


class Line:
    """One connection: sends a request when the answer before it is complete."""

    def __init__(self, address: tuple[str, int], requests: Iterator[bytes]) -> None:
        self.socket = socket.create_connection(address)
        self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._requests = requests
        self._got = b""
        self.took: list[float] = []
        self.bad = 0
        self.send()

    def send(self) -> None:
        self._began = time.perf_counter()
        self.socket.sendall(next(self._requests))

    def read(self) -> None:
        more = self.socket.recv(1 << 18)
        if not more:
            raise RuntimeError("the server closed the connection")
        self._got += more
        head, blank, body = self._got.partition(b"\r\n\r\n")
        length = _LENGTH.search(head)  # none where nothing is sent again
        if not blank or len(body) < int(length[1] if length else 0):
            return
        self.took.append(time.perf_counter() - self._began)
        self.bad += not head.startswith(_GOOD)
        self._got = b""
        self.send()


def main() -> None:
    address, headers, file, *numbers, method = sys.argv[1:]
    start, connections, seconds = map(int, numbers)
    where = urlsplit(address)
    bodies = Path(file).read_bytes().splitlines()
    told = json.loads(headers) | {"Host": where.netloc}
    head = "".join(f"{name}: {value}\r\n" for name, value in told.items())
    written = got if method == "GET" else posted
    requests = islice(
        cycle([written(where.path, head, body) for body in bodies]), start, None
    )
    begun = time.perf_counter()
    lines = [Line((where.hostname, where.port), requests) for _ in range(connections)]
    load(lines, begun + seconds)
    spent = time.perf_counter() - begun
    took = [each for line in lines for each in line.took]
    cuts = quantiles(took, n=HUNDREDTHS)
    print(
        json.dumps(
            {
                "answers": len(took),
                "seconds": spent,
                "bad": sum(line.bad for line in lines),
                "p50_ms": cuts[HUNDREDTHS // 2 - 1] * 1000,
                "p99_ms": cuts[-1] * 1000,
            }
        )
    )


def posted(path: str, head: str, body: bytes) -> bytes:
    begun = f"POST {path} HTTP/1.1\r\n{head}Content-Length: {len(body)}\r\n\r\n"
    return begun.encode() + body


def got(_: str, head: str, asked: bytes) -> bytes:
    path, _, tag = asked.decode().partition(" ")
    known = f"If-None-Match: {tag}\r\n" if tag else ""
    return f"GET {path} HTTP/1.1\r\n{head}{known}\r\n".encode()


def load(lines: list[Line], end: float) -> None:
    """Keep every connection busy until the time is over."""
    with selectors.DefaultSelector() as waiting:
        for line in lines:
            waiting.register(line.socket, selectors.EVENT_READ, line)
        while time.perf_counter() < end:
            for key, _ in waiting.select(timeout=1):
                key.data.read()
    for line in lines:
        line.socket.close()


if __name__ == "__main__":
    main()
