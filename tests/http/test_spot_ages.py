"""A fetched price grows old over weekends, clock changes and the turn of the year.

All through HTTP, with a clock that only the test moves.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest

FEED = {
    "title": "The assay office",
    "url": "https://feeds.example/silver",
    "format": "json",
    "currency": "EUR",
    "price": "/price",
    "time": {"path": "/at"},
}
RING = {"coin": "at_50s_1959_1973", "size": {"system": "us", "size": "8.5"}}
CURRENT = "/v1/spot-prices/current"
FETCH = "/v1/spot-prices/fetch"
FRIDAY = datetime(2026, 11, 27, 12, tzinfo=UTC)
# Noon in London, a later moment there, and the hours of open market between.
SPANS = {
    "Friday to Monday morning": ("2026-11-27T12:00Z", "2026-11-30T09:00Z", "21.0"),
    "into the weekend": ("2026-11-27T12:00Z", "2026-11-29T20:00Z", "12.0"),
    "the night the clocks go back": ("2026-10-23T11:00Z", "2026-10-26T12:00Z", "24.0"),
    "the night they go forward": ("2026-03-27T12:00Z", "2026-03-30T11:00Z", "24.0"),
    "year end": ("2026-12-31T12:00Z", "2027-01-04T12:00Z", "24.0"),
    "Christmas": ("2026-12-24T12:00Z", "2026-12-28T12:00Z", "24.0"),
    "Easter": ("2026-04-02T11:00Z", "2026-04-07T11:00Z", "24.0"),
    "a leap day": ("2028-02-28T12:00Z", "2028-03-01T12:00Z", "48.0"),
}


def moment(text):
    return datetime.fromisoformat(text)


@pytest.fixture
def fed(timed_workshop):
    new = {"If-None-Match": "*"}
    timed_workshop.put("/v1/feeds/assay", FEED, headers=new)
    return timed_workshop


def fetch(fed, clock, at, price="28"):
    """What comes of fetching a price of ``at``, now."""
    said = {"price": price, "at": at.isoformat()}
    fed.post_office.letters[FEED["url"]] = json.dumps(said).encode()
    [result] = fed.post(FETCH, {"feed": "assay"}).json["results"]
    return result


def spot_of_estimate(fed):
    answer = fed.post("/v1/estimates", RING)
    if answer.status_code != 200:
        return answer
    codes = [one["code"] for one in answer.json["cautions"]]
    assert answer.json["spot"]["stale"] is ("spot_stale" in codes)
    return answer.json["spot"]


@pytest.mark.parametrize(("since", "until", "hours"), SPANS.values(), ids=SPANS)
def test_only_hours_of_open_market_make_a_price_older(fed, clock, since, until, hours):
    clock.time = moment(since)
    assert fetch(fed, clock, clock.time)["outcome"] == "accepted"
    assert fed.get(CURRENT).json["open_hours"] == "0.0"
    clock.time = moment(until)
    told = fed.get(CURRENT).json
    assert told["open_hours"] == hours
    elapsed = clock.time - moment(since)
    assert float(told["age_hours"]) == elapsed / timedelta(hours=1)


def test_fridays_price_is_good_on_monday_morning_and_old_in_the_afternoon(fed, clock):
    clock.time = FRIDAY
    fetch(fed, clock, FRIDAY)
    clock.time = FRIDAY + timedelta(days=2, hours=21)  # Monday, nine o'clock
    told = spot_of_estimate(fed)
    assert (told["price"], told["age_hours"], told["stale"]) == ("28.00", "69.0", False)
    clock.time = FRIDAY + timedelta(days=3, hours=2)
    assert not spot_of_estimate(fed)["stale"]
    clock.advance(minutes=1)
    assert spot_of_estimate(fed)["stale"]
    assert fed.get(CURRENT).json["staleness"] == "old"


def test_fridays_price_can_still_be_fetched_on_monday_but_not_on_tuesday(fed, clock):
    clock.time = FRIDAY + timedelta(days=3)
    assert fetch(fed, clock, FRIDAY)["outcome"] == "accepted"
    clock.time = FRIDAY + timedelta(days=4, hours=3)
    refused = fetch(fed, clock, FRIDAY + timedelta(minutes=1), "28.10")
    assert refused["outcome"] == "refused"
    assert refused["findings"][0]["code"] == "too_old"


def test_a_price_that_is_too_old_prices_nothing(fed, clock):
    clock.time = FRIDAY
    fetch(fed, clock, FRIDAY)
    clock.time = FRIDAY + timedelta(days=5)  # Wednesday noon: 72 hours of open market
    assert spot_of_estimate(fed)["stale"]
    clock.advance(minutes=1)
    refused = spot_of_estimate(fed)
    assert refused.status_code == 409
    assert refused.json["type"] == "/docs/problems/spot-stale"
    assert "72.0 hours of open market old" in refused.json["detail"]
    assert fed.get(CURRENT).json["staleness"] == "stale"
    given = fed.post("/v1/estimates", RING | {"spot": {"price": "28"}})
    assert given.json["spot"]["stale"] is False


def test_a_year_begins_with_last_years_price(fed, clock):
    clock.time = datetime(2026, 12, 31, 16, tzinfo=UTC)
    fetch(fed, clock, clock.time)
    clock.time = datetime(2027, 1, 3, 23, 59, tzinfo=UTC)  # a Sunday night
    told = spot_of_estimate(fed)
    assert (told["stale"], told["as_of"][:10]) == (False, "2026-12-31")
    assert fed.get(CURRENT).json["open_hours"] == "8.0"


@pytest.mark.parametrize(
    ("now", "ahead", "outcome"),
    [
        ("2026-10-25T00:30Z", 5, "accepted"),  # half past one, for the first time
        ("2026-10-25T01:30Z", 6, "refused"),  # and for the second
        ("2026-12-31T23:58Z", 5, "accepted"),
        ("2026-12-31T23:58Z", 6, "refused"),
    ],
)
def test_a_clock_five_minutes_ahead_is_forgiven_in_any_night(
    fed, clock, now, ahead, outcome
):
    clock.time = moment(now)
    at = clock.time + timedelta(minutes=ahead)
    assert fetch(fed, clock, at)["outcome"] == outcome


def test_a_time_without_its_offset_is_read_in_the_zone_of_the_feed(fed, clock):
    local = {"path": "/at", "format": "%Y-%m-%d %H:%M", "zone": "Europe/Vienna"}
    fed.change("/v1/feeds/assay", FEED | {"time": local})
    clock.time = moment("2026-10-25T12:00Z")
    said = {"price": "28", "at": "2026-10-24 14:00"}  # summer time still
    fed.post_office.letters[FEED["url"]] = json.dumps(said).encode()
    [result] = fed.post(FETCH, {}).json["results"]
    assert result["as_of"] == "2026-10-24T12:00:00.000Z"


def test_a_price_by_hand_wins_until_its_hour(fed, clock):
    body = {"price": "29", "expires_at": "2026-12-01T18:00:00+01:00"}
    fed.post("/v1/spot-prices", body)
    fetch(fed, clock, clock.time)
    clock.time = moment("2026-12-01T16:59Z")
    assert spot_of_estimate(fed)["price"] == "29.00"
    clock.advance(minutes=1)
    assert spot_of_estimate(fed)["price"] == "28.00"
