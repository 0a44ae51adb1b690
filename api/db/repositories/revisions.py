"""The counters that tell whether what is held in memory is still true."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import Connection, select, update

from api.db.failures import UPGRADE_NEEDED
from api.db.tables import revisions
from api.ports import Part, Revisions, StorageUnavailable

LARGEST = 2**31 - 1
COUNTERS = select(revisions.c.name, revisions.c.revision)


def counters(rows: Iterable[tuple[str, int]]) -> Revisions:
    """The counters from their rows; ones this program does not know are left out.

    Raises:
        StorageUnavailable: the rows are of an older program.
    """
    found = dict(rows)
    if not found.keys() >= {*Revisions._fields}:
        raise StorageUnavailable(UPGRADE_NEEDED)
    return Revisions(*(found[name] for name in Revisions._fields))


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
