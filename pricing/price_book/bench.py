"""The bench side of a price book: wages, materials, tools, stages, recovery, coins.

Amounts are in the book's currency, times minutes [min], lengths millimetres
[mm], rates and shares plain fractions (0.12 is 12 %), ring sizes US numbers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from types import MappingProxyType
from typing import Literal

from pricing.money import ONE, ZERO

Basis = Literal["melt", "paid", "greater_of"]
Removal = Literal["", "slug", "bore", "finish"]

BASES: tuple[Basis, ...] = ("melt", "paid", "greater_of")
REMOVALS: tuple[Removal, ...] = ("", "slug", "bore", "finish")
DRIVERS = (
    "wrap_sizes",
    "stretch_sizes",
    "press_sizes",
    "dome_sizes",
    "bored_g",
    "land_mm",
)
"""What minutes and consumables may depend on; figures of the forming plan."""

NO_DRIVERS: Mapping[str, Decimal] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class Labour:
    """Bench wage and overhead, and how much bench time there is.

    Attributes:
        rate_per_hour, overhead_per_hour: per attended hour [currency/h].
        hours_per_week: attended hours the workshop gives to orders [h/week]; None
            where it promises no dates.
    """

    rate_per_hour: Decimal
    overhead_per_hour: Decimal = ZERO
    hours_per_week: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Consumable:
    """Something used up at the bench; ``price`` per ``unit`` [currency/unit]."""

    key: str
    unit: str
    price: Decimal
    title: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """A tool that wears: (price − salvage) / life_uses for each use [currency]."""

    key: str
    price: Decimal
    salvage: Decimal = ZERO
    life_uses: int
    title: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ConsumableUse:
    """Quantity of a consumable in one visit, with drivers as for minutes [its unit]."""

    key: str
    quantity: Decimal
    quantity_per: Mapping[str, Decimal] = field(default_factory=lambda: NO_DRIVERS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """A chance at one visit, given as a rate or counted as failed of tried.

    Exactly one of ``rate`` and the pair ``tried``, ``failed`` is set.
    """

    rate: Decimal | None = None
    tried: int | None = None
    failed: int | None = None


NEVER = Chance(rate=ZERO)


@dataclass(frozen=True, slots=True, kw_only=True)
class Redo:
    """The chance that a stage sends the piece back, and the stage it goes back to."""

    chance: Chance
    to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One step at the bench.

    Attributes:
        setup_minutes: attended minutes per batch, shared by ``batch`` pieces [min].
        minutes: attended minutes a visit [min].
        minutes_per: attended minutes for each unit of a driver [min/driver].
        unattended_minutes: waiting a visit, which costs nothing [min].
        removes: what of the coin is gone after this stage.
    """

    key: str
    title: str
    setup_minutes: Decimal = ZERO
    batch: int = 1
    minutes: Decimal = ZERO
    minutes_per: Mapping[str, Decimal] = field(default_factory=lambda: NO_DRIVERS)
    unattended_minutes: Decimal = ZERO
    consumables: tuple[ConsumableUse, ...] = ()
    tools: tuple[str, ...] = ()
    removes: Removal = ""
    scrap: Chance = NEVER
    redo: Redo | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Recovery:
    """Share of the melt value paid for each kind of scrap, and the finish loss.

    Attributes:
        slug, filings, scrap: payout as a share of melt value.
        finish_loss: share of the bored ring's mass lost in finishing.
    """

    slug: Decimal = ZERO
    filings: Decimal = ZERO
    scrap: Decimal = ZERO
    finish_loss: Decimal = ZERO


@dataclass(frozen=True, slots=True, kw_only=True)
class CoinBuying:
    """How coins are paid for unless a coin says otherwise.

    Attributes:
        basis: ``melt`` (fine metal × spot × (1 + premium) + extra), ``paid`` (a
            fixed amount) or ``greater_of`` the two.
        premium: over melt, as a share.
        extra: added to the melt price [currency].
        paid: the fixed amount [currency], or None where each coin has its own.
        wear: mass lost in circulation, as a share.
    """

    basis: Basis = "melt"
    premium: Decimal = ZERO
    extra: Decimal = ZERO
    paid: Decimal | None = None
    wear: Decimal = ZERO


@dataclass(frozen=True, slots=True, kw_only=True)
class Forming:
    """The limits of this bench.

    Attributes:
        punches_mm: punches owned, rising [mm]; empty: any hole can be cut.
        min_wall_mm: thinnest finished wall [mm] (common practice, no source).
        min_land_mm: shortest land that can be folded [mm] (common practice, no source).
        opening_allowance: sizes the coin edge is opened beyond the finger size
            [US sizes] (common practice, no source: 2.5 to 3).
    """

    punches_mm: tuple[Decimal, ...] = ()
    min_wall_mm: Decimal = Decimal("0.5")
    min_land_mm: Decimal = Decimal("2.5")
    opening_allowance: Decimal = Decimal("2.5")


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """What the scale showed over what the model said, for one coin and removal."""

    coin: str
    slug: Decimal = ONE
    bored: Decimal = ONE
