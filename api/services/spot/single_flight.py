"""One piece of work for any number of callers who want it at the same time."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future
from typing import Generic, TypeVar

T = TypeVar("T")


class SingleFlight(Generic[T]):
    """Runs the work of a key once; who comes meanwhile waits and gets the same."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._flights: dict[str, Future[T]] = {}
        self._waiting: dict[str, int] = {}

    def waiting(self, key: str) -> int:
        """How many callers wait for work that another does [count]."""
        return self._waiting.get(key, 0)

    def run(self, key: str, work: Callable[[], T]) -> T:
        """What ``work`` returns or raises, for each of its callers."""
        with self._lock:
            flight = self._flights.get(key)
            if flight is not None:
                self._waiting[key] = self.waiting(key) + 1
            else:
                own = self._flights[key] = Future()
        return flight.result() if flight is not None else self._lead(key, own, work)

    def _lead(self, key: str, own: Future[T], work: Callable[[], T]) -> T:
        try:
            own.set_result(work())
        except BaseException as error:  # noqa: BLE001 - it is raised below
            own.set_exception(error)
        with self._lock:
            del self._flights[key]
            self._waiting.pop(key, None)
        return own.result()
