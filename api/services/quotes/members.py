"""The members a quote keeps, so that nothing is priced again to read it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from api.ports import StoredQuote
from api.services.quotes.document import exact, named
from api.services.quotes.formats import Kept
from api.services.quotes.terms import LineAsk, QuoteTerms, deposit
from pricing import RULES_VERSION, money
from pricing.coin_document import coin_document, read_coin
from pricing.estimate import Estimate
from pricing.order import Order
from pricing.price_book import Channel, PriceBook
from pricing.wish_document import read_wish, wish_document

WriteEstimate = Callable[[Estimate], dict[str, Any]]
"""Gives the document of an estimate as it is written on the wire."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """What was asked for, priced by one book at one spot; promised to nobody yet."""

    asks: tuple[LineAsk, ...]
    book: PriceBook
    order: Order


def quote_members(
    offer: Offer,
    terms: QuoteTerms,
    *,
    write_estimate: WriteEstimate,
    renews: StoredQuote | None,
) -> dict[str, object]:
    """The members that are kept beside those of the quote itself.

    Args:
        offer: the priced lines.
        terms: on which terms.
        write_estimate: writes each line down.
        renews: the quote it takes the place of, or None.
    """
    lines = offer.order.lines
    return {
        "rules_version": RULES_VERSION,
        "workshop": {"title": offer.book.title, "timezone": offer.book.timezone},
        "channel": _channel(offer.order.channel),
        "lines": [write_estimate(line) for line in lines],
        "coins": [coin_document(line.coin) for line in lines],
        "coin_keys": [_key(ask) for ask in offer.asks],
        "wishes": [wish_document(ask.wish) for ask in offer.asks],
        "shown": [_shown(offer.book, line) for line in lines],
        "order": _order(offer.order, terms),
        "show_spot": terms.show_spot,
        "deposit_share": _optional(terms.deposit_share),
        "renews": None if renews is None else named(renews),
    }


def asked_before(document: Kept) -> list[LineAsk]:
    """What a quote was made for: coins by their key, or as they came with it.

    Raises:
        InvalidInput: it cannot be read as a wish of today; the path says which line.
    """
    lines = zip(
        document["coin_keys"], document["coins"], document["wishes"], strict=True
    )
    return [
        LineAsk(
            coin=key or read_coin(coin, path=("lines", place, "coin")),
            wish=read_wish(wish, path=("lines", place)),
        )
        for place, (key, coin, wish) in enumerate(lines)
    ]


def _optional(figure: Decimal | None) -> str | None:
    return None if figure is None else exact(figure)


def _key(ask: LineAsk) -> str | None:
    """The key a coin was asked for by; None for one that came with the request."""
    return ask.coin if isinstance(ask.coin, str) else None


def _channel(channel: Channel) -> dict[str, object]:
    return {
        "title": channel.title,
        "tax_rate": exact(channel.tax.rate),
        "tax_inclusive": channel.tax.inclusive,
    }


def _shown(book: PriceBook, line: Estimate) -> dict[str, object]:
    """What the customer's sheet calls the things of a line."""
    extras = [book.extra(key) for key in line.wish.extras]
    return {
        "coin": line.coin.label,
        "size": line.wish.size.label,
        "extras": [extra.title or extra.key for extra in extras],
    }


def _order(order: Order, terms: QuoteTerms) -> dict[str, object]:
    def shown(amount: Decimal) -> str:
        return exact(money.amount(amount, order.currency))

    return {
        "pieces": order.pieces,
        "goods": shown(order.goods),
        "shipping": shown(order.shipping),
        "tax": shown(order.tax),
        "total": shown(order.total),
        "deposit": _optional(deposit(order.total, terms.deposit_share, order.currency)),
        "net": shown(order.net),
        "fees": shown(order.fees),
        "cost": shown(order.cost),
        "margin": shown(order.margin),
        "margin_rate": _optional(order.margin_rate),
        "bench_hours": exact(order.bench_hours),
        "coins_to_start": [
            {
                "coin": each.coin.key or None,
                "coin_name": each.coin.label,
                "pieces": each.pieces,
                "coins": each.coins,
            }
            for each in order.coins_to_start
        ],
        "confidence": exact(order.confidence),
    }
