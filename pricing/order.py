"""Several kinds of ring sold together: each line an estimate, one sale over all.

What falls once an order, fixed fees and shipping, is shared over the lines by
their pieces, to the minor unit and by largest remainder, so that the shares add up
to the whole. Each line is then priced as it stands, with its share for a channel.

The order is charged as a whole: its goods and cost are the sums of its lines', and
tax, shipping and fees are worked once on these, as in the sale of a single piece.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache
from types import MappingProxyType

from pricing import money
from pricing.coin import Coin
from pricing.errors import InvalidInput, PricingError
from pricing.estimate import Estimate, Prepared, prepare
from pricing.market import UNKNOWN, Market
from pricing.order_sale import sale_of_lines
from pricing.order_shares import shared_channels
from pricing.order_starts import CoinsNeeded, coins_needed, confidence_of
from pricing.price_book import Channel, PriceBook
from pricing.sale import Sale
from pricing.spot import Spot
from pricing.wish import MOST_PIECES, Wish

MOST_LINES = 50
"""Lines of one order."""

__all__ = ["MOST_LINES", "CoinsNeeded", "Order", "PreparedOrder", "prepare_order"]

_MINUTES_PER_HOUR = 60
_NONE_GIVEN: Mapping[int, Decimal] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What several lines cost and sell for together; nothing is stored by it.

    Every amount is worked once on the whole order. Those of the lines add up to it
    but for roundings, and for these the order can miss a rule that each of its lines
    meets; ``sale_of_lines`` tells by how much at most.

    Attributes:
        currency, book_version: of every line.
        lines: an estimate each; ``channel`` of a line has its share of what falls
            once an order.
        channel: where the order is sold, unshared.
        pieces: rings in all [pieces].
        sale: the whole order as if it were one piece, which costs what all cost
            and whose ``unit`` price is the goods.
        bench_hours: attended time of all pieces, at 0.01 [h].
        coins_to_start: by type, in the order of the lines; own coins, which
            cannot be replaced, are left out.
        confidence: chance that these coins are enough for the whole order
            [fraction], the highest that a line asks for.
    """

    currency: money.Currency
    book_version: int
    lines: tuple[Estimate, ...]
    channel: Channel
    pieces: int
    sale: Sale
    bench_hours: Decimal
    coins_to_start: tuple[CoinsNeeded, ...]
    confidence: Decimal

    @property
    def goods(self) -> Decimal:
        """The goods as displayed [currency]."""
        return self.sale.total

    @property
    def shipping(self) -> Decimal:
        """Charged for shipping, as displayed [currency]."""
        return self.sale.shipping_charged

    @property
    def tax(self) -> Decimal:
        """On goods and on shipping, each rounded once [currency]."""
        return self.sale.tax_total

    @property
    def total(self) -> Decimal:
        """All that the buyer pays, tax and all [currency]."""
        return self.sale.charged

    @property
    def net(self) -> Decimal:
        """Goods without tax [currency]."""
        return self.sale.net

    @property
    def fees(self) -> Decimal:
        """Taken by the channel [currency]."""
        return self.sale.fees_total

    @property
    def cost(self) -> Decimal:
        """Of all pieces [currency]."""
        return self.sale.cost

    @property
    def margin(self) -> Decimal:
        """Net + shipping without tax − fees − cost − shipping paid [currency]."""
        return self.sale.margin

    @property
    def margin_rate(self) -> Decimal | None:
        """Margin over net, at 0.0001 [fraction]; None for a net of zero."""
        return self.sale.margin_rate


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PreparedOrder:
    """An order worked out as far as it goes without a spot."""

    book: PriceBook
    channel: Channel
    lines: tuple[Prepared, ...]
    coins_to_start: tuple[CoinsNeeded, ...]
    confidence: Decimal

    @property
    def needs_spot(self) -> bool:
        """Whether the cost of any line moves with the spot."""
        return any(line.needs_spot for line in self.lines)

    def at(
        self,
        spot: Spot | None,
        *,
        market: Market = UNKNOWN,
        unit_prices: Mapping[int, Decimal] = _NONE_GIVEN,
    ) -> Order:
        """The whole order at one spot.

        Args:
            spot: in the book's currency [currency/ozt]; None where none is needed.
            market: how old it is and how it moved lately.
            unit_prices: of a piece of those lines, by their position, whose price
                stands already [currency].

        Raises:
            InvalidInput: no spot where a coin needs one, or another currency; a
                unit price that cannot be.
            NoPossiblePrice: a rule of a line's policy cannot be met.
        """
        estimates = []
        for i, line in enumerate(self.lines):
            with _line(i):
                given = unit_prices.get(i)
                estimates.append(line.at(spot, market=market, unit_price=given))
        with money.arithmetic():
            return self._of(tuple(estimates))

    def _of(self, lines: tuple[Estimate, ...]) -> Order:
        return Order(
            currency=self.book.currency,
            book_version=self.book.version,
            lines=lines,
            channel=self.channel,
            pieces=_pieces(self.lines),
            sale=sale_of_lines(lines, self.channel),
            bench_hours=_bench_hours(lines),
            coins_to_start=self.coins_to_start,
            confidence=self.confidence,
        )


def prepare_order(book: PriceBook, lines: Sequence[tuple[Coin, Wish]]) -> PreparedOrder:
    """Work an order out as far as it goes without a spot.

    Fixed fees and shipping are shared over the lines by pieces; the quantity
    breaks of each line's policy count the pieces of the whole order. An order of
    one line is priced exactly as its estimate alone.

    Args:
        book: the workshop's price book, amounts in its currency.
        lines: coin and wish of each line, 1 to ``MOST_LINES`` of them and
            ``MOST_PIECES`` pieces at most in all.

    Raises:
        UnknownKey: a channel, policy or extra the book does not have.
        NotMakeable: a coin cannot become its ring.
        InvalidInput: too many lines or pieces, lines of several channels, or
            figures that do not fit together. The paths of all of them begin with
            ``lines`` and the position of the line.
    """
    _check_count(lines)
    alone = []
    for i, (coin, wish) in enumerate(lines):
        with _line(i):
            alone.append(prepare(book, coin, wish))
    channel = _one_channel(alone)
    with money.arithmetic():
        confidence = confidence_of(alone)
        return PreparedOrder(
            book=book,
            channel=channel,
            lines=_sharing(alone, channel),
            coins_to_start=coins_needed(alone, confidence=confidence),
            confidence=confidence,
        )


@contextmanager
def _line(i: int) -> Iterator[None]:
    """Whatever goes wrong is told of line ``i``."""
    try:
        yield
    except PricingError as error:
        error.place("lines", i)
        raise


def _check_count(lines: Sequence[tuple[Coin, Wish]]) -> None:
    if not 1 <= len(lines) <= MOST_LINES:
        raise InvalidInput(
            f"{len(lines)} lines are given; an order has 1 to {MOST_LINES}",
            path=("lines",),
        )
    pieces = sum(wish.quantity for _, wish in lines)
    if pieces > MOST_PIECES:
        raise InvalidInput(
            f"{pieces} pieces are too many for one order; ask for at most "
            f"{MOST_PIECES} in all",
            path=("lines",),
        )


def _one_channel(lines: Sequence[Prepared]) -> Channel:
    channel = lines[0].channel
    for i, line in enumerate(lines):
        if line.channel != channel:
            raise InvalidInput(
                f"this line is sold through '{line.channel.key}' and the first "
                f"through '{channel.key}'; sell an order through one channel",
                path=("lines", i, "channel"),
            )
    return channel


def _sharing(lines: Sequence[Prepared], channel: Channel) -> tuple[Prepared, ...]:
    if len(lines) == 1:
        return tuple(lines)
    counts, currency = [line.wish.quantity for line in lines], lines[0].book.currency
    shares = shared_channels(channel, counts, currency=currency)
    return tuple(
        _as_line(line.book, line.coin, line.wish, channel=share, pieces=sum(counts))
        for line, share in zip(lines, shares, strict=True)
    )


@lru_cache(maxsize=512)
def _as_line(
    book: PriceBook, coin: Coin, wish: Wish, *, channel: Channel, pieces: int
) -> Prepared:
    """The line of an order; kept, so that what is kept of its prices is found."""
    alone = prepare(book, coin, wish)
    return replace(alone, channel=channel, order_pieces=pieces)


def _bench_hours(lines: Iterable[Estimate]) -> Decimal:
    times = (line.cost.attended_minutes * line.wish.quantity for line in lines)
    minutes = sum(times, money.ZERO)
    return money.half_up(minutes / _MINUTES_PER_HOUR, money.HOURS_STEP)


def _pieces(lines: Iterable[Prepared]) -> int:
    return sum(line.wish.quantity for line in lines)
