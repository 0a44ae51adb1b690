"""Repricings on the wire, for the bench: costs and margins follow from them."""

from __future__ import annotations

from typing import ClassVar

from api.schemas.as_written import AsWritten
from api.schemas.document import Answer, ListOf, Part
from api.schemas.estimate_parts import LONG, MOST_COUNT, SpotDocument
from api.schemas.exact import DecimalText
from api.schemas.fields import (
    Choice,
    CurrencyText,
    KeyText,
    StrictBoolean,
    StrictInteger,
    Text,
    UtcTime,
)
from api.schemas.listings import SkuText, size
from api.schemas.repricings import (
    DECISIONS,
    MOST_NAMED,
    MOST_ON_A_PAGE,
    MOST_SKUS,
    STATUS,
    STATUSES,
    RepricingIdText,
)
from api.schemas.telling import told

MOST_BANDS = 10**9
_OLD_MARGIN = "Share of the net price at this spot, before; null: none can be told."
_NEW_MARGIN = "The same at the new price."


def _bands(about: str) -> StrictInteger:
    return told(StrictInteger, about, least=0, most=MOST_BANDS)


class CountsDocument(Answer):
    """How many bands have each decision."""

    hold = _bands("Stay as they are.")
    review = _bands("Change by more than the policy's largest step: wait for a word.")
    lower = _bands("To be lowered.")
    locked = _bands("Belong to locked listings and stay as they are.")
    blocked = _bands("Cannot be priced and stay as they are.")

    class Meta(Answer.Meta):
        """``raise`` is a word of the language, and cannot be written above."""

        include: ClassVar = {"raise": _bands("To be raised.")}


class BandNameDocument(Answer):
    """A band of a listing, by its smallest size."""

    sku = told(SkuText, "The sku of its listing.")

    class Meta(Answer.Meta):
        """``from`` is a word of the language, and cannot be written above."""

        include: ClassVar = {"from": size("Its smallest size [US number].")}


class OutcomeDocument(Answer):
    """What is decided over all the bands looked at."""

    currency = told(CurrencyText, "Every amount is in it (ISO 4217).")
    book_version = told(
        StrictInteger, "Version of the price book used.", least=0, most=MOST_COUNT
    )
    spot = told(
        AsWritten,
        "The spot price it stands on; null where none is in force: bands that need "
        "one are blocked.",
        SpotDocument(),
        allow_none=True,
    )
    skus = told(
        ListOf,
        "The listings looked at; null: all of them.",
        SkuText(),
        most=MOST_SKUS,
        allow_none=True,
    )
    bands = _bands("How many bands were looked at.")
    counts = told(Part, "Bands by decision.", CountsDocument)
    value_change = told(
        DecimalText,
        "New less old price, over all bands to be raised or lowered [currency].",
    )


class RepricingDocument(OutcomeDocument):
    """A run over the listings, without its bands."""

    id = told(RepricingIdText, "Its name in addresses.")
    status = told(Choice, STATUS, STATUSES)
    version = told(
        StrictInteger,
        "Counted up whenever the status changes.",
        least=1,
        most=MOST_COUNT,
    )
    created_at = told(UtcTime, "When it was previewed.")
    created_by = told(Text, "By whom: the id of a key, or a name.", most=200)
    include = told(
        ListOf,
        "Bands in review that are applied too.",
        Part(BandNameDocument),
        most=MOST_NAMED,
    )
    applied_at = told(UtcTime, "When it came into force; null: not.", allow_none=True)
    applied_by = told(Text, "By whom; empty: not applied.", most=200)
    undone_at = told(UtcTime, "When it was undone; null: not.", allow_none=True)
    undone_by = told(Text, "By whom; empty: not undone.", most=200)


class RepricingPageDocument(Answer):
    """Repricings, newest first."""

    repricings = told(
        ListOf,
        "At most as many as asked for.",
        Part(RepricingDocument),
        most=MOST_ON_A_PAGE,
    )


class RepricingBandDocument(BandNameDocument):
    """A band with what is decided for it, at the spot of the run."""

    to = size("Its largest size [US number].")
    old_price = told(DecimalText, "The price it has [currency].")
    new_price = told(
        DecimalText,
        "The price it has when the decision is carried out [currency]; null where it "
        "is blocked.",
        allow_none=True,
    )
    old_margin = told(DecimalText, _OLD_MARGIN, allow_none=True)
    new_margin = told(DecimalText, _NEW_MARGIN, allow_none=True)
    decision = told(Choice, "What is to become of the price.", DECISIONS)
    reason = told(Text, "Why, in plain words.", most=LONG)
    spot_at_floor = told(
        DecimalText,
        "The spot from which on the old price is under the policy's floor "
        "[currency/ozt]; null where it is already, or never is.",
        allow_none=True,
    )
    moves = told(
        StrictBoolean,
        "Whether applying the run changes the price: it is to be raised or lowered, or "
        "it is in review and named.",
    )


class RepricingBandsDocument(Answer):
    """Bands of a repricing, by sku and size."""

    currency = told(CurrencyText, "Every amount is in it (ISO 4217).")
    bands = told(
        ListOf,
        "At most as many as asked for.",
        Part(RepricingBandDocument),
        most=MOST_ON_A_PAGE,
    )


class WhatIfDocument(OutcomeDocument):
    """What would be decided at another spot; nothing of it is stored."""

    changes = told(
        ListOf,
        "Bands that would have another price, the largest changes first.",
        Part(RepricingBandDocument),
        most=MOST_ON_A_PAGE,
    )
    changes_left_out = _bands("How many more there are of these.")


class PreviewDocument(Answer):
    """What the command line says of a preview."""

    moved = told(
        DecimalText,
        "Share by which silver has moved since the repricing applied last; null: not "
        "asked, or none was applied.",
        allow_none=True,
    )
    repricing = told(Part, "The preview.", RepricingDocument)
    changes = told(
        ListOf,
        "Bands to be raised or lowered, in review or blocked: of each at most as many "
        "as asked for.",
        Part(RepricingBandDocument),
        most=4 * MOST_ON_A_PAGE,
    )


class FloorDocument(BandNameDocument):
    """A band, and how far silver may rise until it is under its floor."""

    to = size("Its largest size [US number].")
    price = told(DecimalText, "The price in force [currency].")
    under = told(StrictBoolean, "Whether it is under its floor at the spot in force.")
    spot_at_floor = told(
        DecimalText,
        "The spot at which it falls to its floor [currency/ozt]; null where it is "
        "under it.",
        allow_none=True,
    )
    rise = told(
        DecimalText,
        "By which share the spot may rise until then: 0.05 is 5 %; null where it is "
        "under its floor.",
        allow_none=True,
    )
    margin = told(
        DecimalText,
        "Share of the net price at the spot in force; null: none can be told.",
        allow_none=True,
    )
    floor_margin = told(DecimalText, "Its floor, as such a share.")
    policy = told(KeyText, "Key of the policy that has this floor.")


class FloorsDocument(Answer):
    """The board: bands by the spot at which they fall to their floor."""

    currency = told(CurrencyText, "Every amount is in it (ISO 4217).")
    book_version = told(
        StrictInteger, "Version of the price book used.", least=0, most=MOST_COUNT
    )
    spot = told(AsWritten, "The spot price in force.", SpotDocument())
    bands = told(
        ListOf,
        "Bands under their floor first, then the nearest to it.",
        Part(FloorDocument),
        most=MOST_ON_A_PAGE,
    )
