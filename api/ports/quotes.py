"""Quotes as the services hand them on, and where they are kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Literal, Protocol

KeptStatus = Literal["open", "accepted", "declined", "renewed"]
KEPT_STATUSES: tuple[KeptStatus, ...] = ("open", "accepted", "declined", "renewed")
"""What is stored; an open quote whose time has passed is called expired."""

QuoteStatus = Literal["open", "accepted", "declined", "expired", "renewed"]
QUOTE_STATUSES: tuple[QuoteStatus, ...] = (
    "open",
    "accepted",
    "declined",
    "expired",
    "renewed",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredQuote:
    """A promise as it was made; only what was decided about it changes.

    Attributes:
        seq: where it stands in the order of making; 0 until it is stored.
        id: unguessable, the quote's name in the API.
        number: what people call it, as in 2026-0017.
        version: counted up by every decision.
        created_by, decided_by: the id of a key or a name.
        valid_until: the instant from which it can no longer be accepted.
        reason: why it was declined, in a line.
        total: all that the buyer pays [currency]; ``tax`` is the tax in it and
            ``deposit`` what is due when it is accepted, None for nothing.
        book_version: of the price book it was made with.
        bench_hours: attended hours it takes [h].
        make_by: the day it can be ready; None where the book has no weekly hours.
        renews: id of the quote it takes the place of, or None.
        sheet_token: unguessable, the address of the customer's sheet.
        document: canonical JSON text of everything it stands on.
    """

    seq: int = 0
    id: str
    number: str
    status: KeptStatus = "open"
    version: int = 1
    created_at: datetime
    created_by: str
    valid_until: datetime
    decided_at: datetime | None = None
    decided_by: str = ""
    reason: str = ""
    currency: str
    total: Decimal
    tax: Decimal
    deposit: Decimal | None
    book_version: int
    bench_hours: Decimal
    make_by: date | None
    renews: str | None = None
    sheet_token: str
    customer_note: str = ""
    document: str

    def status_at(self, now: datetime) -> QuoteStatus:
        """Its status at an instant: an open quote expires by time alone."""
        if self.status == "open" and now >= self.valid_until:
            return "expired"
        return self.status


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteDecision:
    """What became of a quote, by whom and when; ``reason`` in a line."""

    status: Literal["accepted", "declined", "renewed"]
    by: str
    at: datetime
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteFilter:
    """Which quotes are asked for; what is None does not matter.

    Attributes:
        status: by the clock, at ``now``.
        created_from, created_before: made from the one on and before the other.
        text: found in the number or the customer's note, in capital or small letters
            of any alphabet; no character in it has a meaning of its own.
    """

    now: datetime
    status: QuoteStatus | None = None
    created_from: datetime | None = None
    created_before: datetime | None = None
    text: str = ""


class QuoteStore(Protocol):
    """Quotes; none is ever removed, and of its promise nothing ever changes."""

    def next_number(self, year: int) -> int:
        """The next free number of a year, counted from 1; used up on commit."""
        ...

    def add(self, quote: StoredQuote) -> StoredQuote:
        """The quote with the ``seq`` it was given; they rise.

        Raises Conflict where the quote it renews was renewed already.
        """
        ...

    def get(self, quote_id: str) -> StoredQuote | None: ...  # noqa: D102
    def by_number(self, number: str) -> StoredQuote | None: ...  # noqa: D102
    def by_sheet(self, token: str) -> StoredQuote | None: ...  # noqa: D102
    def renewal_of(self, quote_id: str) -> StoredQuote | None:
        """The quote that took its place."""
        ...

    def decide(
        self, quote_id: str, decision: QuoteDecision, *, expected: int
    ) -> StoredQuote | None:
        """The quote as decided; None unless it was at version ``expected``.

        Checking and writing are one statement. It also asks that the quote is
        open, or, to be renewed, open or declined; and that one to be accepted is
        still valid at the decision's time.
        """
        ...

    def page(
        self, wanted: QuoteFilter, *, limit: int, past: int | None, newer: bool = False
    ) -> tuple[StoredQuote, ...]:
        """At most ``limit`` quotes, newest first, that lie past a ``seq``.

        Past it means older, or with ``newer`` younger; the nearest ones count, and
        None begins at the newest (with ``newer`` at the oldest).
        """
        ...

    def queue_hours(self, day: date) -> Decimal:
        """Bench hours of accepted quotes to be ready on ``day`` or later [h]."""
        ...
