"""Rows to values and back; the only place that knows both names."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any, cast

from sqlalchemy import Row

from api.ports import (
    BookVersion,
    Close,
    CoinRow,
    FeedRow,
    FetchRecord,
    KeyRecord,
    Scope,
    SpotEntry,
    StoredBook,
    StoredKey,
)
from pricing.money import tidy
from pricing.spot_guard import Finding

Values = dict[str, object]
AnyRow = Row[*tuple[Any, ...]]


def book_version(row: AnyRow) -> BookVersion:
    """What is known about a version, without its document."""
    return BookVersion(
        version=row.version,
        created_at=row.created_at,
        by=row.created_by,
        note=row.note,
    )


def stored_book(row: AnyRow) -> StoredBook:
    """A version with its document."""
    return StoredBook(about=book_version(row), document=row.document)


def book_values(book: StoredBook) -> Values:
    """The columns of a version."""
    about = book.about
    return {
        "version": about.version,
        "document": book.document,
        "created_at": about.created_at,
        "created_by": about.by,
        "note": about.note,
    }


def coin_row(row: AnyRow) -> CoinRow:
    """A workshop's coin."""
    return CoinRow(
        key=row.key,
        document=row.document,
        revision=row.revision,
        changed_at=row.changed_at,
    )


def coin_values(coin: CoinRow) -> Values:
    """The columns of a workshop's coin."""
    return {
        "key": coin.key,
        "document": coin.document,
        "revision": coin.revision,
        "changed_at": coin.changed_at,
    }


def spot_entry(row: AnyRow) -> SpotEntry:
    """A recorded spot price."""
    return SpotEntry(
        id=row.id,
        metal=row.metal,
        price=tidy(row.price),  # the column gives back all its places
        currency=row.currency,
        as_of=row.as_of,
        source=row.source,
        note=row.note,
        expires_at=row.expires_at,
        by=row.entered_by,
        status=row.status,
        recorded_at=row.recorded_at,
        reasons=_findings(row.reasons),
        decided_by=row.decided_by,
        decided_at=row.decided_at,
    )


def spot_values(entry: SpotEntry) -> Values:
    """The columns of a spot price; the database gives the id."""
    return {
        "metal": entry.metal,
        "price": entry.price,
        "currency": entry.currency,
        "as_of": entry.as_of,
        "source": entry.source,
        "note": entry.note,
        "expires_at": entry.expires_at,
        "entered_by": entry.by,
        "status": entry.status,
        "recorded_at": entry.recorded_at or entry.as_of,
        "reasons": _findings_text(entry.reasons),
        "decided_by": entry.decided_by,
        "decided_at": entry.decided_at,
    }


def close(row: AnyRow) -> Close:
    """The last price of a day."""
    return Close(row.as_of.date(), row.currency, tidy(row.price))


def feed_row(row: AnyRow) -> FeedRow:
    """A feed's document."""
    return FeedRow(
        key=row.key,
        document=row.document,
        revision=row.revision,
        changed_at=row.changed_at,
    )


def feed_values(feed: FeedRow) -> Values:
    """The columns of a feed; its secrets are not among them."""
    return {
        "key": feed.key,
        "document": feed.document,
        "revision": feed.revision,
        "changed_at": feed.changed_at,
    }


def fetch_record(row: AnyRow) -> FetchRecord:
    """One asking of a feed."""
    return FetchRecord(
        id=row.id,
        feed=row.feed,
        at=row.at,
        outcome=row.outcome,
        findings=_findings(row.findings),
        entry_id=row.entry_id,
        duration_ms=row.duration_ms,
    )


def fetch_values(record: FetchRecord) -> Values:
    """The columns of an asking; the database gives the id."""
    return {
        "feed": record.feed,
        "at": record.at,
        "outcome": record.outcome,
        "findings": _findings_text(record.findings),
        "entry_id": record.entry_id,
        "duration_ms": record.duration_ms,
    }


def _findings(text: str) -> tuple[Finding, ...]:
    return tuple(Finding(**each) for each in json.loads(text))


def _findings_text(findings: Iterable[Finding]) -> str:
    found = [
        {"code": each.code, "text": each.text, "weight": each.weight}
        for each in findings
    ]
    return json.dumps(found, separators=(",", ":"))


def stored_key(row: AnyRow) -> StoredKey:
    """An access key with its digest."""
    record = KeyRecord(
        id=row.id,
        scope=cast("Scope", row.scope),
        label=row.label,
        created_at=row.created_at,
        last_used_at=row.last_used_at,
        revoked_at=row.revoked_at,
    )
    return StoredKey(record=record, digest=bytes.fromhex(row.digest))


def key_values(key: StoredKey) -> Values:
    """The columns of an access key."""
    record = key.record
    return {
        "id": record.id,
        "scope": record.scope,
        "label": record.label,
        "digest": key.digest.hex(),
        "created_at": record.created_at,
        "last_used_at": record.last_used_at,
        "revoked_at": record.revoked_at,
    }
