"""What a run over the listings stands on: the price book and one spot for all."""

from __future__ import annotations

import json
from dataclasses import dataclass
from decimal import Decimal

from api.ports import Clock, SpotUnavailable
from api.services.ground import given_spot
from api.services.price_book import PriceBooks
from api.services.quotes.document import exact, instant
from api.services.spot.spot_prices import SpotPrices
from pricing import money
from pricing.errors import InvalidInput, PricingError
from pricing.market import UNKNOWN, Market
from pricing.price_book import PriceBook
from pricing.reprice import BandPrice, CompiledBand
from pricing.spot import FxRate, Spot


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceGround:
    """The book, the spot in its currency, and what the market says beside it.

    Attributes:
        spot: None where none is in force; ``missing`` then says what to do.
    """

    book: PriceBook
    spot: Spot | None
    market: Market = UNKNOWN
    missing: str = ""

    def priced(self, band: CompiledBand) -> BandPrice:
        """The price of a band. Raises PricingError where it lacks a spot for it."""
        if band.needs_spot and self.spot is None:
            raise PricingError(self.missing)
        return band.price_at(self.spot)

    def spot_text(self) -> str:
        """The spot as JSON, of the members that an estimate writes; or null."""
        return json.dumps(None if self.spot is None else self._document(self.spot))

    def _document(self, spot: Spot) -> dict[str, object]:
        limits = self.book.policy().stale_spot
        return {
            "metal": spot.metal,
            "price": exact(spot.price),
            "currency": spot.currency,
            **_origin(spot),
            "stale": any(self.market.cautions(limits, spot)),
            "fx": None if spot.fx is None else _rate(spot.fx),
            "original_price": _exact(spot.original_price),
            "original_currency": spot.original_currency,
        }


class PriceGrounds:
    """Finds what prices stand on."""

    def __init__(self, clock: Clock, *, books: PriceBooks, spots: SpotPrices) -> None:
        self._clock = clock
        self._books = books
        self._spots = spots

    def at(self, spot_price: Decimal | None) -> PriceGround:
        """The book in force, at a spot price or at the one in force.

        Args:
            spot_price: of a troy ounce [the book's currency/ozt], or None.

        Raises:
            NotFound: there is no price book yet.
            InvalidInput: a price that cannot be.
        """
        book = self._books.current()
        if spot_price is not None:
            spot = given_spot(spot_price, book, at=self._clock.now())
            return PriceGround(book=book, spot=spot)
        try:
            quoted = self._spots.quoted(book)
        except SpotUnavailable as error:
            return PriceGround(book=book, spot=None, missing=error.message)
        return PriceGround(book=book, spot=quoted.spot, market=quoted.market)

    def moved(self, change_percent: Decimal) -> PriceGround:
        """The book in force, at the spot in force and so much more or less [%].

        Raises:
            NotFound: there is no price book yet.
            SpotUnavailable: no spot is in force.
            InvalidInput: nothing would be left of the price.
        """
        with money.arithmetic():
            exact_price = self.in_force().price * (100 + change_percent) / 100
            price = money.half_up(exact_price, money.SPOT_STEP)
        if price <= 0:
            raise InvalidInput(
                f"a change of {change_percent:f} % leaves no price; "
                "give one above -100 %",
                path=("change_percent",),
            )
        return self.at(money.tidy(price))

    def in_force(self) -> Spot:
        """The spot in force, in the book's currency. Raises SpotUnavailable."""
        return self._spots.quoted(self._books.current()).spot


def _origin(told: Spot | FxRate) -> dict[str, object]:
    return {
        "as_of": None if told.as_of is None else instant(told.as_of),
        "source": told.source,
        "age_hours": _exact(told.age_hours),
    }


def _rate(fx: FxRate) -> dict[str, object]:
    names = {"base": fx.base, "quote": fx.quote, "rate": exact(fx.rate)}
    return names | _origin(fx)


def _exact(value: Decimal | None) -> str | None:
    return None if value is None else exact(value)
