"""Many clients at once against one server, a slice of time a target."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from http import HTTPStatus
from http.client import HTTPConnection
from statistics import median, quantiles

CONNECTIONS = 16
SLICE_S = 1.0
ROUNDS = 8
HUNDREDTHS = 100


@dataclass
class Target:
    """One request, sent over and over.

    Attributes:
        bodies: what is sent, one after the other, for ever.
        rates: answers a second in each round [1/s].
        latencies: how long each answer took [s].
    """

    name: str
    path: str
    bodies: Iterator[bytes]
    headers: dict[str, str]
    rates: list[float] = field(default_factory=list)
    latencies: list[float] = field(default_factory=list)

    @property
    def rate(self) -> float:
        return median(self.rates)

    @property
    def p99_ms(self) -> float:
        return quantiles(self.latencies, n=HUNDREDTHS)[-1] * 1000


def measure(port: int, targets: Sequence[Target], rounds: int = ROUNDS) -> None:
    """Load the targets in turn."""
    for _ in range(rounds):
        for target in targets:
            _slice(port, target)


def _slice(port: int, target: Target) -> None:
    taken: list[list[float]] = [[] for _ in range(CONNECTIONS)]
    end = time.perf_counter() + SLICE_S
    clients = [
        threading.Thread(target=_client, args=(port, target, end, mine))
        for mine in taken
    ]
    begun = time.perf_counter()
    for client in clients:
        client.start()
    for client in clients:
        client.join()
    answers = [each for mine in taken for each in mine]
    target.rates.append(len(answers) / (time.perf_counter() - begun))
    target.latencies += answers


def _client(port: int, target: Target, end: float, taken: list[float]) -> None:
    connection = HTTPConnection("127.0.0.1", port, timeout=30)
    try:
        while (begun := time.perf_counter()) < end:
            body = next(target.bodies)  # the interpreter's lock makes this safe
            connection.request("POST", target.path, body, target.headers)
            answer = connection.getresponse()
            answer.read()
            if answer.status != HTTPStatus.OK:
                raise RuntimeError(f"{target.name} answers {answer.status}")
            taken.append(time.perf_counter() - begun)
    finally:
        connection.close()
