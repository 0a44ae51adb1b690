"""What the market says beside the spot: how old it is in open hours, how it moves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from pricing.cautions import Caution
from pricing.money import shown, trimmed
from pricing.price_book import StaleSpot
from pricing.spot import FxRate, Spot

_AGE_STEP = Decimal("0.1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Market:
    """What is known of a spot beside its price.

    Attributes:
        spot_hours: age of the price in hours of open market [h]; None where it
            cannot be stale, such as one that was given with the request.
        rate_hours: the same of the exchange rate that converted it [h], or None.
        daily: its last price on each market day, oldest first, all in one currency
            [currency/ozt].
    """

    spot_hours: Decimal | None = None
    rate_hours: Decimal | None = None
    daily: tuple[Decimal, ...] = ()

    def cautions(self, limits: StaleSpot, spot: Spot) -> tuple[Caution, ...]:
        """What to watch where the price or its rate is over ``warn_hours``."""
        told = self._over(limits.warn_hours, spot)
        return tuple(
            Caution(
                code="spot_stale",
                text=f"{each}; the policy warns over {trimmed(limits.warn_hours)} and "
                f"refuses over {trimmed(limits.refuse_hours)}. Fetch or enter today's "
                "before you promise this price.",
                audience="bench",
                source="the policy's own stale_spot hours",
                looked_up=True,
            )
            for each in told
        )

    def too_old(self, limits: StaleSpot, spot: Spot) -> str | None:
        """What is over ``refuse_hours``, in words for a message; None if nothing."""
        return next(self._over(limits.refuse_hours, spot), None)

    def _over(self, most: Decimal, spot: Spot) -> Iterator[str]:
        if self.spot_hours is not None and self.spot_hours > most:
            yield f"The spot price{_origin(spot)} is {_old(self.spot_hours)}"
        fx, hours = spot.fx, self.rate_hours
        if fx is not None and hours is not None and hours > most:
            yield f"The rate of {fx.base} in {fx.quote}{_origin(fx)} is {_old(hours)}"


UNKNOWN = Market()
"""Nothing is known of the spot but its price: it is not stale, nothing is suggested."""


def _origin(priced: Spot | FxRate) -> str:
    if priced.as_of is None:
        return f" ({priced.source})"
    return (
        f" of {priced.as_of.isoformat(sep=' ', timespec='minutes')} ({priced.source})"
    )


def _old(hours: Decimal) -> str:
    return f"{shown(hours, _AGE_STEP)} hours of open market old"
