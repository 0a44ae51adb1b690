"""The workshop's own coins."""

from __future__ import annotations

from sqlalchemy import Connection, delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from api.db.mapping import coin_row, coin_values
from api.db.tables import coins
from api.ports import CoinRow, Conflict


class CoinRepository:
    """The workshop's coins of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def all(self) -> tuple[CoinRow, ...]:
        """Every coin, in no order."""
        rows = self._connection.execute(select(coins))
        return tuple(coin_row(row) for row in rows)

    def get(self, key: str) -> CoinRow | None:
        """The coin of this key, or None."""
        query = select(coins).where(coins.c.key == key)
        row = self._connection.execute(query).one_or_none()
        return None if row is None else coin_row(row)

    def add(self, row: CoinRow) -> None:
        """Store a new coin. Raises Conflict where the key is in use."""
        try:
            self._connection.execute(insert(coins), coin_values(row))
        except IntegrityError as error:
            raise Conflict(
                f"the workshop has a coin '{row.key}' already; "
                "change that one, or use another key"
            ) from error

    def replace(self, row: CoinRow, *, expected: int) -> bool:
        """Whether the coin was there at revision ``expected`` and is replaced."""
        here = (coins.c.key == row.key) & (coins.c.revision == expected)
        change = update(coins).where(here).values(**coin_values(row))
        return self._connection.execute(change).rowcount == 1

    def remove(self, key: str, *, expected: int) -> bool:
        """Whether the coin was there at revision ``expected`` and is gone."""
        here = (coins.c.key == key) & (coins.c.revision == expected)
        return self._connection.execute(delete(coins).where(here)).rowcount == 1
