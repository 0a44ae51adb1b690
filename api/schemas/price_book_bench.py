"""The bench side of a price book, described: wages, materials, stages, metal.

Amounts are in the book's currency, times minutes, shares plain fractions.
"""

from __future__ import annotations

from api.schemas.described import (
    Described,
    Figure,
    Line,
    Many,
    Name,
    Table,
    Whole,
    Word,
)
from pricing.price_book import BASES, DRIVERS, REMOVALS
from pricing.price_book.limits import (
    AMOUNT,
    CALIBRATION,
    COUNT,
    COUNT_FROM_ONE,
    LENGTH_MM,
    PART,
    PREMIUM,
    SHARE,
    SIZES,
    WEEK_HOURS,
)

_DRIVER_WORDS = {
    "wrap_sizes": "for each size wrapped down",
    "stretch_sizes": "for each size stretched open",
    "press_sizes": "for each size pressed",
    "dome_sizes": "for each size of bore allowance",
    "bored_g": "for each gram bored out",
    "land_mm": "for each millimetre of land",
}

ByDriver = Described.from_dict(
    {driver: Figure(AMOUNT, f"So much {_DRIVER_WORDS[driver]}.") for driver in DRIVERS},
    name="ByDriver",
)


class LabourBody(Described):
    """Wage and overhead, both for an attended hour, and the hours of a week."""

    rate_per_hour = Figure(AMOUNT, "Bench wage [currency/h].", needed=True)
    overhead_per_hour = Figure(AMOUNT, "Room, light, insurance [currency/h].")
    hours_per_week = Figure(
        WEEK_HOURS, "Attended hours for orders [h/week]; left out, no dates are named."
    )


class ConsumableBody(Described):
    """Something used up at the bench."""

    key = Name("What stages call it by.")
    title = Line("What a person calls it.")
    unit = Line("Unit it is counted in: m, g, sheet.", needed=True)
    price = Figure(AMOUNT, "Price of one unit [currency].", needed=True)


class ToolBody(Described):
    """A tool that wears: (price − salvage) ÷ life_uses for each use."""

    key = Name("What stages call it by.")
    title = Line("What a person calls it.")
    price = Figure(AMOUNT, "What it cost [currency].", needed=True)
    salvage = Figure(AMOUNT, "What it still sells for when worn [currency].")
    life_uses = Whole(COUNT_FROM_ONE, "Uses until it is worn.", needed=True)


class ConsumableUseBody(Described):
    """What one visit to a stage uses up."""

    key = Name("The consumable.")
    quantity = Figure(AMOUNT, "How much of it [its unit].", needed=True)
    quantity_per = Table(ByDriver, "And how much more by the work to be done.")


class ChanceBody(Described):
    """A chance at one visit: a rate alone, or tried and failed from counts."""

    rate = Figure(PART, "The chance itself.")
    tried = Whole(COUNT, "Visits counted.")
    failed = Whole(COUNT, "How many of them failed.")


class RedoBody(ChanceBody):
    """The chance that a piece goes back, and where to."""

    to = Name("This stage or an earlier one.")


class StageBody(Described):
    """One step at the bench."""

    key = Name("Its name in the bench log.")
    title = Line("What a person calls it.", needed=True)
    setup_minutes = Figure(AMOUNT, "Attended, for each batch [min].")
    batch = Whole(COUNT_FROM_ONE, "Pieces that share one setup.")
    minutes = Figure(AMOUNT, "Attended, for each visit [min].")
    minutes_per = Table(ByDriver, "More attended minutes by the work to be done.")
    unattended_minutes = Figure(AMOUNT, "Waiting, which costs nothing [min].")
    consumables = Many(ConsumableUseBody, "What a visit uses up.")
    tools = Many(Name(), "Tools a visit wears.")
    removes = Word(REMOVALS, "Metal that is gone after this stage.")
    scrap = Table(ChanceBody, "Chance that the piece is lost here.")
    redo = Table(RedoBody, "Chance that it goes back.")


class RecoveryBody(Described):
    """What scrap brings in, as a share of its melt value, and the finish loss."""

    slug = Figure(SHARE, "Paid for slugs.")
    filings = Figure(SHARE, "Paid for filings.")
    scrap = Figure(SHARE, "Paid for scrapped pieces.")
    finish_loss = Figure(PART, "Share of the bored ring lost in finishing.")


class CoinBuyingBody(Described):
    """How coins are paid for unless a coin says otherwise."""

    basis = Word(BASES, "melt, paid, or greater_of the two.")
    premium = Figure(PREMIUM, "Over melt, as a share.")
    extra = Figure(AMOUNT, "Added to the melt price [currency].")
    paid = Figure(AMOUNT, "A fixed amount for each coin [currency].")
    wear = Figure(PART, "Share of the mass lost in use.")


class FormingBody(Described):
    """The limits of this bench."""

    punches_mm = Many(
        Figure(LENGTH_MM, "Diameter of a punch [mm].", needed=True),
        "Punches owned, rising; none: any hole can be cut.",
    )
    min_wall_mm = Figure(LENGTH_MM, "Thinnest finished wall [mm].")
    min_land_mm = Figure(LENGTH_MM, "Shortest land that can be folded [mm].")
    opening_allowance = Figure(
        SIZES, "Sizes the coin edge is opened beyond the finger size [US sizes]."
    )


class CalibrationBody(Described):
    """What the scale showed over what the model says, for one coin."""

    coin = Name("The coin.")
    slug = Figure(CALIBRATION, "Factor on the slug's mass.")
    bored = Figure(CALIBRATION, "Factor on the bored mass.")
