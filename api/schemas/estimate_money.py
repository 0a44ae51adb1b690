"""The sections of an estimate about money: cost, price, margin, break-even, risk.

All amounts are in the currency of the estimate.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from api.schemas.document import Answer
from api.schemas.estimate_parts import LONG, MOST_COUNT
from api.schemas.fields import (
    SHARE,
    Choice,
    DecimalText,
    ListOf,
    MoneyText,
    Part,
    StrictInteger,
    Text,
)
from api.schemas.telling import told
from pricing.money import SPOT_STEP, arithmetic, half_up
from pricing.price_book import LINE_KINDS

RULES = ("target_margin", "markup", "multipliers", "min_hourly", "min_price")


class CrossingText(DecimalText):
    """An exact solution for a spot price, shown to 0.0001 [currency/ozt]."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(allow_none=True, **settings)
        # A cost that hardly moves with spot meets its level very far out.
        self.pattern = r"^(0|[1-9][0-9]{0,33})(\.[0-9]{1,4})?$"

    def _serialize(self, value: Decimal | None, *_: Any, **__: Any) -> str | None:
        if value is None:
            return None
        with arithmetic():
            return super()._serialize(half_up(value, SPOT_STEP))


class CostLineDocument(Answer):
    """One line of the cost sheet with the arithmetic behind it."""

    kind = told(Choice, "What kind of cost.", LINE_KINDS)
    label = told(Text, "What it is.", most=LONG)
    amount = told(MoneyText, "For one good piece; what comes back is negative.")
    how = told(Text, "The arithmetic in one line.", most=LONG)


class CostDocument(Answer):
    """The cost of one good piece; the lines add up to it."""

    lines = told(ListOf, "The cost sheet.", Part(CostLineDocument), most=1000)
    per_piece = told(MoneyText, "Cost of one good piece.")
    per_start = told(MoneyText, "Cost of one coin started.")
    recovery_per_start = told(MoneyText, "What comes back of one coin started.")
    labour = told(MoneyText, "Bench wage in a good piece.")
    attended_minutes = told(DecimalText, "Bench time of a good piece [min].")
    unattended_minutes = told(DecimalText, "Waiting time of a good piece [min].")
    slope_per_spot = told(
        DecimalText, "Change of the cost when spot rises by 1 [ozt]; may be negative."
    )


class FeeDocument(Answer):
    """One fee of the channel."""

    label = told(Text, "What it is.", most=200)
    amount = told(MoneyText, "For the order.")
    how = told(Text, "The arithmetic.", most=LONG)


class RuleDocument(Answer):
    """One rule of the policy and the least unit price that meets it alone."""

    name = told(Choice, "The rule.", RULES)
    needed = told(Text, "What it asks for.", most=LONG)
    least_unit = told(MoneyText, "Least price of a piece that meets it.")


class PriceDocument(Answer):
    """The price of a piece and of the order, and what is taken from it."""

    unit = told(MoneyText, "Price of one piece.", attribute="sale.unit")
    total = told(MoneyText, "Price of all pieces.", attribute="sale.total")
    net = told(MoneyText, "The same without tax.", attribute="sale.net")
    tax = told(MoneyText, "Tax on the pieces.", attribute="sale.tax")
    shipping_charged = told(
        MoneyText, "Shipping the buyer pays.", attribute="sale.shipping_charged"
    )
    shipping_net = told(
        MoneyText, "The same without tax.", attribute="sale.shipping_net"
    )
    shipping_tax = told(MoneyText, "Tax on shipping.", attribute="sale.shipping_tax")
    shipping_paid = told(
        MoneyText, "What shipping costs.", attribute="sale.shipping_paid"
    )
    fees = told(MoneyText, "All fees of the order.", attribute="sale.fees_total")
    fee_lines = told(
        ListOf, "Each fee.", Part(FeeDocument), most=200, attribute="sale.fees"
    )
    cost = told(MoneyText, "Cost of all pieces.", attribute="sale.cost")
    bound_by = told(
        Choice,
        "The rule that set the price, or rounding; given: it stood already.",
        (*RULES, "rounding", "given"),
    )
    rules = told(
        ListOf,
        "Every rule of the policy; of a given price, those that can be met.",
        Part(RuleDocument),
        most=5,
    )


class OnPaidDocument(Answer):
    """The margin if each coin cost what was really paid for it."""

    paid = told(MoneyText, "For one coin.")
    amount = told(MoneyText, "Margin of the order.", attribute="margin")
    rate = told(
        DecimalText, "As a share of net.", attribute="margin_rate", allow_none=True
    )


class MarginDocument(Answer):
    """What is left of the order once its cost, fees and shipping are paid."""

    amount = told(MoneyText, "Margin of the order.", attribute="price.sale.margin")
    rate = told(
        DecimalText,
        "As a share of net.",
        attribute="price.sale.margin_rate",
        allow_none=True,
    )
    target = told(
        DecimalText,
        "What the policy aims at for this quantity.",
        attribute="price.target_margin",
        allow_none=True,
    )
    floor = told(
        DecimalText, "What it must not fall under.", attribute="policy.floor_margin"
    )
    markup = told(
        DecimalText,
        "Net over cost, less one.",
        attribute="price.sale.markup",
        allow_none=True,
    )
    hourly = told(
        MoneyText,
        "Margin and wage for an hour at the bench.",
        attribute="price.sale.hourly",
        allow_none=True,
    )
    discount_headroom = told(
        DecimalText,
        "Largest discount that stays above the floor, as a share.",
        attribute="price.discount_headroom",
    )
    on_paid = told(
        Part,
        "The margin on what was really paid; null if not asked for.",
        OnPaidDocument,
        allow_none=True,
    )


class BreakEvenDocument(Answer):
    """Spots at which the margin is at the floor, or gone; null where there is none."""

    spot_at_floor = told(CrossingText, "At the floor, above today's [currency/ozt].")
    spot_at_zero = told(CrossingText, "At zero, above today's [currency/ozt].")
    spot_at_floor_below = told(
        CrossingText, "At the floor, below today's [currency/ozt]."
    )
    spot_at_zero_below = told(CrossingText, "At zero, below today's [currency/ozt].")


class RiskDocument(Answer):
    """A seeded simulation of the order."""

    orders = told(StrictInteger, "Orders simulated.", least=1, most=MOST_COUNT)
    seed = told(StrictInteger, "The same seed, the same figures.", least=0, most=9999)
    mean = told(MoneyText, "Mean cost of an order.")
    standard_error = told(MoneyText, "Of that mean.")
    low = told(MoneyText, "5 in 100 orders cost no more.")
    median = told(MoneyText, "Half of the orders cost no more.")
    high = told(MoneyText, "95 in 100 orders cost no more.")
    chance_of_loss = told(DecimalText, "Share of orders that lose money.", bounds=SHARE)
    mean_attempts = told(DecimalText, "Mean coins started for an order.")
