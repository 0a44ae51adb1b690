"""The audit trail: lines are added and read; the database refuses the rest."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import ColumnElement, Connection, func, insert, or_, select

from api.db.keeping_mapping import audit_entry, audit_values
from api.db.repositories.pages import page_of
from api.db.tables import audit_entries as entries
from api.ports import AuditEntry, AuditFilter


class AuditRepository:
    """The audit trail as of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def add(self, entry: AuditEntry) -> None:
        """Write a line; the database gives it an id, and ids rise."""
        self._connection.execute(insert(entries), audit_values(entry))

    def add_all(self, lines: Sequence[AuditEntry]) -> None:
        """Write many lines, in their order."""
        if lines:
            rows = [audit_values(line) for line in lines]
            self._connection.execute(insert(entries), rows)

    def page(
        self, wanted: AuditFilter, *, limit: int, past: int | None, newer: bool = False
    ) -> tuple[AuditEntry, ...]:
        """At most ``limit`` lines, newest first, past an id, as for quotes."""
        query = select(entries).where(*_conditions(wanted))
        query = page_of(query, entries.c.id, limit=limit, past=past, newer=newer)
        return tuple(audit_entry(row) for row in self._connection.execute(query))


def _conditions(wanted: AuditFilter) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = []
    if wanted.action:
        # Not LIKE, for which SQLite takes capital letters for small ones.
        kind = f"{wanted.action}."
        begins = func.substr(entries.c.action, 1, len(kind)) == kind
        found.append(or_(entries.c.action == wanted.action, begins))
    if wanted.subject:
        names = {wanted.subject, wanted.subject_too or wanted.subject}
        found.append(entries.c.subject.in_(sorted(names)))
    if wanted.by:
        found.append(entries.c.actor == wanted.by)
    if wanted.since is not None:
        found.append(entries.c.at >= wanted.since)
    return found
