"""What every request needs, held in memory and true as of one small query.

Each change counts up a revision inside its own transaction. Asking for all the
revisions is one small query, so a request learns at once what other processes
changed, and loads no more than that.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import NamedTuple, TypeVar

from api.ports import Clock, Revisions, Storage, UnitOfWork
from api.services.snapshot import NOTHING, Snapshot, loaded

T = TypeVar("T")


class _Hold:
    """The one snapshot that a piece of work sees, taken when first asked for.

    Attributes:
        presumed: whether nobody has asked yet if it is still true.
    """

    snapshot: Snapshot | None = None
    presumed: bool = False


class CountedInView(NamedTuple):
    """How many requests there are, and what was stored when they were counted.

    Attributes:
        number: how many [count].
        revisions: the counters at that moment.
        as_of: stands for the last change that this process had made by then.
    """

    number: int
    revisions: Revisions
    as_of: object


class Snapshots:
    """The newest snapshot, for any number of threads, and the way to change it."""

    def __init__(self, storage: Storage, clock: Clock) -> None:
        self.storage = storage
        self._clock = clock
        self._newest: Snapshot | None = None
        self._loading = threading.Lock()
        self._changed = object()  # another one after each change of this process
        self._hold: ContextVar[_Hold | None] = ContextVar("hold", default=None)
        self._unit: ContextVar[UnitOfWork | None] = ContextVar("unit", default=None)
        self._later: ContextVar[list[Callable[[], object]] | None] = ContextVar(
            "later", default=None
        )

    @contextmanager
    def held(self) -> Iterator[None]:
        """Within this, every `take` gives the same snapshot: at most one query.

        For one request in one thread. A change made inside through `write` is
        seen from then on. Holds may be nested; the outermost counts.
        """
        if self._hold.get() is not None:
            yield
            return
        token = self._hold.set(_Hold())
        try:
            yield
        finally:
            self._hold.reset(token)

    def take(self) -> Snapshot:
        """What is stored now. Raises StorageUnavailable."""
        hold = self._hold.get()
        if hold is None:
            return self._current()
        if hold.snapshot is None:
            hold.snapshot = self._current()
        return hold.snapshot

    def presume(self) -> Snapshot | None:
        """Hold what was true last, for work that will `count` before it is done.

        Asking costs a query, and so does counting, which tells as much. None where
        nothing is known yet, or no `held` would keep it.
        """
        hold = self._hold.get()
        if hold is None or hold.snapshot is not None:
            return None
        hold.snapshot = self._newest
        hold.presumed = hold.snapshot is not None
        return hold.snapshot

    def doubt(self) -> None:
        """Ask at the next `take`, if what is held was only presumed."""
        hold = self._hold.get()
        if hold is not None and hold.presumed:
            hold.snapshot, hold.presumed = None, False

    def count(
        self, partition: str, *, window: int, limit: int, number: int = 1
    ) -> CountedInView | None:
        """Count more requests, as `Storage.count` does; how many now [count].

        What was presumed is held from here on if it is true, else no longer.
        """
        as_of = self._changed
        counted = self.storage.count(
            partition, window=window, limit=limit, number=number
        )
        if counted is None:
            return None
        self._settle(counted.revisions)
        return CountedInView(counted.number, counted.revisions, as_of)

    def agree(self, counted: CountedInView) -> bool:
        """Whether this process changed nothing since a count, as far as it knows.

        If so, what that count was told settles what is presumed, as if asked now.
        """
        if counted.as_of is not self._changed:
            return False
        self._settle(counted.revisions)
        return True

    def write(
        self,
        work: Callable[[UnitOfWork], T],
        *,
        wait: bool = True,
        beside: bool = False,
    ) -> T:
        """Change what is stored, as `Storage.write` does, and see it from here on.

        Within `transaction` it is part of that, and committed with the rest.
        """
        unit = self._unit.get()
        if unit is not None:
            return work(unit)
        try:
            result = self.storage.write(work, wait=wait, beside=beside)
        finally:
            self._changed = object()
        hold = self._hold.get()
        if hold is not None:
            hold.snapshot = None
        return result

    def read(self, work: Callable[[UnitOfWork], T]) -> T:
        """What ``work`` finds stored; within `transaction`, as that sees it.

        A second connection beside that of the transaction could be waited for in
        vain, with as many transactions at once as there are connections.
        """
        unit = self._unit.get()
        return self.storage.read(work) if unit is None else work(unit)

    @property
    def joined(self) -> bool:
        """Whether a `write` now would be part of a `transaction`."""
        return self._unit.get() is not None

    def transaction(self, work: Callable[[UnitOfWork], T]) -> T:
        """Like `write`, for work that calls services: what they write is one change.

        Everything is run again after a collision. What services read otherwise is
        still what was stored before.
        """
        later: list[Callable[[], object]] = []

        def within(unit: UnitOfWork) -> T:
            later.clear()
            tokens = self._unit.set(unit), self._later.set(later)
            try:
                return work(unit)
            finally:
                self._unit.reset(tokens[0])
                self._later.reset(tokens[1])

        result = self.write(within)
        for each in later:
            self.afterwards(each)
        return result

    def afterwards(self, work: Callable[[], object]) -> None:
        """Do something that is not urgent, and never within a `transaction`.

        Once that is committed, and not if it is not; without one, at once. What it
        raises is raised in place of the result, which stands nevertheless.
        """
        later = self._later.get()
        if later is None:
            work()
        else:
            later.append(work)

    def _settle(self, revisions: Revisions) -> None:
        hold = self._hold.get()
        if hold is not None and hold.snapshot is not None and hold.presumed:
            hold.presumed = False
            if hold.snapshot.revisions != revisions:
                hold.snapshot = None

    def _current(self) -> Snapshot:
        newest = self._newest
        if newest is not None and newest.revisions == self.storage.revisions():
            return newest
        with self._loading:  # one thread loads, the others find it done
            self._newest = self.storage.read(self._load)
            return self._newest

    def _load(self, unit: UnitOfWork) -> Snapshot:
        return loaded(unit, self._newest or NOTHING, self._clock.now())
