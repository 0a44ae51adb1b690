"""The lines of an order sold as a whole, so that every rounding is done once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from pricing import money
from pricing.estimate import Estimate
from pricing.price_book import Channel
from pricing.sale import CostFigures, Sale, SaleTerms, sale_at


def sale_of_lines(lines: Sequence[Estimate], channel: Channel) -> Sale:
    """What follows from selling all ``lines`` in one order.

    The order is one piece: its price is what the goods of the lines come to, and it
    costs what they cost. Tax on the goods, tax on the shipping and each fee are
    rounded once on that, as in any sale.

    Goods, shipping and cost are exact sums of the lines'. The taxes, fees, nets and
    margins of n lines differ from the order's by roundings alone: each tax by at
    most (n + 1) ÷ 2 minor units, and the margin, with k fees, by at most half a
    minor unit for each of the (n + 1) × (2 + k) roundings of taxes and fees and of
    the k fixed fees that were shared. (Fees that together take more than all of
    the price weigh the taxes more.)

    So the order as a whole can miss a rule that each of its lines meets, and no
    price is raised for it: a target margin or an earning by the hour by as much as
    the margins differ, a markup or multipliers by as much as the nets do. Of a pair
    that is a cent or two. A least price is met exactly, as is all by a single line.

    Args:
        lines: at least one, each with its share of the channel.
        channel: what falls once an order, unshared [currency].
    """
    goods = _sum(line.price.sale.total for line in lines)
    terms = SaleTerms(channel=channel, currency=lines[0].currency)
    return sale_at(goods, terms=terms, cost=_cost(lines))


def _cost(lines: Sequence[Estimate]) -> CostFigures:
    whole = [(line.cost.figures, line.wish.quantity) for line in lines]
    return CostFigures(
        per_piece=_sum(each.per_piece * count for each, count in whole),
        labour=_sum(each.labour * count for each, count in whole),
        attended_minutes=_sum(each.attended_minutes * count for each, count in whole),
        by_kind={},  # the rules that ask for it are those of the lines
    )


def _sum(amounts: Iterable[Decimal]) -> Decimal:
    return sum(amounts, money.ZERO)
