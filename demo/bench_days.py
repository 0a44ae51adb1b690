"""What the demo did at the bench: four weeks of rings, and the check of this week.

All of it is invented, as the workshop is: folding takes longer than the price book
says, one coin splits, and the last coins were bought dear.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from decimal import Decimal
from random import Random
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from api.app import Services
from api.cli.week_words import bridge_words, flag_words, promise_words
from api.ports import StoredQuote
from api.ports.jobs import LoggedCoins
from api.services.jobs.terms import AttemptAsk, JobAsk, JobMoney, LogAsk
from api.services.margin_checks.check import MarginCheck
from api.services.margin_checks.flags import headline
from pricing.iso_week import IsoWeek
from pricing.ring_size import ring_size

WEEKS_BEFORE = 3
SLOW = {"fold": 1.35}
"""Stages that take longer than planned, by how much."""
RINGS = (
    ("ring-50s", "10"),
    ("ring-2-5g", "8.5"),
    ("ring-50s", "7"),
    ("ring-fair", "6"),
)
DEAR = Decimal("29.80")
"""What a coin cost of the last ones that were bought, invented [EUR]."""
DEARLY = LogAsk(
    money=JobMoney(sold_price=Decimal("149.95")),
    coins=(LoggedCoins(count=3, unit_cost=DEAR),),
)
"""A ring that three such coins went into, sold for less than was planned."""


class Done(NamedTuple):
    """When a job was done, by what log; ``lost`` coins were scrapped before."""

    at: datetime
    log: LogAsk = LogAsk()
    lost: int = 0


def work(services: Services, quote: StoredQuote) -> None:
    """Rings of the weeks before, those of this week, and the pair of the quote."""
    drawn = Random(48)  # noqa: S311  (how long an invented stage took: no secret)
    this = services.bench.margin_checks.this_week()
    for back in range(WEEKS_BEFORE, -1, -1):
        for place, (sku, size) in enumerate(RINGS):
            ask = JobAsk(sku=sku, size=ring_size("us", size))
            done = Done(_moment(services, this.plus(-back), place))
            if (back, place) == (0, 0):
                done = done._replace(log=DEARLY, lost=2)
            _do(services, ask, done, drawn)
    at = _moment(services, this, len(RINGS))
    _do(services, JobAsk(quote=quote.id), Done(at), drawn)


def _moment(services: Services, week: IsoWeek, place: int) -> datetime:
    """Noon of a day of the week, and never later than now."""
    zone = ZoneInfo(services.price_books.current().timezone)
    day = week.days[0] + timedelta(days=place)
    noon = datetime.combine(day, time(12), zone).astimezone(UTC)
    return min(noon, services.clock.now())


def _do(services: Services, ask: JobAsk, done: Done, by: Random) -> None:
    """Open a job, log what was done for it, and complete it."""
    jobs = services.bench.jobs
    job = jobs.open(ask)
    lines = jobs.document(job)["plan"]["lines"]
    attempts = tuple(_attempts(lines, by, done.lost))
    log = replace(done.log, attempts=attempts)
    job = jobs.change(job.id, log, expected=job.version)
    jobs.complete(job.id, expected=job.version, at=done.at)


def _attempts(lines: Any, by: Random, lost: int) -> Iterator[AttemptAsk]:
    for number, line in enumerate(lines):
        stages = line["stages"]
        for piece in range(lost + line["pieces"]):
            scrapped = piece < lost
            yield AttemptAsk(
                line=number,
                outcome="scrapped" if scrapped else "good",
                stage=stages[-4]["key"] if scrapped else None,
                minutes=_minutes(stages[:-3] if scrapped else stages, by),
            )


def _minutes(stages: Any, by: Random) -> dict[str, Decimal]:
    """How long each stage took, to a tenth of a minute."""
    return {
        stage["key"]: Decimal(f"{_took(stage, by):.1f}")
        for stage in stages
        if stage["minutes_per_try"]
    }


def _took(stage: Any, by: Random) -> float:
    planned = float(stage["minutes_per_try"])
    return planned * SLOW.get(stage["key"], 1) * by.uniform(0.9, 1.1)


def told(services: Services) -> str:
    """The check of this week in short, as `fineweight week` tells it whole."""
    checks = services.bench.margin_checks
    check: MarginCheck = checks.week(checks.this_week())
    said = headline(check), flag_words(check), bridge_words(check), promise_words(check)
    return "\n\n".join(said)
