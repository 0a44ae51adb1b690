"""A price that a person enters: what may be priced, by how much, until when."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from decimal import Decimal

from api.ports import SpotEntry
from api.services.plain_text import plain_line
from api.services.snapshot import SILVER
from api.services.spot.judging import PRICE_LIMIT
from pricing import money
from pricing.errors import InvalidInput

METALS = (SILVER,)
MOST_DECIMALS = 9


def priced_thing(name: str) -> str:
    """``name`` of a metal or a currency that can have a price. Raises InvalidInput."""
    if name in METALS:
        return name
    try:
        return money.currency(name).code
    except InvalidInput as error:
        raise InvalidInput(
            f"'{name[:40]}' has no price here; use {', '.join(METALS)} for silver, or "
            "the ISO 4217 code of a currency for an exchange rate",
            path=("metal",),
        ) from error


def manual_entry(given: SpotEntry) -> SpotEntry:
    """The entry as it can be recorded at its ``as_of``. Raises InvalidInput."""
    metal = priced_thing(given.metal)
    unit = money.currency(given.currency, path=("currency",))
    if unit.code == metal:
        raise InvalidInput(
            f"one {metal} is one {metal}; price it in another currency",
            path=("currency",),
        )
    return replace(
        given,
        price=_price(given.price),
        note=plain_line(given.note, "note"),
        expires_at=_expiry(given.expires_at, given.as_of),
        recorded_at=given.as_of,
    )


def _price(given: Decimal) -> Decimal:
    price = money.exact_decimal(given, path=("price",))
    decimals = -int(price.as_tuple().exponent)
    if 0 < price < PRICE_LIMIT and decimals <= MOST_DECIMALS:
        return price
    raise InvalidInput(
        f"a spot price of {price} is not allowed; give one above 0 and under "
        f"{PRICE_LIMIT} with at most {MOST_DECIMALS} decimals",
        path=("price",),
    )


def _expiry(expires_at: datetime | None, now: datetime) -> datetime | None:
    if expires_at is None or (expires_at.utcoffset() is not None and expires_at > now):
        return expires_at
    raise InvalidInput(
        f"{expires_at.isoformat()} is no time to expire at; give a later instant "
        "than now, with its offset from UTC, or leave it out",
        path=("expires_at",),
    )
