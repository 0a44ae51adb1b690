"""What a quote would be if it were made now: worked out in full, promised to nobody."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from api.ports import Clock, StoredQuote
from api.services.quotes.making import QuoteMaking, local_date
from api.services.quotes.members import Offer
from api.services.quotes.terms import (
    LineAsk,
    QuoteTerms,
    check_hours,
    checked,
    deposit,
    hours_valid,
    one_spot,
)
from api.services.snapshots import Snapshots
from pricing.make_by import make_by


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotePreview:
    """A quote as it would be.

    Attributes:
        members: what it would keep, as `quote_members` writes it.
        offer: what that was written from.
        terms: on which terms.
        valid_until: from when on it could no longer be accepted.
        deposit: due when it is accepted [currency]; None for nothing.
        make_by: the day it could be ready; None where the book promises no dates.
    """

    members: Mapping[str, Any]
    offer: Offer
    terms: QuoteTerms
    valid_until: datetime
    deposit: Decimal | None
    make_by: date | None


class QuotePreviews:
    """Works quotes out; stores nothing."""

    def __init__(
        self, snapshots: Snapshots, clock: Clock, *, making: QuoteMaking
    ) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._making = making

    def of(self, asks: Sequence[LineAsk], terms: QuoteTerms) -> QuotePreview:
        """What `Quotes.create` would promise. Raises as it does."""
        agreed = checked(terms)
        return self._seen(self._making.offer(asks, one_spot(asks)), agreed)

    def renewal(
        self,
        old: StoredQuote,
        *,
        spot_price: Decimal | None = None,
        valid_hours: int | None = None,
    ) -> QuotePreview:
        """What `Quotes.renew` would promise. Raises as it does.

        Args:
            old: the quote that would be replaced.
            spot_price: of a troy ounce [the book's currency/ozt]; None takes the
                one in force.
            valid_hours: how long it would hold [h]; None as for a new one.
        """
        check_hours(valid_hours)
        return self._seen(*self._making.again(old, spot_price, valid_hours))

    def _seen(self, offer: Offer, terms: QuoteTerms) -> QuotePreview:
        book, order, at = offer.book, offer.order, self._clock.now()
        hours = hours_valid(terms, (line.policy for line in order.lines))
        until, today = at + timedelta(hours=hours), local_date(book, at)
        read = self._snapshots.read
        return QuotePreview(
            members=self._making.members(offer),
            offer=offer,
            terms=terms,
            valid_until=until,
            deposit=deposit(order.total, terms.deposit_share, book.currency),
            make_by=make_by(
                local_date(book, until),
                bench_hours=order.bench_hours,
                queue_hours=read(lambda unit: unit.quotes.queue_hours(today)),
                hours_per_week=book.labour.hours_per_week,
            ),
        )
