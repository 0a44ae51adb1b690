"""Stored things as the services hand them on; all immutable."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Literal, NamedTuple

from api.ports.feeds import Feed
from pricing.coin import Coin

if TYPE_CHECKING:
    from pricing.spot_guard import Finding

Scope = Literal["bench", "shop", "window"]
SCOPES: tuple[Scope, ...] = ("bench", "shop", "window")

SpotStatus = Literal["accepted", "held", "rejected"]
SPOT_STATUSES: tuple[SpotStatus, ...] = ("accepted", "held", "rejected")
MANUAL = "manual"
"""The source of a price that a person entered."""

Part = Literal["coins", "feeds", "keys", "listings", "price_book", "spot_prices"]
"""The parts of the storage whose changes are counted by revision."""


class Revisions(NamedTuple):
    """How often each part was changed; equal revisions mean equal content."""

    coins: int
    feeds: int
    keys: int
    listings: int
    price_book: int
    spot_prices: int


class Counted(NamedTuple):
    """One more request: how many there are now, and what was stored at that moment."""

    number: int
    revisions: Revisions


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyRecord:
    """An access key as it may be shown: everything but its secret."""

    id: str
    scope: Scope
    label: str
    created_at: datetime
    last_used_at: datetime | None = None
    revoked_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredKey:
    """An access key with the SHA-256 digest of its secret."""

    record: KeyRecord
    digest: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class BookVersion:
    """One version of the price book: when, by whom (a key's id or a name), why."""

    version: int
    created_at: datetime
    by: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredBook:
    """A version with its document, as canonical JSON text."""

    about: BookVersion
    document: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CoinRow:
    """A workshop's coin as stored: its document is canonical JSON text."""

    key: str
    document: str
    revision: int
    changed_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredCoin:
    """A coin with where it comes from; a catalogue coin has revision 0."""

    coin: Coin
    origin: Literal["catalogue", "workshop"]
    revision: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotEntry:
    """One recorded price of a metal or a currency; ``id`` is 0 until it is stored.

    Attributes:
        metal: what is priced: ``XAG``, one troy ounce of silver, or the ISO 4217
            code of a currency, one unit of it.
        price: of that [currency/ozt, or currency/unit of the other].
        currency: ISO 4217 code of the price.
        as_of: the moment it was the price; a feed says it, by hand it is now.
        source: ``manual``, or the key of the feed it came from.
        expires_at: the instant from which it no longer counts, or None.
        by: who recorded it, the id of a key or a name.
        status: ``held`` ones wait for a person, and only ``accepted`` ones count.
        recorded_at: when it was recorded; None where that is ``as_of``.
        reasons: what was noticed about it as it came.
        decided_by, decided_at: who accepted or rejected a held one, and when.
    """

    id: int = 0
    metal: str
    price: Decimal
    currency: str
    as_of: datetime
    source: str
    note: str = ""
    expires_at: datetime | None = None
    by: str = ""
    status: SpotStatus = "accepted"
    recorded_at: datetime | None = None
    reasons: tuple[Finding, ...] = ()
    decided_by: str = ""
    decided_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What a person decided about a held price."""

    status: Literal["accepted", "rejected"]
    by: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredFeed:
    """A feed with its document as it was given.

    Attributes:
        secrets_set: names of the secret headers that have a value; the values are
            for the fetcher alone.
    """

    feed: Feed
    document: Mapping[str, object]
    revision: int
    changed_at: datetime
    secrets_set: tuple[str, ...] = ()


class Series(NamedTuple):
    """Prices that can be compared: of one thing in one currency.

    Attributes:
        metal: what is priced, as in ``SpotEntry``.
        currency: ISO 4217 code of the price.
        source: ``manual`` or the key of a feed; empty for any.
    """

    metal: str
    currency: str
    source: str = ""


class Close(NamedTuple):
    """The last accepted price of a day [currency/unit]."""

    day: date
    currency: str
    price: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Readiness:
    """Whether the database answers, has this program's schema and takes writes."""

    database: bool
    schema: bool
    writable: bool

    @property
    def ready(self) -> bool:
        """All three."""
        return self.database and self.schema and self.writable
