"""Coins: the published catalogue, and the workshop's own that go before it."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace as with_changes

from api.ports import (
    Clock,
    CoinRow,
    Conflict,
    NotFound,
    PreconditionFailed,
    StoredCoin,
    UnitOfWork,
)
from api.services.audit import difference, note
from api.services.snapshots import Snapshots
from pricing.catalogue import catalogue, catalogue_coin
from pricing.coin import Coin
from pricing.coin_document import coin_document, read_coin
from pricing.errors import InvalidInput, UnknownKey


class Coins:
    """Every coin that can be priced.

    A workshop's coin with the key of a catalogue coin is used in its place;
    removing it brings the catalogue's back.
    """

    def __init__(self, snapshots: Snapshots, clock: Clock) -> None:
        self._snapshots = snapshots
        self._clock = clock
        # Coins already read, and the rows they come from; replaced as a whole when
        # the rows are, so that a reader never sees half of a change.
        self._read: tuple[Mapping[str, CoinRow], dict[str, StoredCoin]] = ({}, {})

    def get(self, key: str) -> StoredCoin:
        """The coin of a key. Raises NotFound, suggesting the nearest keys."""
        rows = self._snapshots.take().coins
        row = rows.get(key)
        if row is not None:
            return self._workshop_coin(row, rows)
        try:
            return StoredCoin(coin=catalogue_coin(key), origin="catalogue")
        except UnknownKey as error:
            raise NotFound(error.message) from error

    def list(
        self, *, after: str = "", limit: int | None = None
    ) -> tuple[StoredCoin, ...]:
        """Coins by key, at most ``limit`` [count], with keys beyond ``after``."""
        with self._snapshots.held():
            keys = {*catalogue(), *self._snapshots.take().coins}
            wanted = sorted(key for key in keys if key > after)[:limit]
            return tuple(self.get(key) for key in wanted)

    def search(self, text: str) -> tuple[StoredCoin, ...]:
        """Coins of whose key, name, country or years each word of ``text`` is part.

        The workshop's own come first, then by key.
        """
        wanted = text.casefold().split()
        found = [one for one in self.list() if _has(one.coin, wanted)]
        return tuple(sorted(found, key=lambda one: one.origin == "catalogue"))

    def add(self, coin: Coin) -> StoredCoin:
        """Store a coin of the workshop's own.

        Raises:
            InvalidInput: it has no key.
            Conflict: the workshop has a coin of this key already.
        """
        if not coin.key:
            raise InvalidInput(
                "a coin to be kept needs a key; use a to z, 0 to 9 and _",
                path=("key",),
            )

        def add(unit: UnitOfWork) -> CoinRow:
            row = self._row(unit, coin)
            unit.coins.add(row)
            note(unit, row.changed_at, "coin.added", coin.key, after=_document(row))
            return row

        return self._write(add)

    def replace(self, key: str, coin: Coin, *, expected: int) -> StoredCoin:
        """Change a coin; one of the catalogue is overridden from then on.

        Args:
            key: the coin to change.
            coin: its new figures; its own key does not count.
            expected: the revision it was made from [count], 0 for the catalogue's.

        Raises:
            NotFound: there is no such coin.
            PreconditionFailed: it has another revision.
        """
        renamed = with_changes(coin, key=key)

        def replace(unit: UnitOfWork) -> CoinRow:
            old = self._checked(unit, key, expected)
            row = self._row(unit, renamed)
            if old is None:
                published = coin_document(catalogue_coin(key))
                before, after = difference(published, _document(row))
                unit.coins.add(row)
            else:
                before, after = difference(_document(old), _document(row))
                unit.coins.replace(row, expected=expected)
            note(unit, row.changed_at, "coin.changed", key, before=before, after=after)
            return row

        return self._write(replace)

    def remove(self, key: str, *, expected: int) -> None:
        """Remove one of the workshop's own coins.

        Raises:
            NotFound: there is no such coin.
            Conflict: it is the catalogue's, which stays.
            PreconditionFailed: it has another revision than ``expected`` [count].
        """

        def remove(unit: UnitOfWork) -> None:
            old = self._checked(unit, key, expected)
            if old is None:
                raise Conflict(
                    f"'{key}' is a coin of the catalogue, which cannot be removed; "
                    "leave it unused, or replace it by figures of your own"
                )
            unit.revisions.bump("coins")
            unit.coins.remove(key, expected=expected)
            note(unit, self._clock.now(), "coin.removed", key, before=_document(old))

        self._snapshots.write(remove)

    def _write(self, work: Callable[[UnitOfWork], CoinRow]) -> StoredCoin:
        return _stored_coin(self._snapshots.write(work))

    def _row(self, unit: UnitOfWork, coin: Coin) -> CoinRow:
        # Revisions are counted over all coins, so that one removed and added again
        # never has a revision that somebody may still hold.
        return CoinRow(
            key=coin.key,
            document=json.dumps(coin_document(coin), sort_keys=True),
            revision=unit.revisions.bump("coins") or 0,
            changed_at=self._clock.now(),
        )

    @staticmethod
    def _checked(unit: UnitOfWork, key: str, expected: int) -> CoinRow | None:
        row = unit.coins.get(key)
        if row is None and key not in catalogue():
            raise NotFound(f"there is no coin '{key[:40]}'; list the coins to see all")
        current = row.revision if row else 0
        if current != expected:
            raise PreconditionFailed(
                f"'{key}' is at revision {current}, not {expected}; read it again, "
                "make the change to that and send it anew",
                current=current,
            )
        return row

    def _workshop_coin(self, row: CoinRow, rows: Mapping[str, CoinRow]) -> StoredCoin:
        held_rows, held = self._read
        if held_rows is not rows:
            held = {}
            self._read = (rows, held)
        if row.key not in held:
            held[row.key] = _stored_coin(row)
        return held[row.key]


def _has(coin: Coin, words: list[str]) -> bool:
    told = f"{coin.key} {coin.name} {coin.country} {coin.years}".casefold()
    return all(word in told for word in words)


def _document(row: CoinRow) -> dict[str, object]:
    document: dict[str, object] = json.loads(row.document)
    return document


def _stored_coin(row: CoinRow) -> StoredCoin:
    coin = read_coin(json.loads(row.document))
    return StoredCoin(coin=coin, origin="workshop", revision=row.revision)
