"""Repricings as the services hand them on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Literal, NamedTuple

from api.ports.listings import Place

RepricingStatus = Literal["preview", "applying", "applied", "undone"]
REPRICING_STATUSES: tuple[RepricingStatus, ...] = (
    "preview",
    "applying",
    "applied",
    "undone",
)

CaseDecision = Literal["hold", "raise", "lower", "review", "blocked"]
"""What is decided for a case; whether its bands are locked is each listing's affair."""
BandDecision = Literal["hold", "raise", "lower", "review", "locked", "blocked"]
BAND_DECISIONS: tuple[BandDecision, ...] = (
    "hold",
    "raise",
    "lower",
    "review",
    "locked",
    "blocked",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Repricing:
    """One run over the listings.

    Attributes:
        seq: where it stands in the order of making; 0 until it is stored.
        id: unguessable, the run's name in the API.
        version: counted up whenever the status changes.
        spot: JSON text of the spot it was worked out at.
        skus: the listings asked for; None for all of them.
        counts: bands by decision [count].
        value_change: sum of new less old price of the bands to be raised or lowered
            [currency].
        listings_rev: what the counter ``listings`` was when the prices were read.
        coins_rev: what the counter ``coins`` was; None where that was not kept.
        named: bands in review that are applied too, once it is being applied.
        reached: ``seq`` of the listing up to which it is applied, and when that was;
            the latter stays with a preview that something may be left of.
        applied_rev, undone_rev: what the counter ``listings`` was made by it.
    """

    seq: int = 0
    id: str
    status: RepricingStatus = "preview"
    version: int = 1
    created_at: datetime
    created_by: str
    currency: str
    spot: str
    spot_price: Decimal
    book_version: int
    skus: tuple[str, ...] | None = None
    counts: Mapping[str, int] = field(default_factory=dict)
    value_change: Decimal = Decimal("0.00")
    listings_rev: int
    coins_rev: int | None = None
    named: tuple[Place, ...] = ()
    reached: int = 0
    reached_at: datetime | None = None
    applied_at: datetime | None = None
    applied_by: str = ""
    applied_rev: int | None = None
    undone_at: datetime | None = None
    undone_by: str = ""
    undone_rev: int | None = None


class RepricingCase(NamedTuple):
    """What was decided for a spec at a price in force; one of thousands, so a tuple.

    Attributes:
        spec: id of the spec.
        old_price, new_price: [currency]; no new one where it is blocked.
        old_margin, new_margin: share of the net price, at most 6 decimals; None where
            there is none.
        reason: in plain words.
        spot_at_floor: the spot at which the old price falls to its floor
            [currency/ozt, at most 9 decimals], or None.
    """

    spec: int
    old_price: Decimal
    new_price: Decimal | None
    decision: CaseDecision
    reason: str
    old_margin: Decimal | None = None
    new_margin: Decimal | None = None
    spot_at_floor: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RepricingBand:
    """A band with what was decided for it; margins and spot as in `RepricingCase`.

    Attributes:
        band: id of the band, which may be gone by now.
        moves: whether applying changes its price: to be raised or lowered, or in
            review and named.
    """

    band: int
    sku: str
    size_from: Decimal
    size_to: Decimal
    old_price: Decimal
    new_price: Decimal | None
    old_margin: Decimal | None
    new_margin: Decimal | None
    decision: BandDecision
    reason: str
    spot_at_floor: Decimal | None
    moves: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BandFilter:
    """Which bands of a run are asked for; None for any."""

    decision: BandDecision | None = None
    sku: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """What a chunk of a preview has put in.

    Attributes:
        reached: ``seq`` of its last listing.
        bands: [count].
    """

    reached: int
    bands: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """Who switches a run, when, and the count of ``listings`` it makes."""

    by: str
    at: datetime
    rev: int
