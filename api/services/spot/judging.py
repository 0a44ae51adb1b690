"""What becomes of a reading: the guards, with what is on record to judge by."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from decimal import Decimal

from api.ports import Feed, Series, SpotEntry, UnitOfWork
from api.services.feeds.feeds import calendar_of
from pricing import money
from pricing.spot_guard import (
    Finding,
    History,
    Limits,
    Reading,
    Verdict,
    is_price,
    judge,
)

PRICE_STEP = Decimal("1e-9")
PRICE_LIMIT = Decimal(10**9)
_BEFORE_ALL = datetime.min.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """Where readings of a feed are judged: at one moment, in one transaction.

    Attributes:
        second: the feed to compare with, or None.
    """

    unit: UnitOfWork
    feed: Feed
    now: datetime
    second: Feed | None = None

    def judged(self, given: Reading) -> tuple[Reading, Verdict]:
        """The reading as it would be recorded, and what becomes of it."""
        reading = _recordable(given)
        known = self._known(reading)
        if known is not None:
            return reading, Verdict(outcome="ignored", findings=(known,))
        compared, missing = self._second_price(reading)
        verdict = judge(
            reading,
            now=self.now,
            limits=limits_of(self.feed),
            history=self._history(reading),
            calendar=calendar_of(self.feed),
            second=compared,
        )
        findings = (*verdict.findings, *missing)
        if verdict.outcome in {"accepted", "held"} and not can_be_recorded(reading):
            refused = (*findings, _beyond_record(reading))
            return reading, Verdict(outcome="refused", findings=refused)
        return reading, replace(verdict, findings=findings)

    def _known(self, reading: Reading) -> Finding | None:
        if not can_be_recorded(reading):
            return None
        entry = self.unit.spots.recorded(
            self._own(reading), as_of=reading.as_of, price=reading.price
        )
        return None if entry is None else _known_already(entry)

    def _own(self, reading: Reading) -> Series:
        return Series(self.feed.metal, reading.currency, self.feed.key)

    def _history(self, reading: Reading) -> History:
        # Only the feed's own prices say what is new: a price by hand is as old as
        # its entering. How far a price may jump is measured from any.
        spots, own = self.unit.spots, self._own(reading)
        newest, last = spots.newest(own), spots.newest(own._replace(source=""))
        moment = _BEFORE_ALL if newest is None else newest.as_of
        since = None
        if newest is not None and newest.price == reading.price:
            since = spots.unmoved_since(own, reading.price)
        return History(
            last=None if last is None else (last.price, moment), same_price_since=since
        )

    def _second_price(
        self, reading: Reading
    ) -> tuple[Decimal | None, tuple[Finding, ...]]:
        named = self.feed.second_source
        if not named:
            return None, ()
        series = Series(self.feed.metal, reading.currency, named)
        entry = self.unit.spots.newest(series)
        if entry is not None and self._is_fresh(entry):
            return entry.price, ()
        return None, (_no_second(named, reading.currency),)

    def _is_fresh(self, entry: SpotEntry) -> bool:
        feed = self.second or self.feed
        age = calendar_of(feed).open_hours(entry.as_of, self.now)
        return age <= feed.max_age_hours


def limits_of(feed: Feed) -> Limits:
    """How far a price of this feed may go."""
    given = feed.limits
    return Limits(
        lowest=given.lowest,
        highest=given.highest,
        jump=given.jump,
        spread=given.spread,
        second_source=given.second_source,
        max_age_hours=feed.max_age_hours,
    )


def can_be_recorded(reading: Reading) -> bool:
    """Whether the price is one that the record can hold."""
    return is_price(reading.price) and PRICE_STEP <= reading.price < PRICE_LIMIT


def _recordable(reading: Reading) -> Reading:
    if not can_be_recorded(reading):
        return reading
    with money.arithmetic():
        return replace(reading, price=money.half_up(reading.price, PRICE_STEP))


def _known_already(entry: SpotEntry) -> Finding:
    told = {
        "accepted": "is recorded already; there is nothing to do",
        "held": f"waits for a decision; accept or reject entry {entry.id}",
        "rejected": f"was rejected before, as entry {entry.id}; wait for a newer one",
    }
    said = f"{money.tidy(entry.price)} {entry.currency} of {entry.as_of:%Y-%m-%d %H:%M}"
    return Finding(
        code="already_known",
        text=f"The price of {said} UTC {told[entry.status]}.",
        weight="ignore",
    )


def _beyond_record(reading: Reading) -> Finding:
    return Finding(
        code="beyond_record",
        text=f"A price of {money.brief(reading.price)} {reading.currency} cannot be "
        f"recorded; give one from {PRICE_STEP:f} and under {PRICE_LIMIT}. "
        "Check the feed's unit.",
        weight="refuse",
    )


def _no_second(named: str, currency: str) -> Finding:
    return Finding(
        code="no_second_source",
        text=f"The second source '{named}' has no fresh price in {currency} to compare "
        "with, so this one was judged without it; fetch that feed as well.",
        weight="warn",
    )
