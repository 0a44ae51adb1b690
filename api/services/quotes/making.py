"""How a quote is made: its lines priced together, promised and written down whole."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from api.ports import Clock, Conflict, StoredQuote, UnitOfWork
from api.services.actor import actor
from api.services.audit import note
from api.services.coins import Coins
from api.services.ground import coin_of, given_spot, refuse_stale, spot_in_force
from api.services.price_book import PriceBooks
from api.services.quotes.formats import kept, kept_text
from api.services.quotes.members import (
    Offer,
    WriteEstimate,
    asked_before,
    quote_members,
)
from api.services.quotes.terms import (
    LARGEST_TOTAL,
    LineAsk,
    QuoteTerms,
    deposit,
    hours_valid,
)
from api.services.snapshots import Snapshots
from api.services.spot.spot_prices import SpotPrices
from pricing.coin import Coin
from pricing.errors import InvalidInput, PricingError, UnknownKey
from pricing.make_by import make_by
from pricing.market import UNKNOWN
from pricing.order import Order, PreparedOrder, prepare_order
from pricing.price_book import PriceBook

UnitPrices = Mapping[int, Decimal]
"""Prices of a piece that stand already, by the place of their line [currency]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Issue:
    """How a quote is given out.

    Attributes:
        id: its id.
        at: the moment.
        renews: what it takes the place of, or None.
        held: what the storefront is told that asked for it; None for any other.
    """

    id: str
    at: datetime
    renews: StoredQuote | None = None
    held: Mapping[str, object] | None = None


def new_id() -> str:
    """An id that nobody can guess."""
    return secrets.token_urlsafe(16)


class QuoteMaking:
    """Prices what is asked for and promises it."""

    def __init__(  # noqa: PLR0913 - what a quote is made of, by name
        self,
        snapshots: Snapshots,
        clock: Clock,
        *,
        books: PriceBooks,
        coins: Coins,
        spots: SpotPrices,
        write_estimate: WriteEstimate,
    ) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._books = books
        self._coins = coins
        self._spots = spots
        self._write_estimate = write_estimate

    def offer(self, asks: Sequence[LineAsk], spot_price: Decimal | None) -> Offer:
        """What is asked for, priced by one state of the book, the coins and the spot.

        Args:
            asks: the lines.
            spot_price: of a troy ounce [the book's currency/ozt]; None takes the
                one in force.
        """
        with self._snapshots.held():
            book = self._books.current()
            rings = [(self._coin(i, ask), ask.wish) for i, ask in enumerate(asks)]
            prepared = prepare_order(book, rings)
            order = self._priced(prepared, spot_price, _given(asks))
        if order.total >= LARGEST_TOTAL:
            raise InvalidInput(
                f"the order comes to {order.total}; a quote stays under "
                f"{LARGEST_TOTAL}: ask for fewer pieces",
                path=("lines",),
            )
        return Offer(asks=tuple(asks), book=book, order=order)

    def _coin(self, place: int, ask: LineAsk) -> Coin:
        try:
            return coin_of(self._coins, ask.coin)
        except UnknownKey as error:
            error.place("lines", place)
            raise

    def _priced(
        self, prepared: PreparedOrder, given: Decimal | None, prices: UnitPrices
    ) -> Order:
        book = prepared.book
        if given is not None:
            spot = given_spot(given, book, at=self._clock.now())
            return prepared.at(spot, market=UNKNOWN, unit_prices=prices)
        needed = prepared.needs_spot
        found, market = spot_in_force(self._spots, book, needed=needed)
        if needed and found is not None:
            for i, line in enumerate(prepared.lines):
                if i not in prices:  # what stands already hangs on no spot
                    refuse_stale(line.policy, found, market)
        return prepared.at(found, market=market, unit_prices=prices)

    def members(self, offer: Offer) -> Mapping[str, object]:
        """What a quote of an offer would keep, promised to nobody."""
        return quote_members(
            offer, QuoteTerms(), write_estimate=self._write_estimate, renews=None
        )

    def add(
        self, unit: UnitOfWork, offer: Offer, terms: QuoteTerms, *, issue: Issue
    ) -> StoredQuote:
        """Promise an offer, in the transaction of ``unit``."""
        quote = unit.quotes.add(self._written(unit, offer, terms, issue))
        told: dict[str, object] = {
            "number": quote.number,
            "total": quote.total,
            "currency": quote.currency,
            "valid_until": quote.valid_until,
        }
        if quote.renews is not None:
            told["renews"] = quote.renews
        if issue.held is not None:
            told["held"] = issue.held["sku"]
        note(unit, issue.at, "quote.created", quote.id, after=told)
        return quote

    def again(
        self, old: StoredQuote, spot_price: Decimal | None, valid_hours: int | None
    ) -> tuple[Offer, QuoteTerms]:
        """What an old quote was for, priced by today's book, coins and spot.

        Raises:
            Conflict: it cannot be made again by today's book and coins.
        """
        document = kept(old)
        share = document["deposit_share"]
        terms = QuoteTerms(
            customer_note=old.customer_note,
            deposit_share=None if share is None else Decimal(share),
            valid_hours=valid_hours,
            show_spot=document["show_spot"],
        )
        try:
            return self.offer(asked_before(document), spot_price), terms
        except PricingError as error:
            if error.path[:1] == ("lines",):
                raise Conflict(_gone(old, error)) from error
            raise

    def _written(
        self, unit: UnitOfWork, offer: Offer, terms: QuoteTerms, issue: Issue
    ) -> StoredQuote:
        book, order = offer.book, offer.order
        today = local_date(book, issue.at)
        hours = hours_valid(terms, (line.policy for line in order.lines))
        until = issue.at + timedelta(hours=hours)
        members = quote_members(
            offer, terms, write_estimate=self._write_estimate, renews=issue.renews
        )
        members["held"] = issue.held
        return StoredQuote(
            id=issue.id,
            number=f"{today.year}-{unit.quotes.next_number(today.year):04d}",
            created_at=issue.at,
            created_by=actor().by,
            valid_until=until,
            currency=book.currency.code,
            total=order.total,
            tax=order.tax,
            deposit=deposit(order.total, terms.deposit_share, book.currency),
            book_version=book.version,
            bench_hours=order.bench_hours,
            make_by=make_by(
                local_date(book, until),
                bench_hours=order.bench_hours,
                queue_hours=unit.quotes.queue_hours(today),
                hours_per_week=book.labour.hours_per_week,
            ),
            renews=None if issue.renews is None else issue.renews.id,
            sheet_token=secrets.token_urlsafe(24),
            customer_note=terms.customer_note,
            document=kept_text(members),
        )


def _given(asks: Sequence[LineAsk]) -> UnitPrices:
    prices = enumerate(ask.unit_price for ask in asks)
    return {place: price for place, price in prices if price is not None}


def local_date(book: PriceBook, at: datetime) -> date:
    """The day it is in the workshop."""
    return at.astimezone(ZoneInfo(book.timezone)).date()


def _gone(old: StoredQuote, error: PricingError) -> str:
    where = "".join(f"line {i + 1}: " for i in error.path[1:2] if isinstance(i, int))
    return (
        f"quote {old.number} cannot be made again as it was; {where}{error.message}: "
        "make a new quote"
    )
