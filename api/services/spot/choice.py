"""Which of the recorded prices is in force, how old it is, and what a rate is."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from typing import NamedTuple

from api.ports import MANUAL, SpotEntry
from pricing import money
from pricing.market import Market
from pricing.market_days import MarketCalendar
from pricing.spot import FxRate, Spot

AGE_STEP_HOURS = Decimal("0.1")

Spots = Mapping[str, tuple[SpotEntry, ...]]


class Quoted(NamedTuple):
    """A spot in a price book's currency, with what the market says beside it."""

    spot: Spot
    market: Market


def in_force(entries: Iterable[SpotEntry], now: datetime) -> SpotEntry | None:
    """The entry that counts now, or None.

    A price by hand that expires wins while it lasts, unless a later one was
    entered by hand; otherwise the newest by ``as_of`` wins, fetched or by hand.

    Args:
        entries: accepted ones.
        now: the moment; what has expired by then does not count.
    """
    counting = [e for e in entries if e.expires_at is None or e.expires_at > now]
    by_hand = (entry for entry in counting if entry.source == MANUAL)
    last = max(by_hand, key=_entered, default=None)
    if last is not None and last.expires_at is not None:
        return last
    return max(counting, key=_newest, default=None)


def rate_in_force(
    spots: Spots, one: str, other: str, *, now: datetime
) -> SpotEntry | None:
    """The newest rate between two currencies, whichever of them it prices."""
    there = (entry for entry in spots.get(one, ()) if entry.currency == other)
    back = (entry for entry in spots.get(other, ()) if entry.currency == one)
    return in_force((*there, *back), now)


def spot_of(entry: SpotEntry, now: datetime) -> Spot:
    """The entry as a spot, with its age by the clock."""
    return Spot(
        metal=entry.metal,
        price=entry.price,
        currency=entry.currency,
        as_of=entry.as_of,
        source=entry.source,
        age_hours=age_hours(entry.as_of, now),
    )


def fx_rate_of(entry: SpotEntry, now: datetime) -> FxRate:
    """The entry as an exchange rate, with its age by the clock."""
    return FxRate(
        base=entry.metal,
        quote=entry.currency,
        rate=entry.price,
        as_of=entry.as_of,
        source=entry.source,
        age_hours=age_hours(entry.as_of, now),
    )


def age_hours(as_of: datetime, now: datetime) -> Decimal:
    """How long ago [h]; 0 for what is still to come."""
    seconds = max(now - as_of, timedelta(0)) // timedelta(seconds=1)
    return money.half_up(Decimal(seconds) / 3600, AGE_STEP_HOURS)


def market_age_hours(
    entry: SpotEntry, calendar: MarketCalendar, now: datetime
) -> Decimal | None:
    """Age in hours of open market [h]; None for a price that says when it expires."""
    if entry.expires_at is not None:
        return None
    return calendar.open_hours(entry.as_of, now)


def _entered(entry: SpotEntry) -> int:
    return entry.id


def _newest(entry: SpotEntry) -> tuple[datetime, int]:
    return entry.as_of, entry.id
