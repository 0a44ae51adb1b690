"""The rate between two currencies: as it was recorded, or by way of a third.

A file of reference rates prices one currency in all others, so that any two of
them have a rate by way of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import NamedTuple

from api.ports import SpotEntry
from api.services.snapshot import SILVER
from api.services.spot.choice import Spots, age_hours, fx_rate_of, rate_in_force
from api.services.spot.judging import PRICE_STEP
from pricing import money
from pricing.spot import FxRate


class Exchange(NamedTuple):
    """A rate, and the one or two entries it stands on."""

    rate: FxRate
    legs: tuple[SpotEntry, ...]


def exchange(spots: Spots, one: str, other: str, *, now: datetime) -> Exchange | None:
    """The rate in force between two currencies, in the direction it was recorded.

    Only where none was recorded is it taken by way of a third currency, the one
    whose older leg is newest. None where there is no way.
    """
    direct = rate_in_force(spots, one, other, now=now)
    if direct is not None:
        return Exchange(fx_rate_of(direct, now), (direct,))
    ways = tuple(_ways(spots, one, other, now))
    if not ways:
        return None
    way = max(ways, key=_older_leg)
    return Exchange(_crossed(one, other, way, now), way.legs)


class _Way(NamedTuple):
    third: str
    legs: tuple[SpotEntry, SpotEntry]


def _ways(spots: Spots, one: str, other: str, now: datetime) -> Iterator[_Way]:
    """Each third currency with a rate to both."""
    entries = (entry for kept in spots.values() for entry in kept)
    named = {name for entry in entries for name in (entry.metal, entry.currency)}
    for third in sorted(named - {SILVER}):
        there = rate_in_force(spots, one, third, now=now)
        on = rate_in_force(spots, third, other, now=now)
        if there is not None and on is not None:
            yield _Way(third, (there, on))


def _older_leg(way: _Way) -> datetime:
    return min(leg.as_of for leg in way.legs)


def _crossed(one: str, other: str, way: _Way, now: datetime) -> FxRate:
    there, on = (fx_rate_of(leg, now) for leg in way.legs)
    first = there.exchanged(money.ONE, of=one, to=way.third)
    rate = on.exchanged(first, of=way.third, to=other)
    # Of the two directions the one above 1, which loses least when rounded.
    base, quote = one, other
    if rate < 1:
        back = on.exchanged(money.ONE, of=other, to=way.third)
        rate = there.exchanged(back, of=way.third, to=one)
        base, quote = other, one
    oldest = _older_leg(way)
    return FxRate(
        base=base,
        quote=quote,
        rate=money.half_up(rate, PRICE_STEP),
        as_of=oldest,
        source=", ".join(dict.fromkeys(leg.source for leg in way.legs)),
        age_hours=age_hours(oldest, now),
    )
