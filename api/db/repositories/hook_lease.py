"""Who delivers, of all processes on one database, and how far expiry was told."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import Connection, or_, select, update

from api.db.hook_tables import hook_deliverer as table
from api.db.repositories.upserts import add_unless_there

_NAME = "deliverer"
_NEVER = datetime(1970, 1, 1, tzinfo=UTC)


class HookLease:
    """The one row about delivering, as of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._database = connection

    def lease(self, holder: str, *, now: datetime, until: datetime) -> bool:
        """Whether ``holder`` may deliver until then: nobody else may at ``now``."""
        self._made()
        free = or_(table.c.holder == holder, table.c.until <= now)
        change = update(table).where(table.c.name == _NAME, free)
        change = change.values(holder=holder, until=until)
        row = self._database.execute(change.returning(table.c.name)).one_or_none()
        return row is not None

    def release(self, holder: str) -> None:
        """Let others deliver, if ``holder`` was the one."""
        change = update(table).where(table.c.holder == holder)
        self._database.execute(change.values(holder="", until=_NEVER))

    def expired_until(self) -> datetime | None:
        """Up to when quotes that ended were told."""
        query = select(table.c.expired_until)
        found: datetime | None = self._database.execute(query).scalar_one_or_none()
        return found

    def set_expired_until(self, when: datetime) -> None:
        """Quotes that ended until then are told."""
        self._made()
        self._database.execute(update(table).values(expired_until=when))

    def _made(self) -> None:
        row: dict[str, object] = {"name": _NAME, "holder": "", "until": _NEVER}
        add_unless_there(self._database, table, row)
