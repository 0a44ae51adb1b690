"""One straight walk from a coin, a wish and a spot to a price that can be explained.

``estimate`` is ``prepare`` followed by ``at``: everything that does not depend on
the spot is worked out once, so that many spots (or one spot for many listings)
share it. The ``Estimate`` carries every intermediate figure.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from pricing import money
from pricing.cautions import Caution, cautions_for
from pricing.coin import Coin
from pricing.cost_sheet import CostSheet, Ingredients, SpotFreeSheet, open_sheet
from pricing.forming import FormingPlan, plan_forming
from pricing.ingredients import gathered, shaping_of, taken
from pricing.margin import BreakEven, OnPaid, break_even, margin_on_paid
from pricing.market import UNKNOWN, Market
from pricing.metal_line import MetalLine
from pricing.order_risk import order_risk
from pricing.own_coin import OwnCoinRisk, own_coin_risk
from pricing.price import PriceDecision, SaleTerms, decide_price, given_price
from pricing.price_book import Channel, Policy, PriceBook
from pricing.risk import Risk
from pricing.route import StageWork
from pricing.spoilage import Spoilage, coins_to_start, spoilage
from pricing.spot import Spot
from pricing.spot_needed import check_spot
from pricing.validity import Validity, suggested_validity
from pricing.wish import Wish


@dataclass(frozen=True, slots=True, kw_only=True, weakref_slot=True)
class Estimate:
    """A computed price with everything it stands on; nothing is stored by it.

    Attributes:
        coins_to_start: coins [count] that give the wished good pieces at the
            wish's confidence; None for a customer's own coin, which cannot be
            replaced.
        validity: how long the price may hold, as the market has moved; None where
            too little is known.
        risk: outcome of the seeded simulation, when the wish includes it.
    """

    currency: money.Currency
    book_version: int
    coin: Coin
    wish: Wish
    channel: Channel
    policy: Policy
    spot: Spot | None
    forming: FormingPlan
    work: tuple[StageWork, ...]
    spoilage: Spoilage
    coins_to_start: int | None
    cost: CostSheet
    price: PriceDecision
    break_even: BreakEven
    on_paid: OnPaid | None
    validity: Validity | None
    cautions: tuple[Caution, ...]
    risk: Risk | None

    @property
    def own_coin(self) -> OwnCoinRisk | None:
        """What a customer who brings the coin has to know; None otherwise."""
        if self.wish.own_coin is None:
            return None
        return own_coin_risk(
            self.spoilage.chance_good,
            self.wish.own_coin.compensation,
            currency=self.currency,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prepared:
    """A wish worked out as far as it goes without a spot; compared by identity."""

    book: PriceBook
    coin: Coin
    wish: Wish
    channel: Channel
    policy: Policy
    forming: FormingPlan
    sheet: SpotFreeSheet
    coins_to_start: int | None
    cautions: tuple[Caution, ...]
    order_pieces: int | None = None

    @property
    def terms(self) -> SaleTerms:
        """How the order is sold."""
        return SaleTerms(
            channel=self.channel,
            currency=self.book.currency,
            quantity=self.wish.quantity,
            order_pieces=self.order_pieces,
        )

    def cost_at(self, spot: Spot | None) -> CostSheet:
        """The cost sheet of one good piece at a spot. Raises InvalidInput."""
        with money.arithmetic():
            check_spot(spot, self)
            return self.sheet.at(spot)

    def price_at(self, spot: Spot | None) -> PriceDecision:
        """The price alone, for many spots. Raises as ``at`` does."""
        with money.arithmetic():
            cost = self.cost_at(spot).figures
            return decide_price(self.policy, terms=self.terms, cost=cost)

    @property
    def needs_spot(self) -> bool:
        """Whether anything of the cost moves with the spot."""
        return self.sheet.exact != MetalLine.constant(self.sheet.exact.base)

    def at(
        self,
        spot: Spot | None,
        *,
        market: Market = UNKNOWN,
        unit_price: Decimal | None = None,
    ) -> Estimate:
        """The whole estimate at a spot.

        Args:
            spot: in the book's currency [currency/ozt]; None where none is needed.
            market: how old it is and how it moved lately.
            unit_price: of one piece, where it stands already [currency]; None has
                the policy decide.

        Raises:
            InvalidInput: no spot where the coin needs one, or another currency; a
                unit price that cannot be.
            NoPossiblePrice: a rule of the policy cannot be met, and no unit price
                is given.
        """
        with money.arithmetic():
            check_spot(spot, self)
            cost = self.sheet.at(spot)
            price = self._decided(cost, unit_price)
            return self._with_price(spot, cost, price, market=market)

    def _decided(self, cost: CostSheet, given: Decimal | None) -> PriceDecision:
        terms, figures = self.terms, cost.figures
        if given is None:
            return decide_price(self.policy, terms=terms, cost=figures)
        return given_price(given, self.policy, terms=terms, cost=figures)

    def _with_price(
        self,
        spot: Spot | None,
        cost: CostSheet,
        price: PriceDecision,
        *,
        market: Market,
    ) -> Estimate:
        parts = self.sheet.ingredients
        even = break_even(self.sheet.exact, price.sale, self, spot=spot)
        return Estimate(
            currency=self.book.currency,
            book_version=self.book.version,
            coin=self.coin,
            wish=self.wish,
            channel=self.channel,
            policy=self.policy,
            spot=spot,
            forming=self.forming,
            work=parts.work,
            spoilage=parts.spoilage,
            coins_to_start=self.coins_to_start,
            cost=cost,
            price=price,
            break_even=even,
            on_paid=margin_on_paid(self.sheet, price.sale, self.wish, spot=spot),
            validity=self._validity(spot, even, market),
            cautions=(*self._stale(spot, market), *self.cautions),
            risk=self._risk(spot, price),
        )

    def _validity(
        self, spot: Spot | None, even: BreakEven, market: Market
    ) -> Validity | None:
        if spot is None:
            return None
        return suggested_validity(spot.price, even.spot_at_floor, market.daily)

    def _stale(self, spot: Spot | None, market: Market) -> tuple[Caution, ...]:
        if spot is None or not self.needs_spot:
            return ()
        return market.cautions(self.policy.stale_spot, spot)

    def _risk(self, spot: Spot | None, price: PriceDecision) -> Risk | None:
        if "risk" not in self.wish.include:
            return None
        return order_risk(
            self.sheet, self.forming, price.sale, terms=self.terms, spot=spot
        )


@lru_cache(maxsize=64)
def _spoilage_of(book: PriceBook, prudence: Decimal | None) -> Spoilage:
    """The chain of a book version; books are compared by identity."""
    return spoilage(book.stages, prudence=prudence)


def worked_out(
    book: PriceBook, coin: Coin, wish: Wish
) -> tuple[FormingPlan, Ingredients]:
    """The forming plan of a wish and all that its cost sheet is made of.

    Raises:
        UnknownKey, NotMakeable, InvalidInput: as ``prepare``.
    """
    forming = plan_forming(coin, shaping_of(book, coin, wish))
    chain = _spoilage_of(book, book.policy(wish.policy).prudence)
    return forming, gathered(book, coin, wish, forming=forming, chain=chain)


@lru_cache(maxsize=512)
def prepare(book: PriceBook, coin: Coin, wish: Wish) -> Prepared:
    """Work a wish out as far as it goes without a spot.

    The wishes asked for last are kept, as a shop asks for the same rings again and
    again: books are compared by identity, coins and wishes by value.

    Raises:
        UnknownKey: a channel, policy or extra the book does not have.
        NotMakeable: the coin cannot become this ring.
        InvalidInput: figures that do not fit together.
    """
    with money.arithmetic():
        forming, parts = worked_out(book, coin, wish)
        return Prepared(
            book=book,
            coin=coin,
            wish=wish,
            channel=parts.channel,
            policy=book.policy(wish.policy),
            forming=forming,
            sheet=open_sheet(parts),
            coins_to_start=_coins_to_start(wish, parts.spoilage),
            cautions=cautions_for(
                coin=coin,
                finished_g=forming.finished_g,
                consumables=taken(parts),
                own_coin=wish.own_coin is not None,
                unlisted=not book.consumables,
            ),
        )


def estimate(book: PriceBook, coin: Coin, spot: Spot | None, wish: Wish) -> Estimate:
    """Price a wish: the one public entry of this package.

    Args:
        book: the workshop's price book, amounts in its currency.
        coin: the coin the ring is made of.
        spot: price of a troy ounce of its metal [currency/ozt]; None for a coin
            with no metal price.
        wish: the ring, the quantity and how it is sold.

    Returns:
        The estimate with every intermediate figure.

    Raises:
        UnknownKey, NotMakeable, InvalidInput, NoPossiblePrice: said so that the
            maker can act on it.
    """
    return prepare(book, coin, wish).at(spot)


def _coins_to_start(wish: Wish, chain: Spoilage) -> int | None:
    if wish.own_coin is not None:
        return None
    return coins_to_start(
        wish.quantity, chance_good=chain.chance_good, confidence=wish.confidence
    )
