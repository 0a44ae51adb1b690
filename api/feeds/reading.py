"""From the bytes a feed answered to a price of one troy ounce, or a reason why not."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal

from api.feeds.answer_text import text_of
from api.feeds.csv_shape import csv_rows
from api.feeds.ecb import ecb_rates
from api.feeds.figures import figure
from api.feeds.json_shape import json_rows
from api.feeds.rows import Lookup, latest, one_row
from api.feeds.xml_shape import xml_rows
from api.ports.feeds import Feed, FeedFailed
from pricing.errors import InvalidInput
from pricing.money import ZERO, arithmetic, converted, exchange_rate
from pricing.spot import price_per_troy_ounce
from pricing.spot_guard import Reading

_SHAPES: dict[str, Callable[[Feed, str], Iterator[Lookup]]] = {
    "json": json_rows,
    "xml": xml_rows,
    "csv": csv_rows,
}


def read_feed(feed: Feed, body: bytes, content_type: str) -> tuple[Reading, ...]:
    """The price in an answer; of a file of reference rates, one a currency.

    Prices of silver are for one troy ounce, at 1e-6; those of a currency for
    one unit of it, at 1e-9; whatever the feed's own unit is [currency/unit].

    Args:
        feed: its description, as ``read_feed_document`` gives it.
        body: the answer, decompressed.
        content_type: the header's value, or empty.

    Raises:
        FeedFailed: no price can be read; nothing else, whatever the bytes.
    """
    with arithmetic():
        text = text_of(body, content_type)
        try:
            if feed.format == "ecb":
                return ecb_rates(feed, text)
            return (_reading(feed, _SHAPES[feed.format](feed, text)),)
        except InvalidInput as error:
            raise FeedFailed(
                "bad_description", f"The feed's description is wrong: {error.message}."
            ) from None


def _reading(feed: Feed, rows: Iterator[Lookup]) -> Reading:
    dated = feed.rows is not None or feed.format == "csv"
    row, as_of = latest(feed, rows) if dated else one_row(feed, next(rows))
    price, bid, ask = _prices(feed, row)
    return Reading(price=price, currency=feed.currency, as_of=as_of, bid=bid, ask=ask)


def _prices(feed: Feed, row: Lookup) -> tuple[Decimal, Decimal | None, Decimal | None]:
    """The price, and bid and ask where the feed gives both."""
    if feed.price is not None:
        return _kept(feed, _exact(feed, row, feed.price)), None, None
    # Who pays more metal for money asks less money for metal.
    low, high = (feed.ask, feed.bid) if feed.invert else (feed.bid, feed.ask)
    bid = None if low is None else _exact(feed, row, low)
    ask = None if high is None else _exact(feed, row, high)
    price = {"bid": bid, "ask": ask, "mid": _middle(bid, ask)}[feed.side]
    if price is None:
        raise InvalidInput(f"its side is {feed.side}, of which it has no path")
    if bid is None or ask is None:
        return _kept(feed, price), None, None
    return _kept(feed, price), _kept(feed, bid), _kept(feed, ask)


def _middle(bid: Decimal | None, ask: Decimal | None) -> Decimal | None:
    return None if bid is None or ask is None else (bid + ask) / 2


def _exact(feed: Feed, row: Lookup, path: str) -> Decimal:
    """The price at ``path`` of one unit of the metal [currency/unit], not rounded."""
    value = figure(row(path), mark=feed.decimal_mark)
    return price_per_troy_ounce(
        value, unit=feed.unit, hundredths=feed.hundredths, inverse=feed.invert
    )


def _kept(feed: Feed, price: Decimal) -> Decimal:
    kept = converted(price) if feed.metal == "XAG" else exchange_rate(price)
    if kept <= ZERO:
        raise FeedFailed("number_out_of_range", "The price is too small to be one.")
    return kept
