"""Stored things as the services hand them on; all immutable."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Literal, NamedTuple

from pricing.coin import Coin

Scope = Literal["bench", "shop", "window"]
SCOPES: tuple[Scope, ...] = ("bench", "shop", "window")

Part = Literal["coins", "keys", "price_book", "spot_prices"]
"""The parts of the storage that are kept in memory and counted by revision."""


class Revisions(NamedTuple):
    """How often each part was changed; equal revisions mean equal content."""

    coins: int
    keys: int
    price_book: int
    spot_prices: int


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
    """One recorded spot price [currency/ozt]; ``id`` is 0 until it is stored."""

    id: int = 0
    metal: str
    price: Decimal
    currency: str
    as_of: datetime
    source: str
    note: str = ""
    expires_at: datetime | None = None
    by: str = ""


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
