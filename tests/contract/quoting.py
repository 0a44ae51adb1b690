"""Quotes to store, and a storage that takes them."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from threading import Barrier

from api.ports import BookVersion, QuoteDecision, StoredBook, StoredQuote

NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)
DAY = timedelta(days=1)
THREADS = 24


def with_a_book(storage):
    """The storage with the price book that quotes refer to."""
    about = BookVersion(version=1, created_at=NOON, by="maker", note="")
    storage.write(lambda unit: unit.books.add(StoredBook(about=about, document="{}")))
    return storage


def quote(number=1, /, **more):
    """A quote that is not stored yet; what a number makes differ is unique."""
    plain = StoredQuote(
        id=f"id-{number}",
        number=f"2026-{number:04d}",
        created_at=NOON,
        created_by="bench key",
        valid_until=NOON + 7 * DAY,
        currency="EUR",
        total=Decimal("239.00"),
        tax=Decimal("39.83"),
        deposit=Decimal("119.50"),
        book_version=1,
        bench_hours=Decimal("2.25"),
        make_by=date(2026, 12, 18),
        sheet_token=f"sheet-{number}",
        customer_note="Für Ä. Öster – 100 % silver_ring \\ «Ω»",
        document='{"format":1}',
    )
    return replace(plain, **more)


def decision(status="accepted", *, at=NOON, **more):
    return QuoteDecision(status=status, by="shop key", at=at, **more)


def stored(storage, *quotes):
    """The quotes as they are stored, one transaction each."""
    return [storage.write(lambda unit, q=each: unit.quotes.add(q)) for each in quotes]


def at_once(work, callers=THREADS):
    """What each caller got, all started together."""
    barrier = Barrier(callers)

    def start(number):
        barrier.wait(timeout=30)
        return work(number)

    with ThreadPoolExecutor(callers) as pool:
        return list(pool.map(start, range(callers)))
