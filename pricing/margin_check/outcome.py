"""What a check of one job says: totals, parts, lines and stages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from decimal import Decimal
from typing import Any

from pricing.money import ZERO

PARTS: tuple[str, ...] = (
    "price",
    "fees",
    "metal_price",
    "spoilage",
    "recovery",
    "labour_rate",
    "labour_efficiency",
    "overhead",
    "consumables_and_tools",
    "shipping",
    "tax",
)
"""What the difference between realised and planned margin is made of, in order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StageCounts:
    """What happened at a stage, as far as it was logged; sums of these are alike.

    Attributes:
        tried: visits, those of an attempt that tells none counted as one [visits].
        failed: attempts that were scrapped here [attempts].
        counted: visits of attempts that tell how often they came; only among these
            can one be seen to be sent back [visits].
        redone: of the counted, those that were sent back from here [visits].
        timed: attempts with minutes here [attempts].
        minutes: what these took [min].
        planned_minutes: what these were to take [min].
        difference_sq: Σ (minutes − plan)² over them [min²]; of an attempt that tells
            no visits at least what the planned redo chance makes of it.
    """

    tried: int = 0
    failed: int = 0
    counted: int = 0
    redone: int = 0
    timed: int = 0
    minutes: Decimal = ZERO
    planned_minutes: Decimal = ZERO
    difference_sq: Decimal = ZERO


COUNTS: tuple[str, ...] = tuple(each.name for each in fields(StageCounts))


def counts_of(stage: StageCounts) -> dict[str, Any]:
    """What happened at a stage, by the names of ``StageCounts``."""
    return {name: getattr(stage, name) for name in COUNTS}


@dataclass(frozen=True, slots=True, kw_only=True)
class StageOutcome(StageCounts):
    """What happened at one stage of a line.

    Attributes:
        key, title: of the stage.
        labour_efficiency: what longer or shorter work here did to the margin
            [currency]; the stages add up to the line's part of that name.
    """

    key: str
    title: str
    labour_efficiency: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class LineCheck:
    """One line of a job: planned margin + Σ parts = realised margin, exactly.

    Attributes:
        coin_key, coin_name: of the coin.
        pieces: good rings promised [pieces].
        coins_planned, coins_used: put to work [coins].
        planned_margin, realised_margin: its share of the job's [currency].
        parts: by the names of ``PARTS`` [currency]; a loss is negative.
        stages: stage by stage.
        slug_ratios, bored_ratios: each scale reading over the model's mass
            [fraction].
    """

    coin_key: str
    coin_name: str
    pieces: int
    coins_planned: Decimal
    coins_used: Decimal
    planned_margin: Decimal
    realised_margin: Decimal
    parts: Mapping[str, Decimal]
    stages: tuple[StageOutcome, ...]
    slug_ratios: tuple[Decimal, ...] = ()
    bored_ratios: tuple[Decimal, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """Net of tax what came in, all that it cost, and the difference [currency].

    Attributes:
        revenue: goods and shipping charged, without tax.
        cost: making, fees and sending.
        margin: revenue − cost.
    """

    revenue: Decimal
    cost: Decimal
    margin: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class JobCheck:
    """One job, planned against realised.

    Attributes:
        lines: line by line; their parts and margins add up to the job's.
        planned, realised: the totals.
        parts: by the names of ``PARTS`` [currency]; they add up to the realised
            margin less the planned one, to the minor unit.
        minutes, planned_minutes: attended [min].
        labour: wage of the attended minutes [currency].
        hourly: margin and labour for an attended hour [currency/h]; None where
            nothing is attended.
        under_floor: whether the realised margin is under the floor.
        cause: of a job under the floor: its worst part, or ``plan`` where it was
            planned so; else None.
        assumed: what was not logged and so taken as planned, as paths such as
            ``fees`` or ``lines[0].minutes.fold``.
    """

    lines: tuple[LineCheck, ...]
    planned: Totals
    realised: Totals
    parts: Mapping[str, Decimal]
    minutes: Decimal
    planned_minutes: Decimal
    labour: Decimal
    hourly: Decimal | None
    under_floor: bool
    cause: str | None
    assumed: tuple[str, ...]
