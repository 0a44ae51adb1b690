"""The work of each stage for one ring: minutes, materials and tool uses a visit.

References:
    [1] Units-of-production depreciation: (cost − salvage) / life in uses, for
        each use (OpenStax, Principles of Accounting, Volume 1, ch. 11.3).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from pricing.money import ZERO
from pricing.price_book import PriceBook, Stage, Tool


@dataclass(frozen=True, slots=True, kw_only=True)
class StageWork:
    """What one visit to a stage takes.

    Attributes:
        minutes: attended [min], the share of the set-up included.
        unattended_minutes: waiting [min].
        consumables: (key, quantity [its unit]) pairs.
        tools: keys of the tools used once each.
        removes: what of the coin is gone after the first visit.
    """

    key: str
    title: str
    minutes: Decimal
    unattended_minutes: Decimal
    consumables: tuple[tuple[str, Decimal], ...]
    tools: tuple[str, ...]
    removes: str


def driven(
    base: Decimal, per: Mapping[str, Decimal], drivers: Mapping[str, Decimal]
) -> Decimal:
    """Fixed part and driven parts: base + Σ per[driver] × driver [the unit of base].

    Args:
        base: fixed part [minutes or a quantity].
        per: amount for one unit of each driver [the same, per driver].
        drivers: the forming plan's figures by name.
    """
    return base + sum((rate * drivers[name] for name, rate in per.items()), ZERO)


def stage_work(stage: Stage, drivers: Mapping[str, Decimal]) -> StageWork:
    """One visit to a stage for a plan's drivers; minutes = setup/batch + driven."""
    base = stage.setup_minutes / stage.batch + stage.minutes
    return StageWork(
        key=stage.key,
        title=stage.title,
        minutes=driven(base, stage.minutes_per, drivers),
        unattended_minutes=stage.unattended_minutes,
        consumables=tuple(
            (use.key, driven(use.quantity, use.quantity_per, drivers))
            for use in stage.consumables
        ),
        tools=stage.tools,
        removes=stage.removes,
    )


def route_work(
    book: PriceBook, drivers: Mapping[str, Decimal]
) -> tuple[StageWork, ...]:
    """The work of every stage in order."""
    return tuple(stage_work(stage, drivers) for stage in book.stages)


def wear_per_use(tool: Tool) -> Decimal:
    """Depreciation of a tool for one use [currency/use]; see [1].

    >>> wear_per_use(Tool(key="press", price=Decimal(58000),
    ...     salvage=Decimal(10000), life_uses=960000))
    Decimal('0.05')
    """
    return (tool.price - tool.salvage) / tool.life_uses


def visit_cost(book: PriceBook, work: StageWork) -> Decimal:
    """Labour, overhead, materials and tool wear of one visit [currency]."""
    hourly = book.labour.rate_per_hour + book.labour.overhead_per_hour
    materials = (q * book.consumable(key).price for key, q in work.consumables)
    wear = (wear_per_use(book.tool(key)) for key in work.tools)
    return work.minutes / 60 * hourly + sum(materials, ZERO) + sum(wear, ZERO)
