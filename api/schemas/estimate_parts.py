"""The sections of an estimate about the ring: spot, forming, spoilage, cautions."""

from __future__ import annotations

from api.schemas.document import Answer
from api.schemas.fields import (
    NOT_NEGATIVE,
    SHARE,
    CurrencyText,
    DecimalText,
    KeyText,
    LengthText,
    ListOf,
    MassText,
    MoneyText,
    Part,
    StrictBoolean,
    StrictInteger,
    Text,
    UtcTime,
)
from api.schemas.telling import told

MOST_COUNT = 2**31 - 1
LONG = 2000
"""Longest text made up of texts of the price book [characters]."""


class FxRateDocument(Answer):
    """The rate of exchange that brought a spot price into the book's currency."""

    base = told(CurrencyText, "The currency that is priced (ISO 4217).")
    quote = told(CurrencyText, "The currency it is priced in (ISO 4217).")
    rate = told(DecimalText, "What one unit of base costs [quote/base].")
    as_of = told(UtcTime, "When it was right; null if nobody said.", allow_none=True)
    source = told(
        Text, "manual, or the feed; of both legs if by way of a third.", most=200
    )
    age_hours = told(DecimalText, "Its age [h]; null if given.", allow_none=True)


class SpotDocument(Answer):
    """The spot price an estimate stood on, from where and how old."""

    metal = told(Text, "Code of the metal (ISO 4217).", most=8)
    price = told(DecimalText, "For one troy ounce [currency/ozt].")
    currency = told(CurrencyText, "Currency of the price (ISO 4217).")
    as_of = told(UtcTime, "When it was right; null if nobody said.", allow_none=True)
    source = told(
        Text, "manual, the key of the feed, or given with the request.", most=80
    )
    age_hours = told(DecimalText, "Its age [h]; null if given.", allow_none=True)
    stale = told(
        StrictBoolean,
        "Whether it, or its rate, is older than the policy likes; the caution "
        "spot_stale says how old.",
    )
    fx = told(
        Part,
        "How it was converted; null where it was in the book's currency.",
        FxRateDocument,
        allow_none=True,
    )
    original_price = told(
        DecimalText,
        "Before it was converted [original_currency/ozt]; else null.",
        allow_none=True,
    )
    original_currency = told(
        CurrencyText, "Its currency before that; else null.", allow_none=True
    )


class SuggestionDocument(Answer):
    """The longest time in which spot passes the floor with 5 % chance at most."""

    hours = told(DecimalText, "How long, from 1 to 720 [h].")
    sigma_daily = told(
        DecimalText, "How far spot moves in a day: deviation of log returns."
    )
    points = told(
        StrictInteger, "Daily prices it was found from.", least=0, most=MOST_COUNT
    )


class ValidityDocument(Answer):
    """How long the price may be promised."""

    policy_hours = told(StrictInteger, "By the policy [h].", least=0, most=MOST_COUNT)
    suggested = told(
        Part,
        "As the market has moved; null where too few prices are kept, or no rise "
        "of the spot takes the margin to its floor.",
        SuggestionDocument,
        allow_none=True,
    )


class FormingDocument(Answer):
    """From coin to ring, by a model that scale readings calibrate."""

    hole_mm = told(DecimalText, "Hole punched [mm].", attribute="hole.diameter_mm")
    hole_why = told(Text, "The rule that chose it.", most=LONG, attribute="hole.why")
    land_mm = told(LengthText, "Land: width of the band to be [mm].")
    thickness_mm = told(LengthText, "Mean thickness of the coin [mm].")
    density_g_cm3 = told(DecimalText, "Density of the metal [g/cm³].")
    mass_g = told(MassText, "Mass of the worn coin [g].")
    slug_g = told(MassText, "Mass punched out [g].")
    bored_g = told(MassText, "Mass bored out [g].")
    finish_loss_g = told(MassText, "Mass lost in finishing [g].")
    finished_g = told(MassText, "Mass of the finished ring [g].")
    fine_g = told(MassText, "Fine silver in the worn coin [g].")
    fine_ozt = told(MassText, "Fine silver in the worn coin [ozt].")
    outside_diameter_mm = told(LengthText, "Outside diameter of the ring [mm].")
    wall_coin_edge_mm = told(LengthText, "Wall where the coin's edge was [mm].")
    wall_hole_edge_mm = told(LengthText, "Wall where the hole's edge was [mm].")
    opening_size_us = told(DecimalText, "Size the coin edge is opened to [US number].")
    natural_size_us = told(DecimalText, "Size it has when folded [US number].")
    wrap_sizes = told(DecimalText, "Sizes to wrap down [US sizes].")
    stretch_sizes = told(DecimalText, "Sizes to stretch open [US sizes].")
    press_sizes = told(DecimalText, "Sizes to press down [US sizes].")
    dome_sizes = told(DecimalText, "Sizes bored out again [US sizes].")


class StageDocument(Answer):
    """One stage: the work of a visit, and what becomes of one start there."""

    stage = told(KeyText, "Key of the stage.")
    title = told(Text, "Its name.", most=200)
    minutes = told(DecimalText, "Attended, for a visit [min].")
    unattended_minutes = told(DecimalText, "Waiting, for a visit [min].")
    visits = told(DecimalText, "Visits expected of one start.")
    reached = told(DecimalText, "Chance that a start comes here at all.")
    scrap_chance = told(DecimalText, "Chance that a visit scraps the piece.")
    scrap_low = told(
        DecimalText,
        "Low end of its 95 % interval; null for a given rate.",
        allow_none=True,
    )
    scrap_high = told(
        DecimalText,
        "High end of its 95 % interval; null for a given rate.",
        allow_none=True,
    )
    redo_chance = told(
        DecimalText, "Chance that a visit sends it back; null: never.", allow_none=True
    )
    redo_to = told(KeyText, "The stage it goes back to.", allow_none=True)


class CoinsToStartDocument(Answer):
    """Coins to start so that all pieces are good at this confidence."""

    confidence = told(DecimalText, "How sure, between 0 and 1.")
    coins = told(StrictInteger, "Coins to start.", least=1, most=MOST_COUNT)


class SpoilageDocument(Answer):
    """The route as a chain of chances."""

    chance_good = told(DecimalText, "Chance that a start ends good.", bounds=SHARE)
    starts_per_good = told(
        DecimalText, "Coins started for each good ring.", bounds=NOT_NEGATIVE
    )
    coins_to_start = told(
        ListOf,
        "Coins to start for the order; empty for the customer's own coin.",
        Part(CoinsToStartDocument),
        most=1,
    )
    stages = told(ListOf, "The route, in order.", Part(StageDocument), most=200)


class CautionDocument(Answer):
    """Something to know about law, safety or the figures."""

    code = told(Text, "Short stable name.", most=60)
    text = told(Text, "What to watch and what to do.", most=1000)
    audience = told(Text, "bench, or buyer.", most=10)
    source = told(Text, "Where the fact comes from.", most=400)
    looked_up = told(StrictBoolean, "Whether all of it was read there.")


class OwnCoinDocument(Answer):
    """A coin the customer brought: it cannot be replaced."""

    compensation = told(MoneyText, "Agreed for a lost coin [currency].")
    chance_lost = told(DecimalText, "Chance that the coin is lost.", bounds=SHARE)
    text = told(Text, "Both in plain words, for the customer.", most=400)
