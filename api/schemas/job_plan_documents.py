"""What a job was planned to be, on the wire, for the bench alone."""

from __future__ import annotations

from api.schemas.document import Answer
from api.schemas.estimate_parts import LONG, MOST_COUNT
from api.schemas.fields import (
    DecimalText,
    KeyText,
    ListOf,
    Part,
    StrictInteger,
    Text,
)
from api.schemas.jobs import (
    MOST_LINE,
    MOST_STAGES,
)
from api.schemas.telling import told


def figure(about: str, *, null: bool = False) -> DecimalText:
    """A field for an exact figure."""
    return told(DecimalText, about, allow_none=null)


class PlanStageDocument(Answer):
    """One stage of a line, as planned."""

    key = told(KeyText, "Its key.")
    title = told(Text, "What a person calls it.", most=LONG)
    minutes = figure("For the whole line, all starts and visits [min].")
    minutes_per_try = figure("For one attempt that comes here [min].")
    scrap_chance = figure("That a visit scraps the piece.")
    redo_chance = figure("That a visit sends it back; null: never.", null=True)


class PlanSizeDocument(Answer):
    """A finger size, as it was asked for."""

    system = told(Text, "The system asked in.", most=20)
    size = told(Text, "The size as asked.", most=20)
    us = figure("The same as a US number.")


class PlanLineDocument(Answer):
    """One line of a job, as planned; amounts are for all its pieces."""

    coin = told(Text, "Key of the coin; empty if given inline.", most=64)
    coin_name = told(Text, "What a person calls it.", most=LONG)
    size = told(Part, "Finger size.", PlanSizeDocument)
    pieces = told(StrictInteger, "Good pieces.", least=1, most=MOST_COUNT)
    goods = figure("What the buyer pays for them, tax and all [currency].")
    coins = figure("Coins to start.")
    coin_amount = figure("What these cost [currency].")
    recovery = figure("What slugs, filings and scrap bring in [currency].")
    labour = figure("Wage at the bench [currency].")
    overhead = figure("Overhead of these hours [currency].")
    minutes = figure("Attended [min].")
    consumables_and_tools = figure("Used up and worn [currency].")
    other = figure("Extras, packaging, exchanges [currency].")
    slug_g = figure("Slug of one coin by the model [g].")
    bored_g = figure("Bored out of one coin by the model [g].")
    stages = told(ListOf, "The route.", Part(PlanStageDocument), most=MOST_STAGES)


class PlanDocument(Answer):
    """What was promised, as figures; kept with the job, whatever changes later."""

    sold_price = figure("For the goods, tax and all [currency].")
    shipping_charged = figure("For sending them, tax and all [currency].")
    tax = figure("All the tax inside both [currency].")
    fees = figure("Of the channel [currency].")
    shipping_paid = figure("What sending costs [currency].")
    floor_margin = figure("Least margin over the net of the goods.")
    lines = told(ListOf, "Line by line.", Part(PlanLineDocument), most=MOST_LINE + 1)
