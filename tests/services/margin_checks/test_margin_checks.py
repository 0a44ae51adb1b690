"""A week, or any days: which jobs count, and what is said of them."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from api.app import compose
from api.ports import NotFound
from api.schemas.margin_check_documents import MarginCheckDocument
from api.services.jobs.terms import JobAsk, LogAsk
from api.services.margin_checks.check import hourly
from api.services.margin_checks.document import check_document
from api.services.margin_checks.flags import headline
from api.settings import Settings
from pricing.iso_week import IsoWeek
from pricing.ring_size import ring_size
from tests.contract.completed_jobs import MONDAY, job, lay, line, stage
from tests.http.workshop import SPOT

W48 = IsoWeek(year=2026, week=48)
DAY = timedelta(days=1)


def test_a_week_without_a_job_says_so_and_asks_for_nothing(checks):
    check = checks.week(W48)
    assert headline(check) == "2026-W48: no job was completed"
    assert (check.flags, check.proposals, check.jobs) == ((), (), ())
    assert (check.sums.margin, hourly(check.sums, check.currency)) == (0, None)
    assert [each.jobs for each in check.trend] == [0] * 12
    assert MarginCheckDocument().dump(check_document(check))["attention"] is False


def test_there_is_no_check_without_a_price_book(tmp_path, clock):
    bare = compose(Settings(database=str(tmp_path / "bare.sqlite3")), clock=clock)
    with pytest.raises(NotFound, match="fineweight book load"):
        bare.bench.margin_checks.week(W48)
    bare.close()


def test_the_bridge_leads_from_the_planned_to_the_realised_margin(services, checks):
    lay(
        services.storage,
        (job(parts={"spoilage": "-7.13", "price": "2.50"}), [line()], [stage()]),
        (job(MONDAY + 6 * DAY, parts={"fees": "-0.07"}, minutes=30), [line()], []),
    )
    check = checks.week(W48)
    assert check.sums.planned_margin + sum(check.sums.parts.values()) == (
        check.sums.margin
    )
    assert headline(check) == (
        "2026-W48: 2 jobs, margin 75.30 EUR, planned 80.00 (-4.70)"
    )
    # margin and two wages of 32 over an hour and a half
    assert hourly(check.sums, check.currency) == Decimal("92.87")


def test_what_lies_outside_of_the_days_or_is_in_another_currency_is_left_out(
    services, checks
):
    lay(
        services.storage,
        (job(MONDAY - DAY), [], []),
        (job(), [], []),
        (job(MONDAY + 6 * DAY), [], []),
        (job(MONDAY + 7 * DAY), [], []),
        (job(currency="GBP"), [], []),
        (job(status="open"), [], []),
    )
    check = checks.week(W48)
    assert (check.sums.jobs, check.other_currencies) == (2, 1)
    days = checks.days(MONDAY - DAY, MONDAY)
    assert (days.sums.jobs, days.week, days.name) == (
        2, None, "2026-11-22 to 2026-11-23",
    )  # fmt: skip
    assert [x.jobs for x in check.trend][-2:] == [1, 2]


@pytest.mark.parametrize(
    ("moment", "week"),
    [
        # Vienna is an hour ahead of UTC in winter, two in summer.
        (datetime(2026, 11, 22, 22, 59, 59, tzinfo=UTC), "2026-W47"),
        (datetime(2026, 11, 22, 23, tzinfo=UTC), "2026-W48"),
        (datetime(2026, 3, 29, 21, 59, 59, tzinfo=UTC), "2026-W13"),  # clocks changed
        (datetime(2026, 3, 29, 22, tzinfo=UTC), "2026-W14"),
        (datetime(2026, 10, 25, 22, 59, 59, tzinfo=UTC), "2026-W43"),  # and back
        (datetime(2026, 10, 25, 23, tzinfo=UTC), "2026-W44"),
        (datetime(2027, 1, 3, 22, 59, 59, tzinfo=UTC), "2026-W53"),
        (datetime(2027, 1, 3, 23, tzinfo=UTC), "2027-W01"),
    ],
)
def test_this_week_is_the_workshops(checks, clock, moment, week):
    clock.time = moment
    assert str(checks.this_week()) == week


def test_only_so_many_jobs_are_listed_and_the_rest_is_counted(services, checks):
    lay(services.storage, *((job(), [], []) for _ in range(4)))
    check = checks.week(W48, most_jobs=3)
    assert (len(check.jobs), check.jobs_left_out) == (3, 1)


EDGES = (
    datetime(2026, 3, 29, 22, tzinfo=UTC),  # Monday 0:00, the clocks changed on Sunday
    datetime(2026, 10, 25, 23, tzinfo=UTC),  # the same in autumn
    datetime(2027, 1, 3, 23, tzinfo=UTC),  # after week 53
)


def test_jobs_at_the_edges_of_weeks_are_in_one_week_each(services, checks, clock):
    """Also where clocks change, and at the end of a year with 53 weeks."""
    listing = "sku,title,kind,coin,channel,policy,from,to,price\r\n"
    listing += "ring,Ring,ready_made,at_50s_1959_1973,own_shop,retail,5,12,179.95\r\n"
    services.listings.import_csv(listing.encode())
    moments = [
        edge + step for edge in EDGES for step in (-timedelta(seconds=1), 0 * DAY)
    ]
    clock.time = EDGES[-1] + DAY
    services.spot_prices.enter("XAG", SPOT, "EUR")
    ask = JobAsk(sku="ring", size=ring_size("us", "10"))
    jobs = services.bench.jobs
    weeks = [jobs.open(ask, LogAsk(completed_at=at)).week for at in moments]
    assert weeks == [
        "2026-W13", "2026-W14", "2026-W43", "2026-W44", "2026-W53", "2027-W01",
    ]  # fmt: skip
    for name in weeks:
        check = checks.week(IsoWeek.parse(name))
        assert check.sums.jobs == 1
        assert check.sums.margin == check.sums.planned_margin  # nothing was logged
        assert not any(check.sums.parts.values())
    year = checks.days(date(2026, 1, 1), date(2027, 1, 31))
    assert year.sums.jobs == len(moments)
