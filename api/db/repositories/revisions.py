"""The counters that tell whether what is held in memory is still true."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from sqlalchemy import Connection, Engine, Text, cast, func, select, update

from api.db.failures import UPGRADE_NEEDED
from api.db.tables import revisions
from api.ports import Part, Revisions, StorageUnavailable

LARGEST = 2**31 - 1
COUNTERS = select(revisions.c.name, revisions.c.revision)
_PAIR = revisions.c.name + "=" + cast(revisions.c.revision, Text)
_IN_ONE_ROW = select(func.aggregate_strings(_PAIR, ","))


def in_one_row(engine: Engine) -> str:
    """The query for all counters as one text, ``coins=4,keys=2``, for the driver.

    With each row that SQLite gives, it lets other threads go first, and a busy server
    then waits longer than it works.
    """
    return str(_IN_ONE_ROW.compile(engine, compile_kwargs={"literal_binds": True}))


def counters(rows: Iterable[tuple[str, int]]) -> Revisions:
    """The counters from their rows; ones this program does not know are left out.

    Raises:
        StorageUnavailable: the rows are of an older program.
    """
    found = dict(rows)
    if not found.keys() >= {*Revisions._fields}:
        raise StorageUnavailable(UPGRADE_NEEDED)
    return Revisions(*(found[name] for name in Revisions._fields))


@lru_cache(maxsize=8)  # every request asks, and seldom has one changed
def told(text: str | None) -> Revisions:
    """The counters from their one text. Raises StorageUnavailable as `counters`."""
    pairs = (pair.split("=") for pair in (text or "").split(",") if pair)
    return counters((name, int(count)) for name, count in pairs)


class RevisionRepository:
    """Counts changes inside the transaction that makes them."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def all(self) -> Revisions:
        """Every counter."""
        rows = self._connection.execute(COUNTERS)
        return counters((row.name, row.revision) for row in rows)

    def bump(self, part: Part, *, expected: int | None = None) -> int | None:
        """Count one change and return the new count; None if not at ``expected``."""
        if expected is not None and not 0 <= expected <= LARGEST:
            return None  # no counter is there, and the column would not take it
        counted = revisions.c.revision
        change = update(revisions).where(revisions.c.name == part)
        if expected is not None:
            change = change.where(counted == expected)
        change = change.values(revision=counted + 1)
        return self._connection.execute(change.returning(counted)).scalar_one_or_none()
