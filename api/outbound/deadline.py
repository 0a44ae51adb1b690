"""How long and how much: the limits of one fetch, and the clock that ends it."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from api.ports.feeds import FeedFailed

Clock = Callable[[], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What one fetch may take.

    Attributes:
        connect_s: longest wait for a connection, and for its encryption [s].
        read_s: longest silence while an answer is read [s].
        total_s: longest time in all, tries and pauses between them included [s].
        body_bytes: largest body once decompressed [B].
        head_bytes: largest status line and headers together [B].
        tries: how often at most the feed is asked.
        pause_s: pause before the second try; each further one is twice as long [s].
    """

    connect_s: float = 5
    read_s: float = 10
    total_s: float = 20
    body_bytes: int = 2**20
    head_bytes: int = 2**15
    tries: int = 3
    pause_s: float = 0.5


class Deadline:
    """The moment by which one fetch has to be over.

    Args:
        seconds: from now on [s].
        clock: a clock that never goes back [s].
    """

    def __init__(self, seconds: float, *, clock: Clock = time.monotonic) -> None:
        self._seconds = seconds
        self._clock = clock
        self._end = clock() + seconds

    @property
    def left_s(self) -> float:
        """Time that is left, 0 or less once it is over [s]."""
        return self._end - self._clock()

    def at_most(self, seconds: float) -> float:
        """A wait that ends with the deadline at the latest [s].

        Raises:
            FeedFailed: the deadline is over.
        """
        left = self.left_s
        if left <= 0:
            raise self.missed()
        return min(seconds, left)

    def missed(self) -> FeedFailed:
        """What to raise once the deadline is over."""
        return FeedFailed(
            "timeout",
            f"The feed was not done within {self._seconds:g} seconds; nothing of it "
            "was used. It may be overloaded: try again later.",
        )


@contextmanager
def ended_by(deadline: Deadline, sock: socket.socket) -> Iterator[None]:
    """Shut a connection down at the deadline, whatever is being read from it.

    Time limits of sockets count from the last byte, so that a feed which sends a
    byte now and then could go on for ever.
    """
    twin = sock.dup()  # stays ours when encryption takes the socket over

    def shut() -> None:
        try:
            twin.shutdown(socket.SHUT_RDWR)
        except OSError:
            return  # the other side was first

    timer = threading.Timer(max(deadline.left_s, 0), shut)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        timer.join()  # so that the twin is not closed under its feet
        twin.close()
