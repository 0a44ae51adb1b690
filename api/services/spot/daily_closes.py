"""The last price of silver of each market day, worked out once a change."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal

from api.ports import Clock, Close
from api.services.snapshot import CLOSES_KEPT, SILVER
from api.services.snapshots import Snapshots
from pricing.errors import InvalidInput
from pricing.market_days import MarketCalendar

MOST_DAYS = CLOSES_KEPT // timedelta(days=1)


class DailyCloses:
    """Daily closes out of the accepted history."""

    def __init__(self, snapshots: Snapshots, clock: Clock) -> None:
        self._snapshots = snapshots
        self._clock = clock
        # What was asked for last, and the closes it comes from.
        self._last: tuple[object, object, tuple[Decimal, ...]] = (None, None, ())

    def of(self, metal: str, currency: str, *, days: int) -> tuple[Decimal, ...]:
        """The closes, oldest first [currency/ozt].

        Args:
            metal: ``XAG``; the days of nothing else are kept.
            currency: ISO 4217 code of the prices.
            days: how far back [days], 1 to 180.

        Raises:
            InvalidInput: the metal has no days, or there are not so many.
        """
        if metal != SILVER or not 1 <= days <= MOST_DAYS:
            raise InvalidInput(
                f"{days} days of '{metal[:40]}' are not kept; ask for 1 to {MOST_DAYS} "
                f"days of {SILVER}",
                path=("days",) if metal == SILVER else ("metal",),
            )
        closes = self._snapshots.take().closes
        asked = (currency, self._clock.now().date() - timedelta(days=days))
        held, was_asked, found = self._last
        if held is not closes or was_asked != asked:
            found = market_closes(closes, *asked)
            self._last = (closes, asked, found)
        return found


def market_closes(
    closes: Iterable[Close], currency: str, since: date
) -> tuple[Decimal, ...]:
    """The closes of market days in one currency, from a day on [currency/unit]."""
    calendar = MarketCalendar()
    return tuple(
        close.price
        for close in closes
        if close.currency == currency
        and close.day >= since
        and calendar.is_open(close.day)
    )
