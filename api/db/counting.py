"""Counts of requests in windows of time, each in a transaction of its own.

A count is one statement of the plain driver, and no commit waits for the disk: it is
written many times a second. A loss of power may take the last of them, a crash of the
program none. Every process sees each of them at once.
"""

from __future__ import annotations

from contextlib import closing
from typing import Any

from sqlalchemy import ColumnElement, Engine, bindparam, delete, literal_column, update

from api.db.repositories.revisions import in_one_row, told
from api.db.repositories.upserts import insert_into
from api.db.tables import quotas
from api.ports import Counted

KEPT_S = 86_400
"""How long a window's count is kept after it began [s]."""


class Counting:
    """Counts by a connection of its own."""

    def __init__(self, engine: Engine) -> None:
        """Take an engine whose commits need not wait for the disk."""
        self._engine = engine
        self._positional = engine.dialect.positional
        count = insert_into(engine.dialect, quotas).values(
            who=bindparam("who"), began=bindparam("began"), counted=bindparam("number")
        )
        more = quotas.c.counted + count.excluded.counted
        count = count.on_conflict_do_update(
            index_elements=["who", "began"],
            set_={"counted": more},
            where=more <= bindparam("most"),
        )
        # In the same statement: each one more costs a busy server a change of threads.
        revisions: ColumnElement[str] = literal_column(f"({in_one_row(engine)})")
        telling = count.returning(quotas.c.counted, revisions)
        self._count = str(telling.compile(engine))
        fewer = quotas.c.counted - bindparam("number")
        back = (
            update(quotas)
            .values(counted=fewer)
            .where(
                quotas.c.who == bindparam("of"), quotas.c.began == bindparam("since")
            )
        )
        self._uncount = str(back.compile(engine))
        old = delete(quotas).where(quotas.c.began < bindparam("before"))
        self._forget = str(old.compile(engine))

    def count(
        self, partition: str, *, window: int, limit: int, number: int
    ) -> Counted | None:
        """Count more requests of ``partition`` in a window, as `Storage.count` does."""
        asked = self._told(who=partition, began=window, number=number, most=limit)
        with closing(self._engine.raw_connection()) as connection:
            cursor = connection.cursor()
            cursor.execute(self._count, asked)
            rows = cursor.fetchall()
            if rows and rows[0][0] == number:  # the first clears up after others
                cursor.execute(self._forget, self._told(before=window - KEPT_S))
            connection.commit()
            return Counted(rows[0][0], told(rows[0][1])) if rows else None

    def uncount(self, partition: str, *, window: int, number: int) -> None:
        """Take back requests that were counted and never made [count]."""
        fewer = self._told(number=number, of=partition, since=window)
        with closing(self._engine.raw_connection()) as connection:
            connection.cursor().execute(self._uncount, fewer)
            connection.commit()

    def close(self) -> None:
        """Let go of every connection."""
        self._engine.dispose()

    def _told(self, **values: str | int) -> Any:
        return tuple(values.values()) if self._positional else values
