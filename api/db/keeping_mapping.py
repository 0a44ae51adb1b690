"""Rows of kept answers and of the audit trail to values and back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime

from api.db.mapping import AnyRow, Values
from api.ports import Answered, AuditEntry, Once


def answered(row: AnyRow) -> Answered:
    """An answer as it was sent."""
    return Answered(status=row.status, headers=json.loads(row.headers), body=row.body)


def replay_values(once: Once, answer: Answered, at: datetime) -> Values:
    """The columns of an answer."""
    return {
        "credential": once.credential,
        "operation": once.operation,
        "key": once.key,
        "fingerprint": once.fingerprint,
        "status": answer.status,
        "headers": json.dumps(dict(answer.headers), separators=(",", ":")),
        "body": answer.body,
        "at": at,
    }


def audit_entry(row: AnyRow) -> AuditEntry:
    """A line of the audit trail."""
    return AuditEntry(
        id=row.id,
        at=row.at,
        by=row.actor,
        via=row.via,
        action=row.action,
        subject=row.subject,
        before=None if row.before is None else json.loads(row.before),
        after=None if row.after is None else json.loads(row.after),
        request=row.request,
    )


def audit_values(entry: AuditEntry) -> Values:
    """The columns of a line; the database gives its id."""
    return {
        "at": entry.at,
        "actor": entry.by,
        "via": entry.via,
        "action": entry.action,
        "subject": entry.subject,
        "before": _one_line(entry.before),
        "after": _one_line(entry.after),
        "request": entry.request,
    }


def _one_line(document: Mapping[str, object] | None) -> str | None:
    # ASCII only: whatever a name holds, a dump of the table shows one line of it.
    # Members stay in the order they were told in, which is how they are read best.
    if document is None:
        return None
    return json.dumps(dict(document), separators=(",", ":"))
