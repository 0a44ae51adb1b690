"""What may need attention at the bench, one matter at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from typing import Literal

from api.ports import NotFound, QuoteFilter, SpotUnavailable, StaleSpot
from api.ports.jobs import JobFilter
from api.services.spot.standing import Standing
from api.web.visit import Visit
from pricing.iso_week import IsoWeek

Urgency = Literal["bad", "wait", "good", ""]

SOON = timedelta(hours=24)
"""How long before its end a quote is told of."""
_MOST = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Matter:
    """One matter, with the way to it.

    Attributes:
        figure: what is said large: a count in words, or an amount.
        amount: in place of it, with its currency, to be written by locale.
        urgency: ``bad`` costs money now, ``wait`` waits for a person.
    """

    title: str
    address: str
    way: str
    figure: str = ""
    amount: Decimal | None = None
    currency: str = ""
    note: str = ""
    urgency: Urgency = ""


def matters(visit: Visit) -> list[Matter]:
    """Everything there is to say, what is urgent first."""
    readers: tuple[Callable[[Visit], Iterator[Matter]], ...] = (
        _spot,
        _floors,
        _quotes,
        _jobs,
        _week,
    )
    found = [matter for read in readers for matter in read(visit)]
    order = {"bad": 0, "wait": 1}
    return sorted(found, key=lambda matter: order.get(matter.urgency, 2))


def _counted(count: int, word: str, *, more: bool = False) -> str:
    if more:
        return f"{count} or more {word}s"
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def _spot(visit: Visit) -> Iterator[Matter]:
    try:
        standing: Standing = visit.services.standings.of()
    except SpotUnavailable:
        yield Matter(
            title="Spot",
            figure="none",
            note="Nothing can be priced by its metal.",
            address="/bench/spot",
            way="Enter today's price",
            urgency="bad",
        )
        return
    urgency: dict[str, Urgency] = {"stale": "bad", "old": "wait"}
    yield Matter(
        title="Silver, a troy ounce",
        amount=standing.spot.price,
        currency=standing.spot.currency,
        note=" ".join(standing.said) or _age(standing),
        address="/bench/spot",
        way="Enter today's price" if standing.said else "To the spot price",
        urgency=urgency.get(standing.staleness, ""),
    )
    if standing.waiting:
        yield Matter(
            title="Prices held back",
            figure=_counted(standing.waiting, "price"),
            note="Doubtful, and without effect until you have looked.",
            address="/bench/spot",
            way="Look at them",
            urgency="wait",
        )


def _age(standing: Standing) -> str:
    hours = standing.open_hours
    if hours is None:
        return "Holds until it is said to end."
    return f"{hours} hours of open market old." if hours >= 1 else "Fresh."


def _floors(visit: Visit) -> Iterator[Matter]:
    floors = visit.services.repricings.floors
    try:
        page = floors(limit=1)
        if page.bands and page.bands[0].under:  # those stand first, to be counted
            page = floors(limit=_MOST)
    except (NotFound, SpotUnavailable, StaleSpot):
        return
    under = sum(band.under for band in page.bands)
    if under:
        yield Matter(
            title="Under their floor",
            figure=_counted(under, "price", more=under == _MOST and page.more),
            note="At today's spot less than the floor margin is left.",
            address="/bench/listings",
            way="Look at the listings",
            urgency="bad",
        )
    elif page.bands:
        first = page.bands[0]
        yield Matter(
            title="Next to reach its floor",
            amount=first.spot_at_floor,
            currency=page.ground.book.currency.code,
            note=f"a troy ounce: then {first.sku} has no more than its floor margin.",
            address="/bench/listings",
            way="To the listings",
        )


def _quotes(visit: Visit) -> Iterator[Matter]:
    services = visit.services
    now = services.clock.now()
    wanted = QuoteFilter(now=now, status="open")
    page = services.quotes.page(wanted, limit=_MOST)
    soon = [quote for quote in page.quotes if quote.valid_until - now <= SOON]
    if page.quotes:
        yield Matter(
            title="Open quotes",
            figure=_counted(len(page.quotes), "quote", more=page.older),
            note=_expiring(len(soon), more=page.older),
            address="/bench/quotes",
            way="To the quotes",
            urgency="wait" if soon else "",
        )


def _expiring(soon: int, *, more: bool) -> str:
    """How many quotes end soon; ``more`` of them were not looked at."""
    if soon:
        return f"{_counted(soon, 'quote', more=more)} will expire within a day."
    return f"None{' of the newest' if more else ''} expires within a day."


def _jobs(visit: Visit) -> Iterator[Matter]:
    page = visit.services.bench.jobs.page(JobFilter(status="open"), limit=_MOST)
    if page.jobs:
        yield Matter(
            title="At the bench",
            figure=_counted(len(page.jobs), "job", more=page.older),
            note=f"The newest is {page.jobs[0].number}.",
            address="/bench/jobs",
            way="To the jobs",
        )


def _week(visit: Visit) -> Iterator[Matter]:
    checks = visit.services.bench.margin_checks
    week = IsoWeek.of(checks.this_week().days[0] - timedelta(days=1))
    check = checks.week(week)
    sums = check.sums
    if sums.jobs:
        less = sums.margin < sums.planned_margin
        wanting = len(check.flags)
        margin = "less than planned" if less else "as much as planned, or more"
        said = f"; {_counted(wanting, 'thing')} to look at" if wanting else ""
        yield Matter(
            title=f"Margin of {week}",
            amount=sums.margin,
            currency=check.currency.code,
            note=f"{_counted(sums.jobs, 'job')}, {margin}{said}.",
            address=f"/bench/week/{week}",
            way="Why",
            urgency="wait" if less or check.attention else "good",
        )
