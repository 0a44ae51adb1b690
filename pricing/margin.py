"""Where the margin goes: break-even spots, and the margin on what was really paid.

Break-evens are exact solutions on the cost line. The cost is convex in spot, so
the margin of a fixed price falls to a level at up to two spots: one above today's
and, where scrap is sold at spot and the coin was not bought at it, one below.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Protocol

from pricing import money
from pricing.cost_sheet import SpotFreeSheet
from pricing.metal_line import Crossings, MetalLine, crossings
from pricing.price import SaleTerms
from pricing.price_book import Policy
from pricing.sale import Sale
from pricing.spot import Spot
from pricing.wish import Wish


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakEven:
    """Spots [currency/ozt] at which the margin is at the floor, or gone; or None."""

    spot_at_floor: Decimal | None = None
    spot_at_zero: Decimal | None = None
    spot_at_floor_below: Decimal | None = None
    spot_at_zero_below: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OnPaid:
    """The margin of an order if its coins cost what was really paid.

    Attributes:
        paid: for one coin [currency].
        margin: of the order [currency].
        margin_rate: as a share of net goods, or None where net is nothing.
    """

    paid: Decimal
    margin: Decimal
    margin_rate: Decimal | None


class Sold(Protocol):
    """What a break-even needs of the order: its policy and its terms."""

    @property
    def policy(self) -> Policy: ...  # noqa: D102 - described by the class
    @property
    def terms(self) -> SaleTerms: ...  # noqa: D102 - described by the class


def break_even(
    exact: MetalLine, sale: Sale, sold: Sold, *, spot: Spot | None
) -> BreakEven:
    """Spots at which the order's margin is exactly at the floor, and exactly zero.

    quantity × cost(spot) = margin + cost at today's figures − level × net, solved
    on the line.

    Args:
        exact: cost of one good piece against spot [currency].
        sale: what follows from the price.
        sold: the policy with its floor, and the quantity.
        spot: today's [currency/ozt]; None where nothing depends on it.
    """
    if spot is None:
        return BreakEven()
    order = exact.scaled(Decimal(sold.terms.quantity))
    to_cover = sale.margin + sale.cost
    floor = _at_level(order, to_cover - sold.policy.floor_margin * sale.net, spot)
    zero = _at_level(order, to_cover, spot)
    return BreakEven(
        spot_at_floor=floor.above,
        spot_at_zero=zero.above,
        spot_at_floor_below=floor.below,
        spot_at_zero_below=zero.below,
    )


def _at_level(order: MetalLine, target: Decimal, spot: Spot) -> Crossings:
    return crossings(order, target=target, spot=spot.price)


def margin_on_paid(
    sheet: SpotFreeSheet, sale: Sale, wish: Wish, *, spot: Spot | None
) -> OnPaid | None:
    """The margin with each coin at what was really paid [currency]; None if not given.

    The coin's line is replaced by starts × paid and exchanges follow; all else is
    as in the cost sheet.
    """
    parts = sheet.ingredients
    if wish.coin_paid is None or parts.coin is None:
        return None
    price = spot.price if spot else money.ZERO
    terms = parts.book.after_sale
    starts = parts.spoilage.starts_per_good
    saved = starts * (parts.coin.line.at(price) - wish.coin_paid)
    exact = sheet.exact.at(price) - saved * (1 + terms.rate * terms.share)
    cost = wish.quantity * money.amount(exact, parts.book.currency)
    margin = sale.margin + sale.cost - cost
    rate = money.half_up(margin / sale.net, money.RATE_STEP) if sale.net else None
    return OnPaid(paid=wish.coin_paid, margin=margin, margin_rate=rate)
