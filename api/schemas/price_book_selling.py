"""The selling side of a price book, described: channels, policies, extras.

Amounts are in the book's currency, rates and shares plain fractions (0.12 is 12 %).
"""

from __future__ import annotations

from api.schemas.described import (
    Described,
    Figure,
    Flag,
    Line,
    Many,
    MeanOrFigure,
    Name,
    Table,
    Whole,
    Word,
)
from pricing.price_book import FEE_BASES, LINE_KINDS
from pricing.price_book.limits import (
    AGE_HOURS,
    AMOUNT,
    COUNT_FROM_TWO,
    FACTOR,
    HOURS,
    PART,
    POSITIVE,
    QUANTILE,
    SHARE,
    SIGNED,
)

ByKind = Described.from_dict(
    {
        kind: Figure(FACTOR, f"Factor on {kind.replace('_', ' ')} lines.")
        for kind in LINE_KINDS
    },
    name="ByKind",
)


class AfterSaleBody(Described):
    """Exchanges and remakes."""

    rate = Figure(SHARE, "How many for each piece sold.")
    share = Figure(SHARE, "What one costs, as a share of a piece's cost.")


class TaxBody(Described):
    """Sales tax or VAT."""

    rate = Figure(SHARE, "The rate.")
    inclusive = Flag("Whether shown prices include it; true if left out.")


class FeeBody(Described):
    """A fee: rate × base + fixed, for each order."""

    label = Line("What it is.", needed=True)
    rate = Figure(SHARE, "Share of the base.")
    fixed = Figure(AMOUNT, "Fixed part [currency].")
    on = Word(
        FEE_BASES,
        "charged: goods and shipping with tax; goods: as shown; net: without tax.",
    )


class ShippingBody(Described):
    """Shipping of one order."""

    charged = Figure(AMOUNT, "What the buyer is charged [currency].")
    paid = Figure(AMOUNT, "What it costs [currency].")


class ChannelBody(Described):
    """A place where rings are sold."""

    key = Name("What estimates call it by.")
    title = Line("What a person calls it.")
    tax = Table(TaxBody, "Tax on what is sold here.")
    fees = Many(FeeBody, "What the place and the payment take.")
    shipping = Table(ShippingBody, "Shipping of an order.")
    packaging = Figure(AMOUNT, "For each piece [currency].")


class RoundingBody(Described):
    """The grid of prices: every whole k gives k × step + offset."""

    step = Figure(POSITIVE, "Distance of two prices [currency].", needed=True)
    offset = Figure(SIGNED, "Where the grid begins [currency].")


class DeadBandBody(Described):
    """Changes of a price that are not worth making."""

    amount = Figure(AMOUNT, "Up to so much [currency].")
    share = Figure(SHARE, "Up to this share of the price.")


class StaleSpotBody(Described):
    """How old a spot price may be, in hours of open market."""

    warn_hours = Figure(AGE_HOURS, "Over this, estimates say so [h]; 26 if left out.")
    refuse_hours = Figure(
        AGE_HOURS,
        "Over this, nothing is priced [h]; 72 if left out, more than warn_hours.",
    )


# 'from' is a word of the language and cannot be declared in a class.
QuantityBreakBody = Described.from_dict(
    {
        "from": Whole(COUNT_FROM_TWO, "From so many pieces on.", needed=True),
        "target_margin": Figure(PART, "Margin as a share of net.", needed=True),
    },
    name="QuantityBreakBody",
)


class PolicyBody(Described):
    """How cost becomes price; at least one rule is needed."""

    key = Name("What estimates call it by.")
    title = Line("What a person calls it.")
    target_margin = Figure(PART, "Rule: margin as a share of net.")
    floor_margin = Figure(PART, "Margin no price should fall under, as a share of net.")
    markup = Figure(FACTOR, "Rule: net over cost, less one.")
    multipliers = Table(ByKind, "Rule: net at least the cost lines times these.")
    min_hourly = Figure(
        AMOUNT, "Rule: least earning for an attended hour [currency/h]."
    )
    min_price = Figure(AMOUNT, "Rule: least price of a piece [currency].")
    rounding = Table(RoundingBody, "Grid of prices; left out, the minor unit.")
    validity_hours = Whole(HOURS, "How long a quote holds [h].")
    stale_spot = Table(StaleSpotBody, "How old a spot price may be.")
    dead_band = Table(DeadBandBody, "Changes not worth making.")
    max_step = Figure(SHARE, "Largest change made unasked, as a share.")
    allow_lowering = Flag("Whether repricing may lower; true if left out.")
    prudence = MeanOrFigure(QUANTILE, "mean, or the quantile chances are taken at.")
    quantity_breaks = Many(QuantityBreakBody, "Lower targets by rising quantity.")


class ExtraBody(Described):
    """Something added to a piece."""

    key = Name("What estimates call it by.")
    title = Line("What a person calls it.")
    price_cost = Figure(AMOUNT, "What it costs [currency].")
    minutes = Figure(AMOUNT, "Its attended minutes [min].")
