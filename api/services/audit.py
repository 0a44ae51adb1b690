"""The audit trail: who did what, when, written down with the change itself.

A line is added in the transaction of the change, so there is one for each change
that was committed and none for any other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from decimal import Decimal
from typing import Protocol

from api.ports import AuditEntry, AuditFilter, AuditLog, SpotEntry, UnitOfWork
from api.services.actor import actor
from api.services.paging import check_limit, cut
from api.services.snapshots import Snapshots

MOST_ENTRIES = 1000
_BY_KEY = "api"
_OF_PRICES = (
    "metal",
    "price",
    "currency",
    "as_of",
    "source",
    "status",
    "note",
    "expires_at",
)


class Audited(Protocol):
    """A transaction with an audit trail."""

    @property
    def audit(self) -> AuditLog: ...  # noqa: D102 - the name says it


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditPage:
    """Part of the trail, newest first, and whether there is more on either side."""

    entries: tuple[AuditEntry, ...]
    older: bool
    newer: bool


def note(  # noqa: PLR0913 - the members of an entry, by name
    unit: Audited,
    at: datetime,
    action: str,
    subject: str,
    *,
    before: Mapping[str, object] | None = None,
    after: Mapping[str, object] | None = None,
) -> None:
    """Write down, in the transaction of ``unit``, what the present actor does.

    Args:
        unit: the transaction that makes the change.
        at: when.
        action: kind of thing and what was done to it, as in ``coin.changed``.
        subject: which one.
        before: what was so until now, without any secret; None for nothing.
        after: what is so from now on.
    """
    who = actor()
    unit.audit.add(
        AuditEntry(
            at=at,
            by=who.by,
            via=who.via,
            action=action,
            subject=subject,
            before=None if before is None else _plain(before),
            after=None if after is None else _plain(after),
            request=who.request,
        )
    )


def note_all(
    unit: Audited,
    at: datetime,
    action: str,
    told: Mapping[str, Mapping[str, object]],
) -> None:
    """Write down, by subject, what the present actor does to many; as `note`."""
    who = actor()
    unit.audit.add_all(
        [
            AuditEntry(
                at=at,
                by=who.by,
                via=who.via,
                action=action,
                subject=subject,
                after=_plain(after),
                request=who.request,
            )
            for subject, after in told.items()
        ]
    )


def note_price(
    unit: Audited,
    at: datetime,
    action: str,
    entry: SpotEntry,
    *,
    before: Mapping[str, object] | None = None,
) -> None:
    """Write down what became of a recorded price, as `note` does."""
    told = {name: getattr(entry, name) for name in _OF_PRICES}
    after = {name: value for name, value in told.items() if value not in {None, ""}}
    note(unit, at, action, str(entry.id), before=before, after=after)


def difference(
    before: Mapping[str, object], after: Mapping[str, object]
) -> tuple[dict[str, object], dict[str, object]]:
    """Of either document the members that are not the same in the other.

    >>> difference({"a": 1, "b": 2}, {"a": 1, "b": 3, "c": 4})
    ({'b': 2}, {'b': 3, 'c': 4})
    """
    return _beside(before, after), _beside(after, before)


def _beside(
    document: Mapping[str, object], other: Mapping[str, object]
) -> dict[str, object]:
    return {
        name: value
        for name, value in document.items()
        if name not in other or other[name] != value
    }


def _plain(document: Mapping[str, object]) -> dict[str, object]:
    """The document as JSON can hold it: exact figures and moments as texts."""
    return {name: _value(value) for name, value in document.items()}


def _value(value: object) -> object:
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, Mapping):
        return _plain(value)
    if isinstance(value, tuple | list):
        return [_value(each) for each in value]
    return value


class Audit:
    """The audit trail, to be read; nothing here changes it."""

    def __init__(self, snapshots: Snapshots) -> None:
        self._snapshots = snapshots

    def page(
        self,
        wanted: AuditFilter,
        *,
        limit: int,
        past: int | None = None,
        newer: bool = False,
    ) -> AuditPage:
        """The lines that are next to an id, newest first, with the labels of keys.

        Args:
            wanted: which lines; a quote is found by its number as well as by its id.
            limit: at most so many [count], 1 to 1000.
            past: only older lines than that of this id, or with ``newer`` younger
                ones; None begins at the newest, with ``newer`` at the oldest.
            newer: which way to go.

        Raises:
            InvalidInput: the limit is out of range.
        """
        check_limit(limit, most=MOST_ENTRIES)

        def page(unit: UnitOfWork) -> tuple[AuditEntry, ...]:
            meant = _also_by_number(unit, wanted)
            lines = unit.audit.page(meant, limit=limit + 1, past=past, newer=newer)
            return _labelled(unit, lines)

        found = self._snapshots.storage.read(page)
        begun = past is not None
        shown, older, before = cut(found, limit=limit, begun=begun, back=newer)
        return AuditPage(entries=shown, older=older, newer=before)


def _also_by_number(unit: UnitOfWork, wanted: AuditFilter) -> AuditFilter:
    quote = unit.quotes.by_number(wanted.subject) if wanted.subject else None
    return wanted if quote is None else replace(wanted, subject_too=quote.id)


def _labelled(
    unit: UnitOfWork, lines: tuple[AuditEntry, ...]
) -> tuple[AuditEntry, ...]:
    # A user of the command line may have any name, a key's id among them.
    if not any(line.via == _BY_KEY for line in lines):
        return lines
    labels = {key.record.id: key.record.label for key in unit.keys.all()}
    return tuple(
        replace(line, by_label=labels.get(line.by)) if line.via == _BY_KEY else line
        for line in lines
    )
