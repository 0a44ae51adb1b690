"""Cost lines of the bench: wages, overhead, materials, tool wear and extras.

Every figure is for one good piece: the visits expected of one start, divided by
the chance that a start ends good.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import NamedTuple

from pricing import money
from pricing.cost_line import ExactLine
from pricing.price_book import Extra, Labour, PriceBook
from pricing.route import StageWork, wear_per_use
from pricing.spoilage import Spoilage


@dataclass(frozen=True, slots=True, kw_only=True)
class Yielded:
    """Bench totals of one good piece.

    Attributes:
        attended_minutes: paid minutes [min].
        unattended_minutes: waiting [min].
        labour: wage for the attended minutes [currency].
        bench_per_start: wages, overhead, materials and wear of one start [currency].
    """

    attended_minutes: Decimal
    unattended_minutes: Decimal
    labour: Decimal
    bench_per_start: Decimal

    def with_extras(self, book: PriceBook, extras: tuple[Extra, ...]) -> Yielded:
        """The same with the minutes of the extras [min] added."""
        added = sum((extra.minutes for extra in extras), money.ZERO)
        return replace(
            self,
            attended_minutes=self.attended_minutes + added,
            labour=self.labour + added / 60 * book.labour.rate_per_hour,
        )


class _PerStart(NamedTuple):
    """Sums over the stages for one start."""

    attended: Decimal
    unattended: Decimal
    quantities: dict[str, Decimal]
    uses: dict[str, Decimal]


def _sum_route(work: tuple[StageWork, ...], spoilage: Spoilage) -> _PerStart:
    attended = unattended = money.ZERO
    quantities: dict[str, Decimal] = {}
    uses: dict[str, Decimal] = {}
    for stage, chance in zip(work, spoilage.stages, strict=True):
        visits = chance.visits
        attended += visits * stage.minutes
        unattended += visits * stage.unattended_minutes
        for key, quantity in stage.consumables:
            quantities[key] = quantities.get(key, money.ZERO) + visits * quantity
        for key in stage.tools:
            uses[key] = uses.get(key, money.ZERO) + visits
    return _PerStart(attended, unattended, quantities, uses)


def bench_lines(
    book: PriceBook, work: tuple[StageWork, ...], spoilage: Spoilage
) -> tuple[Yielded, tuple[ExactLine, ...]]:
    """Totals and lines of the bench for one good piece.

    Args:
        book: wages [currency/h], prices and tools.
        work: the work of one visit to each stage.
        spoilage: visits to each stage, and the chance that a start ends good.
    """
    sums = _sum_route(work, spoilage)
    starts = spoilage.starts_per_good
    attended = sums.attended * starts
    lines = (
        *_time_lines(book.labour, attended),
        *_material_lines(book, sums.quantities, starts),
        *_tool_lines(book, sums.uses, starts),
    )
    per_good = sum((line.line.base for line in lines), money.ZERO)
    totals = Yielded(
        attended_minutes=attended,
        unattended_minutes=sums.unattended * starts,
        labour=attended / 60 * book.labour.rate_per_hour,
        bench_per_start=per_good / starts,
    )
    return totals, lines


def _time_lines(labour: Labour, minutes: Decimal) -> Iterator[ExactLine]:
    words = f"{money.shown(minutes, money.MINUTE_STEP)} min ÷ 60 × "
    rate = labour.rate_per_hour
    yield ExactLine.fixed("labour", "Bench time", minutes / 60 * rate, f"{words}{rate}")
    rate = labour.overhead_per_hour
    if rate:
        yield ExactLine.fixed(
            "overhead", "Workshop overhead", minutes / 60 * rate, f"{words}{rate}"
        )


def _material_lines(
    book: PriceBook, quantities: dict[str, Decimal], starts: Decimal
) -> Iterator[ExactLine]:
    for key, per_start in quantities.items():
        item = book.consumable(key)
        quantity = per_start * starts
        words = f"{money.trimmed(quantity)} {item.unit} × {item.price}"
        label = item.title or _readable(key)
        yield ExactLine.fixed("consumable", label, quantity * item.price, words)


def _tool_lines(
    book: PriceBook, uses: dict[str, Decimal], starts: Decimal
) -> Iterator[ExactLine]:
    for key, per_start in uses.items():
        tool = book.tool(key)
        count = per_start * starts
        words = (
            f"{money.trimmed(count)} uses × ({tool.price} − {tool.salvage}) ÷ "
            f"{tool.life_uses} uses"
        )
        wear = count * wear_per_use(tool)
        yield ExactLine.fixed("tool", tool.title or _readable(key), wear, words)


def extra_lines(book: PriceBook, extras: tuple[Extra, ...]) -> Iterator[ExactLine]:
    """A line an extra: its price plus its minutes at labour and overhead rates."""
    hourly = book.labour.rate_per_hour + book.labour.overhead_per_hour
    for extra in extras:
        words = f"{extra.price_cost}"
        if extra.minutes:
            words += f" + {money.trimmed(extra.minutes)} min ÷ 60 × {hourly}"
        cost = extra.price_cost + extra.minutes / 60 * hourly
        yield ExactLine.fixed("extra", extra.title or _readable(extra.key), cost, words)


def _readable(key: str) -> str:
    return key.replace("_", " ").capitalize()
