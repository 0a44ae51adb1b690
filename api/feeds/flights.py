"""Callers who want the same at the same time share one piece of work."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from concurrent.futures import TimeoutError as NotYet
from threading import Lock
from typing import Generic, TypeVar

from api.outbound.deadline import Deadline

T = TypeVar("T")


class Flights(Generic[T]):
    """Lets callers who want the same at the same time share one fetch.

    Args:
        longest_s: after which a caller who waits for another gives up [s].
    """

    def __init__(self, longest_s: float) -> None:
        self._longest_s = longest_s
        self._lock = Lock()
        self._under_way: dict[object, Future[T]] = {}

    def share(self, key: object, work: Callable[[], T]) -> T:
        """The result of ``work``, or of the same work that is under way."""
        with self._lock:
            flight = self._under_way.get(key)
            first = flight is None
            if flight is None:
                flight = self._under_way[key] = Future()
        if first:
            self._land(key, flight, work)
        try:
            return flight.result(timeout=self._longest_s)
        except NotYet:
            raise Deadline(self._longest_s).missed() from None

    def _land(self, key: object, flight: Future[T], work: Callable[[], T]) -> None:
        try:
            flight.set_result(work())
        except BaseException as error:
            flight.set_exception(error)
            raise
        finally:
            with self._lock:
                del self._under_way[key]
