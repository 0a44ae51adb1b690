"""Runs use cases as transactions: in turn, again after a collision, or not at all."""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, closing, contextmanager, nullcontext
from typing import TypeVar

from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError

from api.db.counting import Counting
from api.db.engine import LOCK_WAIT_S, make_engine
from api.db.failures import is_collision, refusals, unavailable
from api.db.repositories.revisions import in_one_row, told
from api.db.unit_of_work import SqlUnitOfWork
from api.db.upgrade import schema_is_current
from api.ports import Counted, Readiness, Revisions, StorageUnavailable, UnitOfWork

T = TypeVar("T")

TRIES = {"sqlite": 3, "postgresql": 5}
"""How often a use case runs at most: each SQLite try already waits for the lock."""
FIRST_PAUSE_S = 0.004
"""About as long as a quote takes: who collides tries again when the other is done."""
BESIDE_OTHERS = 2
"""How many tries on PostgreSQL go on beside other writers; later ones go alone."""


class SqlStorage:
    """The storage of one database, for any number of threads."""

    def __init__(
        self,
        engine: Engine,
        *,
        hasty: Engine,
        counting: Engine | None = None,
        pause: Callable[[float], None] = time.sleep,
    ) -> None:
        """Take an engine, and others to the same database.

        Args:
            engine: for everything else.
            hasty: never waits for another's lock.
            counting: for single statements, counts of requests among them, which
                need not outlast a loss of power.
            pause: waits so long [s].
        """
        self.engine = engine
        self._hasty = hasty
        self._single = counting or engine
        self._counts = Counting(self._single)
        self._pause = pause
        self._tries = TRIES[engine.dialect.name]
        self._counters = in_one_row(engine)
        # SQLite has one writer at a time. Threads queue here rather than poll the
        # file's lock, which shortens the longest waits several times over.
        self._turn = threading.Lock() if engine.dialect.name == "sqlite" else None

    def revisions(self) -> Revisions:
        """Every counter, by one small query outside any transaction."""
        # The plain driver: every request comes through here, and building and
        # wrapping the result would cost several times the query.
        with refusals(), closing(self._single.raw_connection()) as connection:
            cursor = connection.cursor()
            cursor.execute(self._counters)
            ((text,),) = cursor.fetchall()
            return told(text)

    def read(self, work: Callable[[UnitOfWork], T]) -> T:
        """What ``work`` returns, on one consistent view; nothing is kept."""
        with refusals(), SqlUnitOfWork(self.engine, "read") as unit:
            return work(unit)

    def write(
        self,
        work: Callable[[UnitOfWork], T],
        *,
        wait: bool = True,
        beside: bool = False,
    ) -> T:
        """What ``work`` returns, committed; run again after a collision."""
        if not wait:
            return self._once(work, self._hasty)

        def once(alone: bool) -> T:  # noqa: FBT001 - as `_trying` says it
            queued = alone or not beside
            return self._once(work, self.engine, queued=queued, alone=alone)

        return self._trying(once)

    def count(
        self, partition: str, *, window: int, limit: int, number: int = 1
    ) -> Counted | None:
        """Count more requests of ``partition`` in a window; how many now [count]."""
        return self._single_statement(
            lambda: self._counts.count(
                partition, window=window, limit=limit, number=number
            )
        )

    def uncount(self, partition: str, *, window: int, number: int) -> None:
        """Take back requests that were counted and never made [count]."""
        self._single_statement(
            lambda: self._counts.uncount(partition, window=window, number=number)
        )

    def readiness(self) -> Readiness:
        """Whether the storage can serve, found out without waiting."""
        try:
            schema = schema_is_current(self._hasty)
        except DBAPIError:
            return Readiness(database=False, schema=False, writable=False)
        try:
            self._once(lambda _: None, self._hasty)
        except StorageUnavailable:
            return Readiness(database=True, schema=schema, writable=False)
        return Readiness(database=True, schema=schema, writable=True)

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()
        self._hasty.dispose()
        self._counts.close()

    def _trying(self, once: Callable[[bool], T]) -> T:
        for attempt in range(1, self._tries):
            try:
                return once(attempt > BESIDE_OTHERS)
            except StorageUnavailable as error:
                if not is_collision(error.__cause__):
                    raise
                spread = random.uniform(0, 2**attempt)  # noqa: S311 - no secret
                self._pause(FIRST_PAUSE_S * spread)
        return once(True)  # noqa: FBT003 - the last one goes alone

    def _single_statement(self, work: Callable[[], T]) -> T:
        def once(_: object) -> T:
            with refusals(), self._my_turn(LOCK_WAIT_S):
                return work()

        # On SQLite it has waited for the lock by the time it collides, and a page
        # cannot wait as a change can.
        return self._trying(once) if self._turn is None else once(None)

    def _once(
        self,
        work: Callable[[UnitOfWork], T],
        engine: Engine,
        *,
        queued: bool = False,
        alone: bool = False,
    ) -> T:
        hasty = engine is self._hasty
        with refusals(), self._my_turn(0.0 if hasty else LOCK_WAIT_S):  # noqa: SIM117 - turn first
            with SqlUnitOfWork(engine, "write") as unit:
                if self._turn is None and queued:
                    unit.queue(alone=alone)
                result = work(unit)
                unit.commit()
                return result

    def _my_turn(self, patience_s: float) -> AbstractContextManager[None]:
        return nullcontext() if self._turn is None else _held(self._turn, patience_s)


def open_storage(database: str) -> SqlStorage:
    """The storage in a database; its tables may still be missing or old.

    Args:
        database: path of an SQLite file, or a ``postgresql+psycopg://`` URL.

    Raises:
        ValueError: the text names neither.
        StorageUnavailable: the file cannot be used.
    """
    engine = make_engine(database)
    return SqlStorage(
        engine,
        hasty=make_engine(database, lock_wait_s=0, pooled=False),
        counting=make_engine(database, durable=False),
    )


@contextmanager
def _held(turn: threading.Lock, patience_s: float) -> Iterator[None]:
    if not turn.acquire(timeout=patience_s):
        raise unavailable(None)
    try:
        yield
    finally:
        turn.release()
