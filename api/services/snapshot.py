"""One state of the storage in memory, loaded no further than what changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from types import MappingProxyType

from api.ports import (
    Close,
    CoinRow,
    FeedRow,
    Revisions,
    SpotEntry,
    StoredBook,
    StoredKey,
    UnitOfWork,
)

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


NOTHING = Snapshot(
    revisions=Revisions(*(-1 for _ in Revisions._fields)),
    keys={},
    book=None,
    coins={},
    feeds={},
    spots={},
    closes=(),
)
"""What is known before anything was loaded."""


def loaded(unit: UnitOfWork, old: Snapshot, now: datetime) -> Snapshot:
    """What ``unit`` finds stored; what ``old`` has already is taken from there."""
    revisions, had = unit.revisions.all(), old.revisions
    new_book = had.price_book != revisions.price_book
    new_spots = had.spot_prices != revisions.spot_prices
    return Snapshot(
        revisions=revisions,
        keys=old.keys if had.keys == revisions.keys else _keys(unit),
        book=unit.books.newest() if new_book else old.book,
        coins=old.coins if had.coins == revisions.coins else _coins(unit),
        feeds=old.feeds if had.feeds == revisions.feeds else _feeds(unit),
        spots=_spots(unit, now) if new_spots else old.spots,
        closes=_closes(unit, now) if new_spots else old.closes,
    )


def _spots(unit: UnitOfWork, now: datetime) -> Mapping[str, tuple[SpotEntry, ...]]:
    entries = unit.spots.candidates(now)
    by_metal = groupby(sorted(entries, key=_metal), key=_metal)  # a stable sort
    return MappingProxyType({metal: tuple(group) for metal, group in by_metal})


def _closes(unit: UnitOfWork, now: datetime) -> tuple[Close, ...]:
    return unit.spots.closes(SILVER, since=now - CLOSES_KEPT)


def _keys(unit: UnitOfWork) -> Mapping[str, StoredKey]:
    return MappingProxyType({key.record.id: key for key in unit.keys.all()})


def _coins(unit: UnitOfWork) -> Mapping[str, CoinRow]:
    return MappingProxyType({row.key: row for row in unit.coins.all()})


def _feeds(unit: UnitOfWork) -> Mapping[str, FeedRow]:
    return MappingProxyType({row.key: row for row in unit.feeds.all()})


def _metal(entry: SpotEntry) -> str:
    return entry.metal
