"""The parts of a margin check on the wire."""

from __future__ import annotations

from typing import ClassVar

from api.schemas.as_written import DayText
from api.schemas.document import Answer, ListOf, Part
from api.schemas.estimate_parts import LONG, MOST_COUNT
from api.schemas.exact import DecimalText
from api.schemas.fields import (
    Choice,
    KeyText,
    StrictBoolean,
    StrictInteger,
    Text,
)
from api.schemas.margin_checks import ProposalPathText, WeekText
from api.schemas.telling import told
from pricing.margin_check.outcome import PARTS

CAUSES = (*PARTS, "plan")
FLAG_CODES = ("under_floor", "scrap_differs", "redo_differs", "minutes_differ")
KINDS = ("scrap", "redo", "minutes")
MOST_ROWS = 5000
_PLANNED_MARGIN = "As promised [currency]."
_MARGIN = "Realised [currency]."
BRIDGE = "What the difference is made of; the amounts add up to it exactly."


def how_many(about: str) -> StrictInteger:
    """How many of something."""
    return told(StrictInteger, about, least=0, most=MOST_COUNT)


class BridgePartDocument(Answer):
    """One part of the difference between realised and planned margin."""

    part = told(Choice, "What it comes from.", PARTS)
    amount = told(DecimalText, "What it does to the margin; a loss is negative.")


class DaysDocument(Answer):
    """From one day to another, both among them."""

    class Meta(Answer.Meta):
        """``from`` is a word of the language, and cannot be written above."""

        include: ClassVar = {"from": told(DayText, "The first day.")}

    to = told(DayText, "The last day.")


class TotalsDocument(Answer):
    """What came in without tax, what it cost, what was left, and for how long."""

    revenue = told(DecimalText, "Goods and shipping, without tax [currency].")
    cost = told(DecimalText, "Making, fees and sending [currency].")
    margin = told(DecimalText, "Revenue less cost [currency].")
    minutes = told(DecimalText, "Attended at the bench [min].")


class FlagDocument(Answer):
    """Something that needs attention."""

    code = told(
        Choice,
        "A job under its policy's floor, or a stage whose scrap, redo or minutes "
        "differ from the price book by more than chance allows.",
        FLAG_CODES,
    )
    subject = told(Text, "Number of the job, or key of the stage.", most=LONG)
    title = told(Text, "What a person calls it.", most=LONG)
    evidence = told(Text, "Why, in one line.", most=LONG)
    n = how_many("Pieces, tries or attempts it rests on.")


class ByCoinDocument(Answer):
    """What the rings of one coin came to."""

    coin = told(KeyText, "Its key; null: it came with the quote.", allow_none=True)
    coin_name = told(Text, "What a person calls it.", most=LONG)
    pieces = how_many("Good rings promised.")
    coins_planned = told(DecimalText, "Coins that were to be started.")
    coins = told(DecimalText, "Coins that were.")
    planned_margin = told(DecimalText, _PLANNED_MARGIN)
    margin = told(DecimalText, _MARGIN)
    bridge = told(ListOf, BRIDGE, Part(BridgePartDocument), most=len(PARTS))


class ByStageDocument(Answer):
    """What happened at one stage on these days."""

    stage = told(KeyText, "Its key.")
    title = told(Text, "What a person calls it.", most=LONG)
    tried = how_many("Visits.")
    failed = how_many("Pieces scrapped here.")
    redone = how_many("Pieces sent back from here, as far as visits were counted.")
    timed = how_many("Attempts whose time was taken.")
    minutes = told(DecimalText, "Of the timed ones [min].")
    planned_minutes = told(DecimalText, "What these were to take [min].")
    labour_efficiency = told(
        DecimalText, "What longer or shorter work did to the margin [currency]."
    )


class ByJobDocument(Answer):
    """One completed job."""

    id = told(Text, "Its name in addresses.", most=64)
    number = told(Text, "What people call it.", most=64)
    title = told(Text, "What it was.", most=LONG)
    completed_day = told(DayText, "When it was done.")
    pieces = how_many("Good rings promised.")
    planned_margin = told(DecimalText, _PLANNED_MARGIN)
    margin = told(DecimalText, _MARGIN)
    minutes = told(DecimalText, "Attended [min].")
    planned_minutes = told(DecimalText, "Planned [min].")
    under_floor = told(StrictBoolean, "Whether the margin is under the floor.")
    cause = told(Choice, "Of a job under its floor: what took most.", CAUSES,
                 allow_none=True)  # fmt: skip
    bridge = told(ListOf, BRIDGE, Part(BridgePartDocument), most=len(PARTS))
    assumed = told(
        ListOf,
        "What was not logged, and so taken as planned.",
        Text(most=LONG),
        most=MOST_ROWS,
    )


class SaidDocument(Answer):
    """One thing that can be said of a stage, or that there are too few tries to."""

    kind = told(Choice, "Of what.", KINDS)
    differs = told(StrictBoolean, "Whether it differs; else there are too few tries.")
    n = how_many("Tries or attempts.")
    low = told(
        DecimalText,
        "Lower end of the 95 % interval: a chance, or minutes an attempt.",
        allow_none=True,
    )
    high = told(DecimalText, "Its upper end.", allow_none=True)
    words = told(Text, "The evidence in one line.", most=LONG)


class JudgedDocument(Answer):
    """A stage of the price book, with the window's evidence.

    Only jobs that were planned with the standard in force count.
    """

    stage = told(KeyText, "Its key.")
    title = told(Text, "What a person calls it.", most=LONG)
    tried = how_many("Visits.")
    failed = how_many("Pieces scrapped here.")
    counted = how_many("Visits of attempts that tell their visits.")
    redone = how_many("Of these, sent back.")
    timed = how_many("Attempts whose time was taken.")
    minutes = told(DecimalText, "Of the timed ones [min].")
    planned_minutes = told(DecimalText, "What these were to take [min].")
    scrap_chance = told(DecimalText, "Of the book, a visit.")
    redo_chance = told(DecimalText, "Of the book, a visit; null: never.",
                       allow_none=True)  # fmt: skip
    said = told(ListOf, "Nothing: as the book says.", Part(SaidDocument), most=3)


class ProposalDocument(Answer):
    """A new standard for one place in the price book."""

    path = told(ProposalPathText, "Which place; to be named to accept it.")

    class Meta(Answer.Meta):
        """``from`` is a word of the language, and cannot be written above."""

        include: ClassVar = {"from": told(Text, "As the book has it.", most=LONG)}

    to = told(Text, "As it would have it.", most=LONG)
    n = how_many("Tries, attempts or readings it rests on.")
    how = told(Text, "The reasoning in one line.", most=LONG)


class PromisesDocument(Answer):
    """What is promised in open and accepted quotes, and not made yet."""

    quotes = how_many("How many.")
    accepted = how_many("How many of these are accepted.")
    coins = told(DecimalText, "Coins still to be started for them.")
    fine_ozt = told(DecimalText, "Silver in these coins [ozt].")
    per_unit_of_spot = told(
        DecimalText, "What one more unit of spot does to their margin [currency]."
    )
    left_out = how_many("Quotes that were not looked at.")


class TrendDocument(Answer):
    """One week of the trend."""

    week = told(WeekText, "Which one.")
    jobs = how_many("Completed in it.")
    under_floor = how_many("Of these, under their floor.")
    planned_margin = told(DecimalText, _PLANNED_MARGIN)
    margin = told(DecimalText, _MARGIN)
    hourly = told(DecimalText, "Margin and wage for an attended hour.", allow_none=True)
