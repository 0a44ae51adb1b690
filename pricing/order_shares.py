"""What falls once an order, shared over its lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from pricing import money
from pricing.price_book import Channel, Shipping


def shared_channels(
    channel: Channel, pieces: Sequence[int], *, currency: money.Currency
) -> tuple[Channel, ...]:
    """A channel for each line, with its share of what falls once an order.

    Each fixed fee, shipping charged and shipping paid are rounded to the minor
    unit and shared by pieces; the minor units left over go to the largest
    remainders, the line of more pieces first among equals. The order of the lines
    matters only to lines of equally many pieces: the earlier comes first.

    Args:
        channel: where the order is sold, amounts for a whole order [currency].
        pieces: of each line [pieces].
        currency: whose minor unit is the step.

    >>> shop = Channel(key="shop", shipping=Shipping(charged=Decimal("6.90")))
    >>> euro = money.currency("EUR")
    >>> [x.shipping.charged for x in shared_channels(shop, (1, 2, 1), currency=euro)]
    [Decimal('1.73'), Decimal('3.45'), Decimal('1.72')]
    """
    fixed = [_shares(fee.fixed, pieces, currency) for fee in channel.fees]
    charged = _shares(channel.shipping.charged, pieces, currency)
    paid = _shares(channel.shipping.paid, pieces, currency)
    return tuple(
        replace(
            channel,
            fees=tuple(
                replace(fee, fixed=shares[i])
                for fee, shares in zip(channel.fees, fixed, strict=True)
            ),
            shipping=Shipping(charged=charged[i], paid=paid[i]),
        )
        for i in range(len(pieces))
    )


def _shares(
    whole: Decimal, pieces: Sequence[int], currency: money.Currency
) -> tuple[Decimal, ...]:
    presented, count = money.amount(whole, currency), sum(pieces)
    # The line of most pieces first, so that equal remainders of unlike lines are
    # told apart by the lines themselves and not by their order.
    by_pieces = sorted(range(len(pieces)), key=lambda i: -pieces[i])
    exact = [presented * pieces[i] / count for i in by_pieces]
    shares = dict(zip(by_pieces, money.share_out(exact, currency), strict=True))
    return tuple(shares[i] for i in range(len(pieces)))
