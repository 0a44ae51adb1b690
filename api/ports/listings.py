"""Listings as the services hand them on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Literal, NamedTuple

ListingKind = Literal["made_to_order", "ready_made"]
LISTING_KINDS: tuple[ListingKind, ...] = ("made_to_order", "ready_made")

Why = Literal["created", "edited", "imported", "removed", "applied", "undone"]
"""What changed a price; the last two are done by a repricing."""


class Place(NamedTuple):
    """A band as people name it: the listing's sku and its smallest size [US size]."""

    sku: str
    size_from: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """All that a band's price follows from; equal ones share one computation.

    Attributes:
        id: its number; equal specs have the same one. 0 until it is stored.
        coin, channel, policy: keys.
        size_from, size_to: [US size, whole quarters].
        extras: keys, in the order of the listing.
    """

    id: int = 0
    coin: str
    size_from: Decimal
    size_to: Decimal
    channel: str
    policy: str
    extras: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Sizes of a listing that share a price.

    Attributes:
        id: its number, kept as long as the listing has a band of these sizes.
        size_from, size_to: [US size, whole quarters].
        price: the one in force [currency].
        run: ``seq`` of the repricing that it comes from; None where it was entered.
    """

    id: int = 0
    size_from: Decimal
    size_to: Decimal
    price: Decimal
    run: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing:
    """Something in the shop, with the prices in force.

    Attributes:
        seq: where it stands in the order of making; 0 until it is stored.
        sku: unique among the listings that are there, capital letters as given.
        actual_cost: what a ready-made piece has cost [currency], or None.
        bands: by size, not overlapping.
        revision: counted up by every edit. A repricing changes prices and leaves it,
            so an entity tag has to say the prices too.
        changed_rev: what the counter ``listings`` was at the last edit.
        removed_at: when it was removed; None for one that is there.
    """

    seq: int = 0
    sku: str
    title: str
    kind: ListingKind
    coin: str
    channel: str
    policy: str
    extras: tuple[str, ...] = ()
    locked: bool = False
    published: bool = False
    actual_cost: Decimal | None = None
    bands: tuple[Band, ...]
    revision: int = 1
    changed_rev: int = 0
    created_at: datetime
    changed_at: datetime
    changed_by: str
    removed_at: datetime | None = None

    def spec(self, band: Band) -> Spec:
        """What the price of one of its bands follows from."""
        return Spec(
            coin=self.coin,
            size_from=band.size_from,
            size_to=band.size_to,
            channel=self.channel,
            policy=self.policy,
            extras=self.extras,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ListingFilter:
    """Which listings are asked for; what is None or empty does not matter.

    Attributes:
        text: found in the sku or the title, in capital or small letters of any
            alphabet; no character in it has a meaning of its own.
    """

    kind: ListingKind | None = None
    coin: str = ""
    channel: str = ""
    policy: str = ""
    locked: bool | None = None
    published: bool | None = None
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseInUse:
    """A spec at a price in force, with how many bands share it [count].

    Attributes:
        price: the one in force [currency].
        bands: all of them; ``locked`` of these belong to locked listings.
    """

    spec: Spec
    price: Decimal
    bands: int
    locked: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceMove:
    """One change of one band's price.

    Attributes:
        rev: what the counter ``listings`` was made by the change; rises with time,
            and all that was changed at once has the same.
        old, new: [currency]; None where there was, or is, no such band.
        by: the id of a key or a name.
        run: id of the repricing that did or undid it; None for an edit.
        spot: the run's spot document; ``book_version`` the price book it used.
    """

    rev: int
    at: datetime
    by: str
    why: Why
    size_from: Decimal
    size_to: Decimal
    old: Decimal | None
    new: Decimal | None
    run: str | None = None
    spot: str | None = None
    book_version: int | None = None
