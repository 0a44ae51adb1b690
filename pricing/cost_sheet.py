"""The cost of one good piece, line by line, each a function of the spot price.

cost per start = coin + Σ visits·(labour + overhead + consumables + tools); cost per
good piece = (cost per start − recovery per start) / P + extras + packaging, and
exchanges after the sale as a share of that. Every line is kept exact against
spot; presented lines are shared out so that they add up to the presented total.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from pricing import money
from pricing.bench_lines import Yielded, bench_lines, extra_lines
from pricing.coin_cost import CoinCost
from pricing.cost_line import ExactLine
from pricing.metal_line import MetalLine
from pricing.price import CostFigures
from pricing.price_book import AfterSale, Channel, Extra, PriceBook
from pricing.recovery import LABELS, Recovered
from pricing.route import StageWork
from pricing.spoilage import Spoilage
from pricing.spot import Spot


@dataclass(frozen=True, slots=True, kw_only=True)
class CostLine:
    """One line as presented: ``amount`` [currency] and the arithmetic behind it."""

    kind: str
    label: str
    amount: Decimal
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CostSheet:
    """The cost of one good piece at one spot.

    Attributes:
        lines: presented lines [currency]; they add up to ``per_piece``.
        per_piece: cost of one good piece, presented [currency].
        per_start: cost of one start before anything is recovered [currency].
        recovery_per_start: what comes back from one start [currency].
        labour: bench wage in one good piece, extras included [currency].
        attended_minutes: paid minutes in one good piece, extras included [min].
        unattended_minutes: waiting in one good piece [min].
        exact: cost of one good piece against spot, unrounded [currency].
        slope_per_spot: change of the cost for one unit of spot [currency per
            currency/ozt].
    """

    lines: tuple[CostLine, ...]
    per_piece: Decimal
    per_start: Decimal
    recovery_per_start: Decimal
    labour: Decimal
    attended_minutes: Decimal
    unattended_minutes: Decimal
    exact: MetalLine
    slope_per_spot: Decimal

    @property
    def by_kind(self) -> Mapping[str, Decimal]:
        """Presented amounts summed by kind of line [currency]."""
        sums: dict[str, Decimal] = {}
        for line in self.lines:
            sums[line.kind] = sums.get(line.kind, money.ZERO) + line.amount
        return MappingProxyType(sums)

    @property
    def figures(self) -> CostFigures:
        """What a price has to cover, as presented."""
        return CostFigures(
            per_piece=self.per_piece,
            labour=self.labour,
            attended_minutes=self.attended_minutes,
            by_kind=self.by_kind,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Ingredients:
    """All that a cost sheet is made of, before a spot is known.

    Attributes:
        coin: what one coin costs, or None for a customer's own coin.
        compensation: agreed for an own coin that is lost [currency].
        recovered: what comes back from one start.
    """

    book: PriceBook
    channel: Channel
    extras: tuple[Extra, ...]
    work: tuple[StageWork, ...]
    spoilage: Spoilage
    coin: CoinCost | None
    compensation: Decimal
    recovered: tuple[Recovered, ...]


@dataclass(frozen=True, slots=True)
class SpotFreeSheet:
    """A cost sheet with the spot still open; ``at`` fills it in."""

    ingredients: Ingredients
    lines: tuple[ExactLine, ...]
    yielded: Yielded
    exact: MetalLine

    def at(self, spot: Spot | None) -> CostSheet:
        """The sheet at a spot [currency/ozt]; None where no line depends on it."""
        unit = self.ingredients.book.currency
        price = spot.price if spot else money.ZERO
        exact = [line.line.at(price) for line in self.lines]
        shown = money.share_out(exact, unit)
        start, back = self._per_start(price)
        return CostSheet(
            lines=tuple(
                CostLine(kind=x.kind, label=x.label, amount=amount, how=x.how(spot))
                for x, amount in zip(self.lines, shown, strict=True)
            ),
            per_piece=sum(shown, money.ZERO),
            per_start=money.amount(start, unit),
            recovery_per_start=money.amount(back, unit),
            labour=money.amount(self.yielded.labour, unit),
            attended_minutes=money.minutes(self.yielded.attended_minutes),
            unattended_minutes=money.minutes(self.yielded.unattended_minutes),
            exact=self.exact,
            slope_per_spot=money.half_up(self.exact.slope_at(price), money.SPOT_STEP),
        )

    def per_piece_at(self, price: Decimal) -> Decimal:
        """Cost of a good piece, presented [currency], at ``price`` [currency/ozt]."""
        return money.amount(self.exact.at(price), self.ingredients.book.currency)

    def _per_start(self, price: Decimal) -> tuple[Decimal, Decimal]:
        coin = self.ingredients.coin
        start = self.yielded.bench_per_start + (coin.line.at(price) if coin else 0)
        back = (-item.credit.at(price) for item in self.ingredients.recovered)
        return start, sum(back, money.ZERO)


def open_sheet(ingredients: Ingredients) -> SpotFreeSheet:
    """All cost lines of one good piece against spot."""
    yielded, bench = bench_lines(
        ingredients.book, ingredients.work, ingredients.spoilage
    )
    extras = tuple(extra_lines(ingredients.book, ingredients.extras))
    before = [
        _coin_line(ingredients),
        *bench,
        *extras,
        *_packaging(ingredients.channel),
        *_recovery_lines(ingredients),
    ]
    subtotal = _total(before)
    after = list(_after_sale(ingredients.book.after_sale, subtotal))
    recovery = [line for line in before if line.kind == "recovery"]
    lines = [line for line in before if line.kind != "recovery"] + after + recovery
    return SpotFreeSheet(
        ingredients,
        tuple(lines),
        yielded.with_extras(ingredients.book, ingredients.extras),
        _total(lines),
    )


def _total(lines: Iterable[ExactLine]) -> MetalLine:
    return MetalLine.total(x.line for x in lines)


def _coin_line(parts: Ingredients) -> ExactLine:
    starts = parts.spoilage.starts_per_good
    if parts.coin is None:
        return _compensation(parts, starts)
    cost = parts.coin
    coins = money.shown(starts, money.RATE_STEP)

    def how(spot: Spot | None) -> str:
        each = money.amount(cost.at(spot), parts.book.currency)
        return f"{cost.how(spot)} = {each} a coin × {coins} coins for a good ring"

    return ExactLine("coin", "Coin", cost.line.scaled(starts), how)


def _compensation(parts: Ingredients, starts: Decimal) -> ExactLine:
    """(1 − P)/P × the agreed compensation: the customer's own coin costs nothing."""
    lost = starts - 1
    words = f"{money.shown(lost, money.RATE_STEP)} coins lost × {parts.compensation}"
    return ExactLine.fixed(
        "coin", "Compensation for a lost coin", lost * parts.compensation, words
    )


def _packaging(channel: Channel) -> Iterator[ExactLine]:
    if channel.packaging:
        words = (
            f"{channel.packaging} a piece sold through {channel.title or channel.key}"
        )
        yield ExactLine.fixed("packaging", "Packaging", channel.packaging, words)


def _after_sale(terms: AfterSale, subtotal: MetalLine) -> Iterator[ExactLine]:
    factor = terms.rate * terms.share
    if not factor:
        return

    def how(spot: Spot | None) -> str:
        cost = subtotal.at(spot.price if spot else money.ZERO)
        return (
            f"{money.percent(terms.rate)} exchanged × {money.percent(terms.share)} of "
            f"{money.trimmed(cost)}"
        )

    line = subtotal.scaled(factor)
    yield ExactLine("after_sale", "Exchanges and remakes", line, how)


def _recovery_lines(parts: Ingredients) -> Iterator[ExactLine]:
    starts = parts.spoilage.starts_per_good
    coins = money.shown(starts, money.RATE_STEP)
    for item in parts.recovered:

        def how(spot: Spot | None, item: Recovered = item) -> str:
            words = item.how(spot) if spot else ""
            return f"{words} × {coins} coins for a good ring"

        credit = item.credit.scaled(starts)
        yield ExactLine("recovery", LABELS[item.kind], credit, how)
