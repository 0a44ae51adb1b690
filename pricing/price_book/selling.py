"""The selling side of a price book: channels, policies, extras, after the sale.

Amounts are in the book's currency, rates and shares plain fractions (0.12 is
12 %), times hours [h] or minutes [min] as named.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

from pricing.money import ONE, ZERO

FeeBase = Literal["charged", "goods", "net"]

FEE_BASES: tuple[FeeBase, ...] = ("charged", "goods", "net")
LINE_KINDS = (
    "coin",
    "labour",
    "overhead",
    "consumable",
    "tool",
    "extra",
    "packaging",
    "after_sale",
    "recovery",
)
"""Kinds of cost line, in the order a cost sheet shows them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AfterSale:
    """Exchanges and remakes: how many per piece sold, and what share of its cost."""

    rate: Decimal = ZERO
    share: Decimal = ZERO


@dataclass(frozen=True, slots=True, kw_only=True)
class Tax:
    """Sales tax or VAT rate, and whether shown prices include it."""

    rate: Decimal = ZERO
    inclusive: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Fee:
    """rate × base + fixed, rounded to the minor unit [currency]."""

    label: str
    rate: Decimal = ZERO
    fixed: Decimal = ZERO
    on: FeeBase = "charged"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shipping:
    """What the buyer is charged for an order and what it costs [currency]."""

    charged: Decimal = ZERO
    paid: Decimal = ZERO


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """A place where rings are sold; ``packaging`` is per piece [currency]."""

    key: str
    title: str = ""
    tax: Tax = Tax()
    fees: tuple[Fee, ...] = ()
    shipping: Shipping = Shipping()
    packaging: Decimal = ZERO


@dataclass(frozen=True, slots=True, kw_only=True)
class Rounding:
    """The grid of prices: every whole k gives k·step + offset [currency]."""

    step: Decimal
    offset: Decimal = ZERO


@dataclass(frozen=True, slots=True, kw_only=True)
class DeadBand:
    """Changes inside the amount [currency] or the share are not worth making."""

    amount: Decimal = ZERO
    share: Decimal = ZERO


@dataclass(frozen=True, slots=True, kw_only=True)
class StaleSpot:
    """How old a spot price may be, both in hours of open market [h].

    Attributes:
        warn_hours: over this age, estimates say so.
        refuse_hours: over this age, nothing is priced with it.
    """

    warn_hours: Decimal = Decimal(26)
    refuse_hours: Decimal = Decimal(72)


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityBreak:
    """From this many pieces on, this target margin."""

    from_quantity: int
    target_margin: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """How cost becomes price; at least one rule is set.

    Attributes:
        target_margin: margin as a share of net goods.
        floor_margin: the margin no price should fall under, as a share of net.
        markup: net over cost, minus one.
        multipliers: cost kind → factor; kinds not named count once. None: no rule.
        min_hourly: least earning for an attended hour [currency/h].
        min_price: least price of one piece [currency].
        rounding: the grid; None is the currency's minor unit.
        validity_hours: how long a quote holds [h].
        dead_band, max_step, allow_lowering: limits on repricing.
        prudence: None prices at the mean of each chance, else at this quantile.
        quantity_breaks: lower targets for larger orders, by rising quantity.
        stale_spot: how old a spot price may be.
    """

    key: str
    title: str = ""
    target_margin: Decimal | None = None
    floor_margin: Decimal = ZERO
    markup: Decimal | None = None
    multipliers: Mapping[str, Decimal] | None = None
    min_hourly: Decimal | None = None
    min_price: Decimal | None = None
    rounding: Rounding | None = None
    validity_hours: int = 72
    dead_band: DeadBand = DeadBand()
    max_step: Decimal = ONE
    allow_lowering: bool = True
    prudence: Decimal | None = None
    quantity_breaks: tuple[QuantityBreak, ...] = ()
    stale_spot: StaleSpot = field(default_factory=StaleSpot)


@dataclass(frozen=True, slots=True, kw_only=True)
class Extra:
    """Something added to a piece: its price [currency] and its minutes [min]."""

    key: str
    title: str = ""
    price_cost: Decimal = ZERO
    minutes: Decimal = ZERO
