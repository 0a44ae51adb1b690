"""Spot prices that somebody entered: kept for ever, the newest unexpired in force."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

from api.ports import Clock, SpotEntry, SpotUnavailable, UnitOfWork
from api.services.plain_text import plain_line
from api.services.snapshots import Snapshots
from pricing import money
from pricing.errors import InvalidInput
from pricing.spot import Spot

METALS = ("XAG",)
MOST_DECIMALS = 6
MOST_ENTRIES = 1000
LARGEST_ID = 2**63 - 1
PRICE_LIMIT = Decimal(10**9)
AGE_STEP_HOURS = Decimal("0.1")


class SpotPrices:
    """The recorded prices of one troy ounce of metal."""

    def __init__(self, snapshots: Snapshots, clock: Clock) -> None:
        self._snapshots = snapshots
        self._clock = clock

    def enter(  # noqa: PLR0913 - the members of an entry, by name
        self,
        metal: str,
        price: Decimal,
        currency: str,
        *,
        note: str = "",
        expires_at: datetime | None = None,
        by: str = "",
    ) -> SpotEntry:
        """Record a price by hand; it is in force at once, until it expires.

        Args:
            metal: ``XAG``.
            price: of one troy ounce [currency/ozt], above 0, at most 6 decimals.
            currency: ISO 4217 code.
            note: where it comes from, in a line.
            expires_at: the instant from which it no longer counts, or None.
            by: the id of the key it came with, or a name.

        Raises:
            InvalidInput: one of these cannot be.
        """
        now = self._clock.now()
        entry = SpotEntry(
            metal=_metal(metal),
            price=_price(price),
            currency=money.currency(currency, path=("currency",)).code,
            as_of=now,
            source="manual",
            note=plain_line(note, "note"),
            expires_at=_expiry(expires_at, now),
            by=by,
        )

        def add(unit: UnitOfWork) -> SpotEntry:
            unit.revisions.bump("spot_prices")
            return unit.spots.add(entry)

        return self._snapshots.write(add)

    def current(self, metal: str = "XAG") -> Spot:
        """The price in force, with its age by the clock.

        Raises:
            SpotUnavailable: there is none, or all have expired.
        """
        entry = self.current_entry(metal)
        return Spot(
            metal=entry.metal,
            price=entry.price,
            currency=entry.currency,
            as_of=entry.as_of,
            source=entry.source,
            age_hours=_age_hours(entry.as_of, self._clock.now()),
        )

    def current_entry(self, metal: str = "XAG") -> SpotEntry:
        """The entry in force.

        Raises:
            SpotUnavailable: there is none, or all have expired.
        """
        now = self._clock.now()
        for entry in self._snapshots.take().spots.get(_metal(metal), ()):
            if entry.expires_at is None or entry.expires_at > now:
                return entry
        raise SpotUnavailable(
            f"no spot price of {metal} is in force; enter one with "
            "'fineweight spot set 27.50', or give 'spot' with the request"
        )

    def history(
        self, metal: str = "XAG", *, limit: int = 100, before: int | None = None
    ) -> tuple[SpotEntry, ...]:
        """What was entered, newest first.

        Args:
            metal: ``XAG``.
            limit: at most so many [count], 1 to 1000.
            before: only entries with a smaller id [count]: the last one seen.

        Raises:
            InvalidInput: the metal is not known, or the limit out of range.
        """
        if not 1 <= limit <= MOST_ENTRIES:
            raise InvalidInput(
                f"limit {limit} is out of range; ask for 1 to {MOST_ENTRIES}",
                path=("limit",),
            )
        name = _metal(metal)
        under = None if before is None else min(before, LARGEST_ID)
        return self._snapshots.storage.read(
            lambda unit: unit.spots.history(name, limit=limit, before=under)
        )


def _metal(name: str) -> str:
    if name in METALS:
        return name
    raise InvalidInput(
        f"'{name[:40]}' has no spot price here; use {', '.join(METALS)}",
        path=("metal",),
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


def _age_hours(as_of: datetime, now: datetime) -> Decimal:
    seconds = max(now - as_of, timedelta(0)) // timedelta(seconds=1)
    return money.half_up(Decimal(seconds) / 3600, AGE_STEP_HOURS)
