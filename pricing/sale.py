"""What follows from a unit price: tax, fees, shipping, margin, earning an hour.

Tax, fees and shipping are worked once for the whole order and rounded to the
minor unit as they are charged. A rate of 0.12 is 12 %.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple

from pricing.errors import InvalidInput
from pricing.markup import exact_percent
from pricing.money import ONE, RATE_STEP, ZERO, Currency, amount, half_up
from pricing.price_book.selling import Channel, Fee


@dataclass(frozen=True, slots=True, kw_only=True)
class SaleTerms:
    """Where, in what currency and how many pieces are sold in one order.

    Attributes:
        order_pieces: pieces of the whole order where this is one line of it
            [count]; None where it is all of it. The channel of a line has the
            line's share of what falls once an order.

    Raises:
        InvalidInput: a quantity under 1.
    """

    channel: Channel
    currency: Currency
    quantity: int = 1
    order_pieces: int | None = None

    @property
    def ordered(self) -> int:
        """Pieces that are sold in one order, on other lines too [count]."""
        return self.order_pieces or self.quantity

    def __post_init__(self) -> None:
        if self.quantity < 1:
            raise InvalidInput(
                f"{self.quantity} pieces cannot be sold; order 1 or more",
                path=("quantity",),
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class CostFigures:
    """The cost of one good piece, as presented on its cost sheet.

    Attributes:
        per_piece: all of it [currency].
        labour: the wages in it [currency].
        attended_minutes: bench time in it [min].
        by_kind: the presented lines summed by kind [currency].
    """

    per_piece: Decimal
    labour: Decimal
    attended_minutes: Decimal
    by_kind: Mapping[str, Decimal]


@dataclass(frozen=True, slots=True, kw_only=True)
class FeeCharge:
    """One fee on the order [currency], with its arithmetic in a line."""

    label: str
    amount: Decimal
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sale:
    """Everything that follows from a unit price, for the whole order [currency].

    Attributes:
        unit: price of one piece as displayed.
        total: quantity × unit, the goods as displayed.
        net: goods without tax.
        tax: tax on the goods.
        shipping_charged: shipping as displayed.
        shipping_net: shipping charged without tax.
        shipping_tax: tax on the shipping.
        shipping_paid: what sending the order costs.
        fees: each fee taken by the channel.
        fees_total: all of them.
        cost: quantity × cost of one piece.
        margin: net + shipping net − fees − cost − shipping paid.
        margin_rate: margin over net, at 0.0001; None for a net of zero.
        markup: net over cost, less one, at 0.0001; None unless cost is above zero.
        hourly: margin and labour for an attended hour, at the minor unit
            [currency/h]; None where nothing is attended.
    """

    unit: Decimal
    total: Decimal
    net: Decimal
    tax: Decimal
    shipping_charged: Decimal
    shipping_net: Decimal
    shipping_tax: Decimal
    shipping_paid: Decimal
    fees: tuple[FeeCharge, ...]
    fees_total: Decimal
    cost: Decimal
    margin: Decimal
    margin_rate: Decimal | None
    markup: Decimal | None
    hourly: Decimal | None

    @property
    def tax_total(self) -> Decimal:
        """Tax on goods and shipping [currency]."""
        return self.tax + self.shipping_tax

    @property
    def charged(self) -> Decimal:
        """All that the buyer pays: goods, shipping and tax [currency]."""
        return self.net + self.shipping_net + self.tax_total

    def keeps(self, margin_rate: Decimal) -> bool:
        """Whether margin ≥ ``margin_rate`` [fraction] × net, before any rounding."""
        return self.margin >= margin_rate * self.net


class Taken(NamedTuple):
    """What a unit price brings in and what is taken from it [currency]."""

    unit: Decimal
    goods: Decimal
    net: Decimal
    tax: Decimal
    charged: Decimal
    fees: list[Decimal]
    margin: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What of a sale does not depend on the unit price, worked out once.

    Attributes:
        terms: where and how many.
        figures: cost of one piece.
        minor: the minor unit [currency].
        tax_divisor: 1 + rate where shown prices include the tax, else 1.
        shipping_charged, shipping_net, shipping_tax, shipping_paid, cost: as in
            ``Sale`` [currency].
        shipping_gross: what the buyer pays for shipping, tax and all [currency].
        constant: shipping net − cost − shipping paid [currency].
    """

    terms: SaleTerms
    figures: CostFigures
    minor: Decimal
    tax_divisor: Decimal
    shipping_charged: Decimal
    shipping_net: Decimal
    shipping_tax: Decimal
    shipping_paid: Decimal
    cost: Decimal
    shipping_gross: Decimal
    constant: Decimal

    def taken(self, unit: Decimal) -> Taken:
        """All that follows from a ``unit`` price [currency], roundings done."""
        goods = unit * self.terms.quantity
        channel, minor = self.terms.channel, self.minor
        # Multiplied before divided: a product is exact, so a tie stays a tie.
        tax = half_up(goods * channel.tax.rate / self.tax_divisor, minor)
        net = goods - tax if channel.tax.inclusive else goods
        charged = net + tax + self.shipping_gross
        bases = {"charged": charged, "goods": goods, "net": net}
        fees, margin = [], net + self.constant
        for fee in channel.fees:
            part = half_up(fee.rate * bases[fee.on] + fee.fixed, minor)
            fees.append(part)
            margin -= part
        return Taken(unit, goods, net, tax, charged, fees, margin)


def order_of(terms: SaleTerms, cost: CostFigures) -> Order:
    """The order of these terms at this cost of one piece."""
    tax, shipping = terms.channel.tax, terms.channel.shipping
    charged = amount(shipping.charged, terms.currency)
    paid = amount(shipping.paid, terms.currency)
    divisor = ONE + tax.rate if tax.inclusive else ONE
    shipping_tax = amount(charged * tax.rate / divisor, terms.currency)
    shipping_net = charged - shipping_tax if tax.inclusive else charged
    total_cost = cost.per_piece * terms.quantity
    return Order(
        terms=terms,
        figures=cost,
        minor=terms.currency.step,
        tax_divisor=divisor,
        shipping_charged=charged,
        shipping_net=shipping_net,
        shipping_tax=shipping_tax,
        shipping_paid=paid,
        cost=total_cost,
        shipping_gross=shipping_net + shipping_tax,
        constant=shipping_net - total_cost - paid,
    )


def sale_at(unit: Decimal, *, terms: SaleTerms, cost: CostFigures) -> Sale:
    """Everything that follows from selling at ``unit`` [currency a piece].

    Tax inclusive: net = goods − round(goods × rate ÷ (1 + rate)); exclusive: net
    = goods, round(goods × rate) on top; shipping alike. Each fee is round(rate ×
    base + fixed). Margin = net + shipping net − fees − cost − shipping paid.

    Args:
        unit: price of one piece as displayed [currency].
        terms: channel, currency and quantity.
        cost: presented cost figures of one piece.

    Raises:
        InvalidInput: a unit price that is negative or no whole minor unit.
    """
    if unit < ZERO or unit != amount(unit, terms.currency):
        raise InvalidInput(
            f"{unit} is no price in {terms.currency.code}; give 0 or more, in whole "
            f"steps of {terms.currency.step:f}",
            path=("unit",),
        )
    order = order_of(terms, cost)
    return sale_of(order, order.taken(unit))


def sale_of(order: Order, taken: Taken) -> Sale:
    """The sale of ``order`` with what is ``taken`` at one of its prices."""
    channel = order.terms.channel
    return Sale(
        unit=taken.unit,
        total=taken.goods,
        net=taken.net,
        tax=taken.tax,
        shipping_charged=order.shipping_charged,
        shipping_net=order.shipping_net,
        shipping_tax=order.shipping_tax,
        shipping_paid=order.shipping_paid,
        fees=tuple(
            FeeCharge(
                label=fee.label, amount=part, how=_fee_how(fee, taken, of=order.terms)
            )
            for fee, part in zip(channel.fees, taken.fees, strict=True)
        ),
        fees_total=sum(taken.fees, ZERO),
        cost=order.cost,
        margin=taken.margin,
        margin_rate=_rate(taken.margin, taken.net) if taken.net else None,
        markup=_rate(taken.net - order.cost, order.cost) if order.cost > ZERO else None,
        hourly=_hourly(order, taken.margin),
    )


def _rate(part: Decimal, whole: Decimal) -> Decimal:
    return half_up(part / whole, RATE_STEP)


def _hourly(order: Order, margin: Decimal) -> Decimal | None:
    minutes = order.figures.attended_minutes * order.terms.quantity
    if minutes <= ZERO:
        return None
    earned = margin + order.figures.labour * order.terms.quantity
    return half_up(earned * 60 / minutes, order.minor)


def _fee_how(fee: Fee, taken: Taken, *, of: SaleTerms) -> str:
    if not fee.rate:
        whole = of.ordered == of.quantity
        return f"{fee.fixed:f} an order" if whole else f"{fee.fixed:f}, its share"
    bases = {"charged": taken.charged, "goods": taken.goods, "net": taken.net}
    share = f"{exact_percent(fee.rate)} × {bases[fee.on]:f}"
    return f"{share} + {fee.fixed:f}" if fee.fixed else share
