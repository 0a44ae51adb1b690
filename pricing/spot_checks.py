"""The single doubts a reading can raise, each told in words a maker can act on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from pricing.market_days import MarketCalendar
from pricing.money import brief, percent, trimmed
from pricing.spot_reading import Finding, History, Limits, Reading, is_price
from pricing.unit_slip import unit_slips

_HOURS_A_DAY = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A reading with everything it is judged by.

    Attributes:
        second: the price of a second source [currency/unit], or None.
    """

    reading: Reading
    now: datetime
    limits: Limits
    history: History
    calendar: MarketCalendar
    second: Decimal | None

    @property
    def said(self) -> str:
        """The price as a sentence begins with it."""
        return f"{brief(self.reading.price)} {self.reading.currency}"


def not_a_price(case: Case) -> Iterator[Finding]:
    """A figure that is no number above zero; nothing else can be said of it."""
    reading = case.reading
    figures = {"price": reading.price, "bid": reading.bid, "ask": reading.ask}
    wrong = ", ".join(
        f"{brief(figure)} as {name}"
        for name, figure in figures.items()
        if not (figure is None or is_price(figure))
    )
    if wrong:
        yield Finding(
            code="not_a_price",
            text=f"The feed gave {wrong}; a price is a number above 0. "
            "Check the feed's paths and how it writes numbers.",
            weight="refuse",
        )


def outside_band(case: Case) -> Iterator[Finding]:
    """A price under the lowest or over the highest allowed."""
    limits, currency = case.limits, case.reading.currency
    if not limits.lowest <= case.reading.price <= limits.highest:
        band = f"{brief(limits.lowest)} to {brief(limits.highest)} {currency}"
        yield Finding(
            code="outside_band",
            text=f"{case.said} is outside the band of {band}. Check the feed's unit "
            "and currency, or widen its limits 'lowest' and 'highest'.",
            weight="refuse",
        )


def bid_and_ask(case: Case) -> Iterator[Finding]:
    """A bid over the ask, or the two too far apart."""
    bid, ask, most = case.reading.bid, case.reading.ask, case.limits.spread
    if bid is None or ask is None:
        return
    both = f"The bid of {brief(bid)} and the ask of {brief(ask)}"
    if bid > ask:
        yield Finding(
            code="bid_over_ask",
            text=f"{both} cross; a bid is at most the ask. "
            "See whether the feed's paths for them are swapped.",
            weight="refuse",
        )
    elif (ask - bid) * 2 > most * (ask + bid):
        apart = percent((ask - bid) * 2 / (ask + bid))
        yield Finding(
            code="spread_too_wide",
            text=f"{both} are {apart} apart; at most {percent(most)} is allowed. "
            "Wait for a calmer market, or raise the feed's limit 'spread'.",
            weight="refuse",
        )


def from_the_future(case: Case) -> Iterator[Finding]:
    """A timestamp further ahead than clocks differ."""
    most = case.limits.future_minutes
    if case.reading.as_of - case.now > timedelta(minutes=most):
        yield Finding(
            code="from_the_future",
            text=f"The price is of {_told(case.reading.as_of)}, and the clock says "
            f"{_told(case.now)}; at most {most} minutes ahead is allowed. Check the "
            "feed's time zone and this machine's clock.",
            weight="refuse",
        )


def too_old(case: Case) -> Iterator[Finding]:
    """An age in hours of open market over the limit."""
    most = case.limits.max_age_hours
    age = case.calendar.open_hours(case.reading.as_of, case.now)
    if age > most:
        yield Finding(
            code="too_old",
            text=f"The price is of {_told(case.reading.as_of)}, {trimmed(age)} hours "
            f"of open market ago; at most {trimmed(most)} are allowed. See whether "
            "the feed has stopped; until it goes on, enter a price by hand.",
            weight="refuse",
        )


def nothing_new(case: Case) -> Iterator[Finding]:
    """An older price than the one in use, or that very one."""
    if case.history.last is None:
        return
    price, moment = case.history.last
    if case.reading.as_of < moment:
        yield Finding(
            code="older_than_last",
            text=f"The price is of {_told(case.reading.as_of)}, and one of "
            f"{_told(moment)} is in use; only newer ones count. If this goes on, "
            "check the feed's time and its zone.",
            weight="ignore",
        )
    elif (case.reading.price, case.reading.as_of) == (price, moment):
        yield Finding(
            code="already_known",
            text=f"{case.said} of {_told(moment)} is known already; only newer "
            "prices count. There is nothing to do.",
            weight="ignore",
        )


def against_the_last(case: Case) -> Iterator[Finding]:
    """A change that looks like a mistaken unit, or is too large unasked."""
    usual = case.second if case.history.last is None else case.history.last[0]
    if usual is None or not is_price(usual):
        return
    price, most = case.reading.price, case.limits.jump
    slips = unit_slips(price, usual=usual)
    if slips:
        yield Finding(
            code="unit_looks_wrong",
            text=f"{case.said} is far from the {brief(usual)} expected and looks like "
            f"{', or '.join(slips)}; a change of at most {percent(most)} passes. "
            "Correct the feed; if it is the expected price that is wrong, enter "
            "today's by hand.",
            weight="refuse",
        )
    elif case.history.last is not None and abs(price - usual) > most * usual:
        yield Finding(
            code="jump",
            text=f"{case.said} is {_apart(price, usual)} the last accepted "
            f"{brief(usual)}; a change of at most {percent(most)} passes unasked. "
            "Compare it with another source, then accept or reject it.",
            weight="hold",
        )


def second_source(case: Case) -> Iterator[Finding]:
    """A second source that says something else."""
    second, most = case.second, case.limits.second_source
    if second is None:
        return
    price = case.reading.price
    if not is_price(second) or abs(price - second) > most * second:
        yield Finding(
            code="second_source_disagrees",
            text=f"{case.said} and the {brief(second)} of the second source differ; "
            f"at most {percent(most)} passes unasked. Compare both with a third, "
            "then accept or reject it.",
            weight="hold",
        )


def frozen(case: Case) -> Iterator[Finding]:
    """One value for more market days than look natural."""
    since, last = case.history.same_price_since, case.history.last
    if since is None or last is None or case.reading.price != last[0]:
        return
    until = min(case.reading.as_of, case.now)
    hours, most = case.calendar.open_hours(since, until), case.limits.frozen_days
    if hours > most * _HOURS_A_DAY:
        yield Finding(
            code="frozen",
            text=f"{case.said} has not moved for {trimmed(hours / _HOURS_A_DAY)} "
            f"market days; up to {most} look natural. See on another source whether "
            "the feed has stopped.",
            weight="warn",
        )


def nothing_to_compare(case: Case) -> Iterator[Finding]:
    """A price that only its band was held against."""
    if case.history.last is None and case.second is None:
        band = f"{brief(case.limits.lowest)} to {brief(case.limits.highest)}"
        yield Finding(
            code="nothing_to_compare",
            text=f"{case.said} is the first price of its kind and was checked against "
            f"the band of {band} alone. Compare it once with another source; if it is "
            "wrong, enter today's by hand and correct the feed.",
            weight="warn",
        )


def _apart(price: Decimal, usual: Decimal) -> str:
    share = percent(abs(price - usual) / usual)
    return f"{share} {'above' if price > usual else 'below'}"


def _told(moment: datetime) -> str:
    return moment.isoformat(sep=" ", timespec="minutes")
