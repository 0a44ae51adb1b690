"""Margin checks on the wire, for the bench: all of it is costs and margins."""

from __future__ import annotations

from api.schemas.document import Answer, ListOf, Part
from api.schemas.estimate_parts import LONG, MOST_COUNT
from api.schemas.exact import DecimalText
from api.schemas.fields import (
    CurrencyText,
    KeyText,
    StrictBoolean,
    StrictInteger,
    Text,
)
from api.schemas.margin_check_parts import (
    BRIDGE,
    MOST_ROWS,
    BridgePartDocument,
    ByCoinDocument,
    ByJobDocument,
    ByStageDocument,
    DaysDocument,
    FlagDocument,
    JudgedDocument,
    PromisesDocument,
    ProposalDocument,
    TotalsDocument,
    TrendDocument,
    how_many,
)
from api.schemas.margin_checks import WeekText
from api.schemas.telling import told
from pricing.margin_check.outcome import PARTS


class MarginCheckDocument(DaysDocument):
    """Some days at the bench, planned against realised."""

    class Meta(DaysDocument.Meta):
        """As of the days."""

    week = told(WeekText, "The ISO week they are; null for others.", allow_none=True)
    timezone = told(Text, "Days are in it.", most=64)
    currency = told(CurrencyText, "Every amount is in it (ISO 4217).")
    headline = told(Text, "All of it in one line.", most=LONG)
    attention = told(StrictBoolean, "Whether anything needs attention.")
    jobs = how_many("Completed jobs.")
    pieces = how_many("Good rings promised.")
    coins = told(DecimalText, "Coins used.")
    under_floor = how_many("Jobs under their floor.")
    planned = told(Part, "As promised.", TotalsDocument)
    realised = told(Part, "As it came.", TotalsDocument)
    bridge = told(ListOf, BRIDGE, Part(BridgePartDocument), most=len(PARTS))
    labour = told(DecimalText, "Wage of the attended minutes [currency].")
    hourly = told(
        DecimalText,
        "Margin and wage for an attended hour [currency]; null: none was attended.",
        allow_none=True,
    )
    other_currencies = how_many("Jobs in other currencies, which are left out.")
    flags = told(ListOf, "What needs attention.", Part(FlagDocument), most=MOST_ROWS)
    by_coin = told(ListOf, "Coin by coin.", Part(ByCoinDocument), most=MOST_ROWS)
    by_stage = told(ListOf, "Stage by stage.", Part(ByStageDocument), most=MOST_ROWS)
    by_job = told(
        ListOf,
        "Jobs under their floor, then those that lost most.",
        Part(ByJobDocument),
        most=MOST_ROWS,
    )
    jobs_left_out = how_many("Jobs that are not listed.")
    window = told(Part, "The days that stages are judged by.", DaysDocument)
    judged = told(ListOf, "The book's stages.", Part(JudgedDocument), most=MOST_ROWS)
    proposals = told(ListOf, "New standards.", Part(ProposalDocument), most=MOST_ROWS)
    open_promises = told(Part, "As of now.", PromisesDocument)
    trend = told(ListOf, "Twelve weeks, oldest first.", Part(TrendDocument), most=12)


class RingMadeSizeDocument(Answer):
    """A finger size."""

    system = told(Text, "The system.", most=20)
    size = told(Text, "The size in it.", most=20)


class EffectDocument(Answer):
    """A ring made often, at the spot in force; amounts of a piece [currency].

    Null where it cannot be priced. By the book's first channel and policy.
    """

    coin = told(KeyText, "Key of the coin.")
    coin_name = told(Text, "What a person calls it.", most=LONG)
    size = told(Part, "Finger size.", RingMadeSizeDocument)
    pieces = how_many("Made in the window.")
    cost = told(DecimalText, "Cost by the book in force.", allow_none=True)
    price = told(DecimalText, "Price by the book in force.", allow_none=True)
    new_cost = told(DecimalText, "Cost with the change.", allow_none=True)
    new_price = told(DecimalText, "Price with the change.", allow_none=True)


class ProposedDocument(ProposalDocument):
    """A proposal, and what it alone would do."""

    class Meta(ProposalDocument.Meta):
        """As of a proposal."""

    effects = told(ListOf, "On up to three rings.", Part(EffectDocument), most=3)


class ProposalListDocument(Answer):
    """All proposals of a week."""

    week = told(WeekText, "The last of the weeks they rest on.")
    currency = told(CurrencyText, "Every amount is in it (ISO 4217).")
    book_version = told(
        StrictInteger, "The price book they are for.", least=1, most=MOST_COUNT
    )
    window = told(Part, "The days they rest on.", DaysDocument)
    proposals = told(
        ListOf, "Each with its effect.", Part(ProposedDocument), most=MOST_ROWS
    )
    together = told(ListOf, "What all would do.", Part(EffectDocument), most=3)


class AcceptedDocument(Answer):
    """Proposals that are in the price book now."""

    book_version = told(
        StrictInteger, "The version that has them.", least=1, most=MOST_COUNT
    )
    proposals = told(ListOf, "As accepted.", Part(ProposalDocument), most=MOST_ROWS)
