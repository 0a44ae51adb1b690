"""The sections of an estimate as they are written on the wire."""

from __future__ import annotations

from api.schemas.document import Answer
from api.schemas.fields import (
    CurrencyText,
    DecimalText,
    KeyText,
    LengthText,
    ListOf,
    MassText,
    MoneyText,
    Part,
    RateText,
    SpotText,
    StrictBoolean,
    StrictInteger,
    Text,
    UtcTime,
)

MOST_COUNT = 2**31 - 1


class SpotDocument(Answer):
    """The spot price an estimate stood on, from where and how old."""

    metal = Text(most=8)
    price = SpotText()
    currency = CurrencyText()
    as_of = UtcTime(allow_none=True)
    source = Text(most=80)
    age_hours = DecimalText(allow_none=True)


class FormingDocument(Answer):
    """From coin to ring: lengths [mm], masses [g], sizes [US sizes]."""

    hole_mm = LengthText(attribute="hole.diameter_mm")
    hole_why = Text(most=200, attribute="hole.why")
    land_mm = LengthText()
    thickness_mm = LengthText()
    density_g_cm3 = DecimalText()
    mass_g = MassText()
    slug_g = MassText()
    bored_g = MassText()
    finish_loss_g = MassText()
    finished_g = MassText()
    fine_g = MassText()
    fine_ozt = MassText()
    outside_diameter_mm = LengthText()
    wall_coin_edge_mm = LengthText()
    wall_hole_edge_mm = LengthText()
    opening_size_us = DecimalText()
    natural_size_us = DecimalText()
    wrap_sizes = DecimalText()
    stretch_sizes = DecimalText()
    press_sizes = DecimalText()
    dome_sizes = DecimalText()


class StageDocument(Answer):
    """One stage: work of a visit [min], and what becomes of one start there."""

    stage = KeyText()
    title = Text(most=200)
    minutes = DecimalText()
    unattended_minutes = DecimalText()
    visits = DecimalText()
    reached = DecimalText()
    scrap_chance = DecimalText()
    scrap_low = DecimalText(allow_none=True)
    scrap_high = DecimalText(allow_none=True)
    redo_chance = DecimalText(allow_none=True)
    redo_to = KeyText(allow_none=True)


class CoinsToStartDocument(Answer):
    """Coins to start so that all pieces are good at this confidence."""

    confidence = DecimalText()
    coins = StrictInteger(least=1, most=MOST_COUNT)


class SpoilageDocument(Answer):
    """The route as a chain of chances."""

    chance_good = DecimalText()
    starts_per_good = DecimalText()
    coins_to_start = ListOf(Part(CoinsToStartDocument), most=1)
    stages = ListOf(Part(StageDocument), most=200)


class CostLineDocument(Answer):
    """One line of the cost sheet with the arithmetic behind it."""

    kind = Text(most=20)
    label = Text(most=200)
    amount = MoneyText()
    how = Text(most=400)


class CostDocument(Answer):
    """The cost of one good piece; the lines add up to it."""

    lines = ListOf(Part(CostLineDocument), most=1000)
    per_piece = MoneyText()
    per_start = MoneyText()
    recovery_per_start = MoneyText()
    labour = MoneyText()
    attended_minutes = DecimalText()
    unattended_minutes = DecimalText()
    slope_per_spot = DecimalText()


class FeeDocument(Answer):
    """One fee of the channel."""

    label = Text(most=200)
    amount = MoneyText()
    how = Text(most=200)


class RuleDocument(Answer):
    """One rule of the policy and the least unit price that meets it alone."""

    name = Text(most=20)
    needed = Text(most=400)
    least_unit = MoneyText()


class PriceDocument(Answer):
    """The price of a piece and of the order, and what is taken from it."""

    unit = MoneyText(attribute="sale.unit")
    total = MoneyText(attribute="sale.total")
    net = MoneyText(attribute="sale.net")
    tax = MoneyText(attribute="sale.tax")
    shipping_charged = MoneyText(attribute="sale.shipping_charged")
    shipping_net = MoneyText(attribute="sale.shipping_net")
    shipping_tax = MoneyText(attribute="sale.shipping_tax")
    shipping_paid = MoneyText(attribute="sale.shipping_paid")
    fees = MoneyText(attribute="sale.fees_total")
    fee_lines = ListOf(Part(FeeDocument), most=200, attribute="sale.fees")
    cost = MoneyText(attribute="sale.cost")
    bound_by = Text(most=20)
    rules = ListOf(Part(RuleDocument), most=5)


class OnPaidDocument(Answer):
    """The margin if each coin cost what was really paid for it."""

    paid = MoneyText()
    amount = MoneyText(attribute="margin")
    rate = DecimalText(attribute="margin_rate", allow_none=True)


class MarginDocument(Answer):
    """What is left of the order once its cost, fees and shipping are paid."""

    amount = MoneyText(attribute="price.sale.margin")
    rate = DecimalText(attribute="price.sale.margin_rate", allow_none=True)
    target = RateText(attribute="price.target_margin", allow_none=True)
    floor = RateText(attribute="policy.floor_margin")
    markup = DecimalText(attribute="price.sale.markup", allow_none=True)
    hourly = MoneyText(attribute="price.sale.hourly", allow_none=True)
    discount_headroom = DecimalText(attribute="price.discount_headroom")
    on_paid = Part(OnPaidDocument, allow_none=True)


class BreakEvenDocument(Answer):
    """Spots at which the margin is at the floor, or gone [currency/ozt]."""

    spot_at_floor = DecimalText(allow_none=True)
    spot_at_zero = DecimalText(allow_none=True)
    spot_at_floor_below = DecimalText(allow_none=True)
    spot_at_zero_below = DecimalText(allow_none=True)


class CautionDocument(Answer):
    """Something to know about law, safety or the figures."""

    code = Text(most=60)
    text = Text(most=1000)
    audience = Text(most=10)
    source = Text(most=400)
    looked_up = StrictBoolean()


class OwnCoinDocument(Answer):
    """A coin the customer brought: it cannot be replaced."""

    compensation = MoneyText()
    chance_lost = DecimalText()
    text = Text(most=400)


class RiskDocument(Answer):
    """A seeded simulation of the order: cost of 5, 50 and 95 in 100 orders."""

    orders = StrictInteger(least=1, most=MOST_COUNT)
    seed = StrictInteger(least=0, most=MOST_COUNT)
    mean = MoneyText()
    standard_error = MoneyText()
    low = MoneyText()
    median = MoneyText()
    high = MoneyText()
    chance_of_loss = DecimalText()
    mean_attempts = DecimalText()
