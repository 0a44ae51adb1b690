"""What every request needs, held in memory and true as of one small query.

Each change counts up a revision inside its own transaction. Asking for all the
revisions is one small query, so a request learns at once what other processes
changed, and loads no more than that.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import timedelta
from itertools import groupby
from types import MappingProxyType
from typing import TypeVar

from api.ports import (
    Clock,
    Close,
    CoinRow,
    FeedRow,
    Revisions,
    SpotEntry,
    Storage,
    StoredBook,
    StoredKey,
    UnitOfWork,
)

T = TypeVar("T")

SILVER = "XAG"
CLOSES_KEPT = timedelta(days=180)
"""How far back daily closes of silver are held, for how widely it moves."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Snapshot:
    """One consistent state of the storage.

    Attributes:
        revisions: the counters it belongs to.
        keys: every access key by id.
        book: the price book in force, or None before the first.
        coins: the workshop's own coins by key.
        feeds: every feed's document by key.
        spots: by metal or currency, what can be its price in force, newest first.
        closes: the last accepted silver price of each day and currency, oldest first.
    """

    revisions: Revisions
    keys: Mapping[str, StoredKey]
    book: StoredBook | None
    coins: Mapping[str, CoinRow]
    feeds: Mapping[str, FeedRow]
    spots: Mapping[str, tuple[SpotEntry, ...]]
    closes: tuple[Close, ...]


_NOTHING = Snapshot(
    revisions=Revisions(*(-1 for _ in Revisions._fields)),
    keys={},
    book=None,
    coins={},
    feeds={},
    spots={},
    closes=(),
)


class _Hold:
    """The one snapshot that a piece of work sees, taken when first asked for."""

    snapshot: Snapshot | None = None


class Snapshots:
    """The newest snapshot, for any number of threads, and the way to change it."""

    def __init__(self, storage: Storage, clock: Clock) -> None:
        self.storage = storage
        self._clock = clock
        self._newest: Snapshot | None = None
        self._loading = threading.Lock()
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

    def write(self, work: Callable[[UnitOfWork], T], *, wait: bool = True) -> T:
        """Change what is stored, as `Storage.write` does, and see it from here on.

        Within `transaction` it is part of that, and committed with the rest.
        """
        unit = self._unit.get()
        if unit is not None:
            return work(unit)
        result = self.storage.write(work, wait=wait)
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

    def _current(self) -> Snapshot:
        newest = self._newest
        if newest is not None and newest.revisions == self.storage.revisions():
            return newest
        with self._loading:  # one thread loads, the others find it done
            self._newest = self.storage.read(self._load)
            return self._newest

    def _load(self, unit: UnitOfWork) -> Snapshot:
        old, now = self._newest or _NOTHING, unit.revisions.all()
        had = old.revisions
        new_book = had.price_book != now.price_book
        new_spots = had.spot_prices != now.spot_prices
        return Snapshot(
            revisions=now,
            keys=old.keys if had.keys == now.keys else _keys(unit),
            book=unit.books.newest() if new_book else old.book,
            coins=old.coins if had.coins == now.coins else _coins(unit),
            feeds=old.feeds if had.feeds == now.feeds else _feeds(unit),
            spots=self._spots(unit) if new_spots else old.spots,
            closes=self._closes(unit) if new_spots else old.closes,
        )

    def _spots(self, unit: UnitOfWork) -> Mapping[str, tuple[SpotEntry, ...]]:
        entries = unit.spots.candidates(self._clock.now())
        by_metal = groupby(sorted(entries, key=_metal), key=_metal)  # a stable sort
        return MappingProxyType({metal: tuple(group) for metal, group in by_metal})

    def _closes(self, unit: UnitOfWork) -> tuple[Close, ...]:
        return unit.spots.closes(SILVER, since=self._clock.now() - CLOSES_KEPT)


def _keys(unit: UnitOfWork) -> Mapping[str, StoredKey]:
    return MappingProxyType({key.record.id: key for key in unit.keys.all()})


def _coins(unit: UnitOfWork) -> Mapping[str, CoinRow]:
    return MappingProxyType({row.key: row for row in unit.coins.all()})


def _feeds(unit: UnitOfWork) -> Mapping[str, FeedRow]:
    return MappingProxyType({row.key: row for row in unit.feeds.all()})


def _metal(entry: SpotEntry) -> str:
    return entry.metal
