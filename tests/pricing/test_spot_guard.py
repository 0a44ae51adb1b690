from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import InvalidInput
from pricing.market_days import MarketCalendar
from pricing.spot_guard import CODES, History, Limits, Reading, judge

NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)  # a Wednesday
CALENDAR = MarketCalendar()
PLAIN = Reading(price=Decimal("27.60"), currency="EUR", as_of=NOON)
YESTERDAY = History(
    last=(Decimal("27.50"), NOON - timedelta(days=1)),
    same_price_since=NOON - timedelta(days=1),
)


def verdict(reading=PLAIN, *, now=NOON + timedelta(minutes=2), **given_too):
    parts = {"limits": Limits(), "history": YESTERDAY, "calendar": CALENDAR}
    return judge(reading, now=now, **{**parts, **given_too})


def codes(judged):
    return [finding.code for finding in judged.findings]


def at(text):
    return datetime.fromisoformat(text)


def test_a_plain_reading_is_accepted_without_a_word():
    judged = verdict(second=Decimal("27.55"))
    assert (judged.outcome, judged.findings) == ("accepted", ())


def test_the_first_price_of_its_kind_counts_and_is_pointed_out():
    judged = verdict(history=History())
    assert (judged.outcome, codes(judged)) == ("accepted", ["nothing_to_compare"])
    assert verdict(history=History(), second=Decimal("27.60")).findings == ()


@pytest.mark.parametrize(
    ("reading", "given_too", "outcome", "found"),
    [
        ({"price": Decimal(0)}, {}, "refused", ["not_a_price"]),
        ({"price": Decimal("NaN")}, {}, "refused", ["not_a_price"]),
        ({"price": Decimal("1E+5000")}, {}, "refused", ["not_a_price"]),
        ({"bid": Decimal(-1), "ask": Decimal(28)}, {}, "refused", ["not_a_price"]),
        ({"bid": Decimal(28), "ask": Decimal(27)}, {}, "refused", ["bid_over_ask"]),
        ({"bid": Decimal(26), "ask": Decimal(28)}, {}, "refused", ["spread_too_wide"]),
        (
            {"price": Decimal("0.88")},
            {},
            "refused",
            ["outside_band", "unit_looks_wrong"],
        ),
        ({"price": Decimal(855)}, {}, "refused", ["unit_looks_wrong"]),
        ({"price": Decimal("29.71")}, {}, "held", ["jump"]),
        ({}, {"second": Decimal("29.00")}, "held", ["second_source_disagrees"]),
        ({"as_of": NOON + timedelta(hours=1)}, {}, "refused", ["from_the_future"]),
        (
            {"as_of": NOON - timedelta(days=1), "price": Decimal("27.50")},
            {},
            "ignored",
            ["already_known"],
        ),
        (
            {"as_of": NOON - timedelta(hours=25)},
            {},
            "ignored",
            ["older_than_last"],
        ),
        (
            {"as_of": NOON - timedelta(hours=27)},
            {},
            "refused",
            ["too_old", "older_than_last"],
        ),
        (
            {"price": Decimal("27.50")},
            {"history": replace(YESTERDAY, same_price_since=NOON - timedelta(days=6))},
            "accepted",
            ["frozen"],
        ),
    ],
)
def test_each_doubt_has_its_outcome(reading, given_too, outcome, found):
    judged = verdict(replace(PLAIN, **reading), **given_too)
    assert (judged.outcome, codes(judged)) == (outcome, found)


def test_the_gravest_finding_decides():
    jumped = replace(PLAIN, price=Decimal(20))
    assert verdict(jumped).outcome == "held"
    older = replace(jumped, as_of=NOON - timedelta(hours=25))
    assert verdict(older).outcome == "ignored"
    crossed = replace(older, bid=Decimal(21), ask=Decimal(20))
    judged = verdict(crossed)
    assert judged.outcome == "refused"
    assert codes(judged) == ["bid_over_ask", "older_than_last", "jump"]


def test_a_correction_of_the_same_moment_is_judged_like_any_price():
    corrected = replace(PLAIN, as_of=YESTERDAY.last[1])
    assert verdict(corrected).outcome == "accepted"


@pytest.mark.parametrize(
    ("as_of", "now", "outcome"),
    [
        # Friday noon's price: all weekend, on Monday morning, and until it is late
        ("2026-11-27T12:00+00:00", "2026-11-29T20:00+00:00", "accepted"),
        ("2026-11-27T12:00+00:00", "2026-11-30T09:00+00:00", "accepted"),
        ("2026-11-27T12:00+00:00", "2026-11-30T14:00+00:00", "accepted"),
        ("2026-11-27T12:00+00:00", "2026-11-30T14:01+00:00", "refused"),
        # Thursday's before Easter on the Tuesday after
        ("2026-04-02T12:00+01:00", "2026-04-07T11:00+01:00", "accepted"),
        ("2026-04-02T12:00+01:00", "2026-04-07T14:01+01:00", "refused"),
        # Wednesday's of New Year's Eve in 2025, on Friday after the day off
        ("2025-12-31T12:00+00:00", "2026-01-02T12:00+00:00", "accepted"),
        ("2025-12-31T12:00+00:00", "2026-01-02T14:01+00:00", "refused"),
        # Friday's over the nights on which the clocks change
        ("2026-03-27T12:00+00:00", "2026-03-30T14:00+01:00", "accepted"),
        ("2026-03-27T12:00+00:00", "2026-03-30T14:01+01:00", "refused"),
        ("2026-10-23T12:00+01:00", "2026-10-26T14:00+00:00", "accepted"),
        ("2026-10-23T12:00+01:00", "2026-10-26T14:01+00:00", "refused"),
        # a plain Tuesday noon on Wednesday
        ("2026-11-24T12:00+00:00", "2026-11-25T14:00+00:00", "accepted"),
        ("2026-11-24T12:00+00:00", "2026-11-25T14:01+00:00", "refused"),
    ],
)
def test_age_is_counted_in_open_hours(as_of, now, outcome):
    history = History(last=(Decimal("27.50"), at("2025-01-02T12:00+00:00")))
    reading = replace(PLAIN, as_of=at(as_of))
    judged = verdict(reading, now=at(now), history=history)
    assert judged.outcome == outcome
    assert codes(judged) == ([] if outcome == "accepted" else ["too_old"])


def test_the_holidays_of_the_feed_do_not_age_its_price():
    now = at("2026-11-27T12:00+00:00")
    thursday = at("2026-11-26T00:00+00:00").date()
    assert verdict(now=now).outcome == "refused"
    calendar = MarketCalendar(closed=frozenset({thursday}))
    assert verdict(now=now, calendar=calendar).outcome == "accepted"


def test_a_moment_of_judging_without_its_offset_is_refused():
    with pytest.raises(InvalidInput, match="offset from UTC"):
        verdict(now=NOON.replace(tzinfo=None))


figures = st.one_of(
    st.decimals(allow_nan=True, allow_infinity=True),
    st.integers(1, 10**8).map(lambda n: n * Decimal("0.0001")),
    st.sampled_from([Decimal("27.5") * factor for factor in (1, 31, 32, 100, 1000)]),
)
moments = st.one_of(
    st.datetimes(timezones=st.just(UTC)),
    st.integers(-200, 20).map(lambda hours: NOON + timedelta(hours=hours)),
)
readings = st.builds(
    Reading,
    price=figures,
    currency=st.just("EUR"),
    as_of=moments,
    bid=st.none() | figures,
    ask=st.none() | figures,
)
histories = st.builds(
    History,
    last=st.none()
    | st.tuples(
        st.integers(1, 10**7).map(lambda n: n * Decimal("0.0001")),
        st.integers(-300, 0).map(lambda hours: NOON + timedelta(hours=hours)),
    ),
    same_price_since=st.none()
    | st.integers(-300, 0).map(lambda hours: NOON + timedelta(hours=hours)),
)


@given(readings, histories, st.none() | figures)
def test_whatever_a_feed_says_there_is_a_verdict(reading, history, second):
    judged = verdict(reading, now=NOON, history=history, second=second)
    limits = Limits()
    if judged.outcome in {"accepted", "held"}:
        assert limits.lowest <= reading.price <= limits.highest
        assert CALENDAR.open_hours(reading.as_of, NOON) <= limits.max_age_hours
        assert reading.as_of <= NOON + timedelta(minutes=limits.future_minutes)
    if judged.outcome == "accepted" and history.last is not None:
        last, moment = history.last
        assert abs(reading.price - last) <= limits.jump * last
        assert reading.as_of >= moment
    assert all(finding.weight == "warn" for finding in judged.findings) == (
        judged.outcome == "accepted"
    )


@given(readings, histories, st.none() | figures)
def test_findings_stand_in_one_order_and_say_what_to_do(reading, history, second):
    judged = verdict(reading, now=NOON, history=history, second=second)
    found = codes(judged)
    assert found == sorted(set(found), key=CODES.index)
    assert judged == verdict(reading, now=NOON, history=history, second=second)
    for finding in judged.findings:
        assert finding.text.isprintable()
        assert 60 < len(finding.text) < 500


@given(
    st.integers(2530, 2968).map(lambda n: n * Decimal("0.01")),
    st.integers(0, 26 * 60).map(lambda minutes: NOON - timedelta(minutes=minutes)),
)
def test_a_natural_price_of_the_day_is_accepted(price, as_of):
    history = History(last=(Decimal("27.49"), NOON - timedelta(days=2)))
    judged = verdict(
        replace(PLAIN, price=price, as_of=as_of),
        now=NOON,
        history=history,
        second=price * Decimal("1.02"),
    )
    assert (judged.outcome, judged.findings) == ("accepted", ())
