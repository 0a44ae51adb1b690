"""Quotes: estimates promised to somebody until a time, and what became of them."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from api.ports import (
    Clock,
    QuoteDecision,
    QuoteFilter,
    QuoteStatus,
    StoredQuote,
    UnitOfWork,
)
from api.services.actor import actor
from api.services.feeds.feeds import RESERVED, Feeds
from api.services.plain_text import plain_line
from api.services.quotes.customer_sheet import CustomerSheet, customer_sheet
from api.services.quotes.decisions import decide, found
from api.services.quotes.document import quote_document, quote_summary
from api.services.quotes.formats import kept
from api.services.quotes.making import Issue, QuoteMaking, new_id
from api.services.quotes.pages import QuotePage, quote_page
from api.services.quotes.previews import QuotePreviews
from api.services.quotes.terms import (
    LineAsk,
    QuoteTerms,
    check_hours,
    checked,
    one_spot,
)
from api.services.snapshots import Snapshots


class Quotes:
    """Every promise that was made. Of what was promised nothing ever changes."""

    def __init__(
        self, snapshots: Snapshots, clock: Clock, *, making: QuoteMaking, feeds: Feeds
    ) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._feeds = feeds
        self.making = making
        self.previews = QuotePreviews(snapshots, clock, making=making)

    def create(self, asks: Sequence[LineAsk], terms: QuoteTerms) -> StoredQuote:
        """Promise a price.

        Args:
            asks: the lines, at least one; all sold in one channel, at one spot.
            terms: on which terms.

        Raises:
            NotFound: there is no price book yet.
            UnknownKey: a coin, channel, policy or extra that is not there.
            SpotUnavailable: a spot is needed, and none is in force.
            StaleSpot: the one in force is older than a line's policy allows.
            InvalidInput: figures that cannot be, or do not fit together.
            NotMakeable: a coin cannot become that ring.
            NoPossiblePrice: a rule of a policy cannot be met.
        """
        agreed = checked(terms)
        offer = self.making.offer(asks, one_spot(asks))

        def add(unit: UnitOfWork) -> StoredQuote:
            issue = Issue(id=new_id(), at=self._clock.now())
            return self.making.add(unit, offer, agreed, issue=issue)

        return self._snapshots.write(add)

    def get(self, quote_id: str) -> StoredQuote:
        """The quote of an id. Raises NotFound."""
        read = self._snapshots.read
        return found(read(lambda unit: unit.quotes.get(quote_id)), quote_id)

    def find(self, name: str) -> StoredQuote:
        """The quote of an id or a number. Raises NotFound."""
        read = self._snapshots.read
        return found(
            read(lambda unit: unit.quotes.get(name) or unit.quotes.by_number(name)),
            name,
        )

    def by_sheet(self, token: str) -> StoredQuote:
        """The quote whose sheet has this address. Raises NotFound."""
        read = self._snapshots.read
        return found(read(lambda unit: unit.quotes.by_sheet(token)), token)

    def page(
        self,
        wanted: QuoteFilter,
        *,
        limit: int,
        past: int | None = None,
        newer: bool = False,
    ) -> QuotePage:
        """The quotes that are next to one of them, newest first.

        Args:
            wanted: which quotes.
            limit: at most so many [count], 1 to 100.
            past: only older ones than that of this ``seq``, or with ``newer``
                younger ones; None begins at the newest, with ``newer`` at the oldest.
            newer: which way to go.

        Raises:
            InvalidInput: the limit is out of range.
        """
        return quote_page(
            self._snapshots.storage, wanted, limit=limit, past=past, newer=newer
        )

    def accept(self, quote_id: str, *, expected: int | None) -> StoredQuote:
        """Take an open quote at its word.

        Args:
            quote_id: the quote.
            expected: the version that was seen [count]; None for whatever it is.

        Raises:
            NotFound: there is no such quote.
            PreconditionFailed: it has another version.
            QuoteExpired: its time has passed.
            Conflict: it was decided before.
        """

        def accept(unit: UnitOfWork) -> StoredQuote:
            decision = QuoteDecision(
                status="accepted", by=actor().by, at=self._clock.now()
            )
            return decide(unit, quote_id, decision, expected=expected)

        return self._snapshots.write(accept)

    def decline(
        self, quote_id: str, *, expected: int | None, reason: str = ""
    ) -> StoredQuote:
        """Put an open quote aside, for a reason in a line. Raises as `accept`."""
        line = plain_line(reason, "reason")

        def decline(unit: UnitOfWork) -> StoredQuote:
            decision = QuoteDecision(
                status="declined", by=actor().by, at=self._clock.now(), reason=line
            )
            return decide(unit, quote_id, decision, expected=expected)

        return self._snapshots.write(decline)

    def renew(
        self,
        quote_id: str,
        *,
        expected: int | None,
        spot_price: Decimal | None = None,
        valid_hours: int | None = None,
    ) -> StoredQuote:
        """The same rings promised anew, by today's book, coins and spot.

        Args:
            quote_id: the quote that is replaced; open, expired or declined.
            expected: its version that was seen [count]; None for whatever it is.
            spot_price: of a troy ounce [the book's currency/ozt]; None takes the
                one in force.
            valid_hours: how long the new one holds [h]; None takes the least of
                what the lines' policies allow.

        Returns:
            The new quote.

        Raises:
            NotFound: there is no such quote, or no price book.
            PreconditionFailed: it has another version.
            Conflict: it is accepted or renewed, or cannot be made again by today's
                book and coins.
            SpotUnavailable, StaleSpot, InvalidInput: as `create`.
        """
        check_hours(valid_hours)

        def renew(unit: UnitOfWork) -> StoredQuote:
            at, new = self._clock.now(), new_id()
            decision = QuoteDecision(status="renewed", by=actor().by, at=at)
            told = {"renewed_by": new}
            old = decide(unit, quote_id, decision, expected=expected, after=told)
            offer, terms = self.making.again(old, spot_price, valid_hours)
            issue = Issue(id=new, at=at, renews=old)
            return self.making.add(unit, offer, terms, issue=issue)

        with self._snapshots.held():
            self._snapshots.take()  # so that nothing is loaded while others wait
            return self._snapshots.write(renew)

    def status(self, quote: StoredQuote) -> QuoteStatus:
        """What it is by the clock: an open quote expires by time alone."""
        return quote.status_at(self._clock.now())

    def document(self, quote: StoredQuote) -> dict[str, Any]:
        """The quote as it is written on the wire; nothing is priced anew."""
        (renewal,) = self._renewals([quote])
        return quote_document(
            quote, kept(quote), status=self.status(quote), renewed_by=renewal
        )

    def summaries(self, quotes: Sequence[StoredQuote]) -> list[dict[str, Any]]:
        """Quotes as they are written in a list: without lines and coins."""
        now = self._clock.now()
        return [
            quote_summary(
                quote, kept(quote), status=quote.status_at(now), renewed_by=renewal
            )
            for quote, renewal in zip(quotes, self._renewals(quotes), strict=True)
        ]

    def sheet(self, quote: StoredQuote) -> CustomerSheet:
        """What the customer is told of the quote, without any cost."""
        (renewal,) = self._renewals([quote])
        return customer_sheet(
            quote,
            kept(quote),
            status=self.status(quote),
            renewed_by=renewal,
            may_show=self._may_show,
        )

    def _renewals(self, quotes: Sequence[StoredQuote]) -> list[StoredQuote | None]:
        """What took the place of each."""
        old = [quote.id for quote in quotes if quote.status == "renewed"]
        if not old:
            return [None] * len(quotes)
        read = self._snapshots.read
        new = read(lambda unit: {each: unit.quotes.renewal_of(each) for each in old})
        return [new.get(quote.id) for quote in quotes]

    def _may_show(self, source: str) -> bool:
        feed = self._feeds.known().get(source)
        return source in RESERVED if feed is None else feed.may_display
