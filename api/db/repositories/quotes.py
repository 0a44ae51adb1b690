"""Quotes: added, decided and read; what they promise never changes."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from sqlalchemy import ColumnElement, Connection, and_, func, insert, select, update

from api.db.quote_mapping import folded, quote_values, stored_quote
from api.db.repositories.pages import page_of
from api.db.repositories.upserts import count_up
from api.db.tables import quote_numbers as numbers
from api.db.tables import quotes
from api.ports import Conflict, QuoteDecision, QuoteFilter, StoredQuote
from pricing.money import tidy

ZERO_HOURS = Decimal("0.00")
LARGEST = 2**31 - 1
_OPEN = quotes.c.status == "open"


class QuoteRepository:
    """The quotes of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def next_number(self, year: int) -> int:
        """The next free number of a year, counted from 1; used up on commit."""
        return count_up(self._connection, numbers.c.last, {"year": year})

    def add(self, quote: StoredQuote) -> StoredQuote:
        """The quote with the ``seq`` it was given; they rise.

        Raises:
            Conflict: the quote it renews was renewed already.
        """
        if quote.renews is not None and self.renewal_of(quote.renews) is not None:
            raise Conflict("this quote was renewed already; renew its renewal instead")
        added = insert(quotes).values(**quote_values(quote)).returning(quotes.c.seq)
        return replace(quote, seq=self._connection.execute(added).scalar_one())

    def get(self, quote_id: str) -> StoredQuote | None:
        """The quote of this id, or None."""
        return self._one(quotes.c.id == quote_id)

    def by_number(self, number: str) -> StoredQuote | None:
        """The quote of this number, or None."""
        return self._one(quotes.c.number == number)

    def by_sheet(self, token: str) -> StoredQuote | None:
        """The quote whose sheet is at this address, or None."""
        return self._one(quotes.c.sheet_token == token)

    def renewal_of(self, quote_id: str) -> StoredQuote | None:
        """The quote that took its place."""
        return self._one(quotes.c.renews == quote_id)

    def decide(
        self, quote_id: str, decision: QuoteDecision, *, expected: int
    ) -> StoredQuote | None:
        """The quote as decided; None unless it was at version ``expected``."""
        if not 1 <= expected < LARGEST:
            return None  # no quote is there, and the column would not take it
        change = (
            update(quotes)
            .where(
                quotes.c.id == quote_id,
                quotes.c.version == expected,
                _may_become(decision),
            )
            .values(
                status=decision.status,
                version=quotes.c.version + 1,
                decided_at=decision.at,
                decided_by=decision.by,
                reason=decision.reason,
            )
            .returning(*quotes.c)
        )
        row = self._connection.execute(change).one_or_none()
        return None if row is None else stored_quote(row)

    def page(
        self, wanted: QuoteFilter, *, limit: int, past: int | None, newer: bool = False
    ) -> tuple[StoredQuote, ...]:
        """At most ``limit`` quotes, newest first, that lie past a ``seq``."""
        query = select(quotes).where(*_conditions(wanted))
        query = page_of(query, quotes.c.seq, limit=limit, past=past, newer=newer)
        return tuple(stored_quote(row) for row in self._connection.execute(query))

    def queue_hours(self, day: date) -> Decimal:
        """Bench hours of accepted quotes to be ready on ``day`` or later [h]."""
        waiting = (quotes.c.status == "accepted") & (quotes.c.make_by >= day)
        query = select(func.sum(quotes.c.bench_hours)).where(waiting)
        hours: Decimal | None = self._connection.execute(query).scalar_one()
        return ZERO_HOURS if hours is None else tidy(hours)

    def _one(self, condition: ColumnElement[bool]) -> StoredQuote | None:
        query = select(quotes).where(condition)
        row = self._connection.execute(query).one_or_none()
        return None if row is None else stored_quote(row)


def _may_become(decision: QuoteDecision) -> ColumnElement[bool]:
    if decision.status == "renewed":
        return quotes.c.status.in_(("open", "declined"))
    if decision.status == "accepted":
        return and_(_OPEN, quotes.c.valid_until > decision.at)
    return _OPEN


def _conditions(wanted: QuoteFilter) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = []
    if wanted.status is not None:
        found.append(_status(wanted))
    if wanted.created_from is not None:
        found.append(quotes.c.created_at >= wanted.created_from)
    if wanted.created_before is not None:
        found.append(quotes.c.created_at < wanted.created_before)
    if wanted.text:
        text = folded(wanted.text)
        found.append(quotes.c.search.contains(text, autoescape=True))
    return found


def _status(wanted: QuoteFilter) -> ColumnElement[bool]:
    if wanted.status == "expired":
        return _OPEN & (quotes.c.valid_until <= wanted.now)
    if wanted.status == "open":
        return _OPEN & (quotes.c.valid_until > wanted.now)
    return quotes.c.status == wanted.status
