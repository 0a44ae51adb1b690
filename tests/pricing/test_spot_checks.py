from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from pricing import spot_checks
from pricing.market_days import MarketCalendar
from pricing.money import arithmetic
from pricing.spot_checks import Case
from pricing.spot_reading import History, Limits, Reading

NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)  # a Wednesday
CASE = Case(
    reading=Reading(price=Decimal("27.50"), currency="EUR", as_of=NOON),
    now=NOON,
    limits=Limits(),
    history=History(),
    calendar=MarketCalendar(),
    second=None,
)


@pytest.fixture(autouse=True)
def _fixed_arithmetic():
    with arithmetic():
        yield


def case(*, last=None, since=None, second=None, now=NOON, **reading):
    return replace(
        CASE,
        reading=replace(CASE.reading, **reading),
        now=now,
        history=History(last=last, same_price_since=since),
        second=second,
    )


def texts(found):
    return [finding.text for finding in found]


def the_text(found):
    (text,) = texts(found)
    return text


def days_ago(days):
    return NOON - timedelta(days=days)


def test_what_is_no_price_is_listed_figure_by_figure():
    doubtful = case(price=Decimal("NaN"), bid=Decimal(0), ask=Decimal("1E+999999"))
    assert the_text(spot_checks.not_a_price(doubtful)) == (
        "The feed gave NaN as price, 0.00 as bid, 1e+999999 as ask; a price is a "
        "number above 0. Check the feed's paths and how it writes numbers."
    )
    assert not texts(spot_checks.not_a_price(case()))


@pytest.mark.parametrize(
    ("price", "outside"),
    [("0.9999", True), ("1", False), ("1000", False), ("1000.01", True)],
)
def test_the_band_holds_at_its_bounds(price, outside):
    found = texts(spot_checks.outside_band(case(price=Decimal(price))))
    assert bool(found) is outside


def test_the_band_is_told():
    assert the_text(spot_checks.outside_band(case(price=Decimal("0.88")))) == (
        "0.88 EUR is outside the band of 1.00 to 1000.00 EUR. Check the feed's unit "
        "and currency, or widen its limits 'lowest' and 'highest'."
    )


@pytest.mark.parametrize(
    ("bid", "ask", "code"),
    [
        ("27.50", "27.50", None),
        ("39", "41", None),  # exactly 5 %
        ("39", "41.01", "spread_too_wide"),
        ("27.51", "27.50", "bid_over_ask"),
        (None, "27.50", None),
        ("27.50", None, None),
    ],
)
def test_bid_and_ask_keep_together(bid, ask, code):
    sides = {"bid": bid, "ask": ask}
    given = {name: text and Decimal(text) for name, text in sides.items()}
    found = [finding.code for finding in spot_checks.bid_and_ask(case(**given))]
    assert found == ([] if code is None else [code])


def test_bid_and_ask_are_told():
    crossed = case(bid=Decimal(28), ask=Decimal(27))
    assert the_text(spot_checks.bid_and_ask(crossed)) == (
        "The bid of 28.00 and the ask of 27.00 cross; a bid is at most the ask. "
        "See whether the feed's paths for them are swapped."
    )
    wide = case(bid=Decimal(19), ask=Decimal(21))
    assert the_text(spot_checks.bid_and_ask(wide)) == (
        "The bid of 19.00 and the ask of 21.00 are 10 % apart; at most 5 % is allowed. "
        "Wait for a calmer market, or raise the feed's limit 'spread'."
    )


def test_the_clocks_may_differ_by_five_minutes():
    assert not texts(spot_checks.from_the_future(case(as_of=days_ago(-1 / 288))))
    ahead = case(as_of=NOON + timedelta(minutes=6))
    assert the_text(spot_checks.from_the_future(ahead)) == (
        "The price is of 2026-11-25 12:06+00:00, and the clock says "
        "2026-11-25 12:00+00:00; at most 5 minutes ahead is allowed. Check the feed's "
        "time zone and this machine's clock."
    )


def test_an_old_price_is_told_with_its_age():
    assert not texts(spot_checks.too_old(case(as_of=NOON - timedelta(hours=26))))
    assert the_text(spot_checks.too_old(case(as_of=NOON - timedelta(hours=26.5)))) == (
        "The price is of 2026-11-24 09:30+00:00, 26.5 hours of open market ago; at "
        "most 26 are allowed. See whether the feed has stopped; until it goes on, "
        "enter a price by hand."
    )


def test_only_what_is_newer_counts():
    older = case(last=(Decimal("27.40"), NOON + timedelta(minutes=1)))
    assert the_text(spot_checks.nothing_new(older)) == (
        "The price is of 2026-11-25 12:00+00:00, and one of 2026-11-25 12:01+00:00 is "
        "in use; only newer ones count. If this goes on, check the feed's time and "
        "its zone."
    )
    again = case(last=(Decimal("27.5"), NOON))
    assert the_text(spot_checks.nothing_new(again)) == (
        "27.50 EUR of 2026-11-25 12:00+00:00 is known already; only newer prices "
        "count. There is nothing to do."
    )
    assert not texts(
        spot_checks.nothing_new(case(last=(Decimal("27.50"), days_ago(1))))
    )
    assert not texts(spot_checks.nothing_new(case(last=(Decimal("27.40"), NOON))))
    assert not texts(spot_checks.nothing_new(case()))


@pytest.mark.parametrize(
    ("price", "jumped"),
    [("23", False), ("22.99", True), ("27", False), ("27.01", True)],
)
def test_a_change_of_eight_percent_passes(price, jumped):
    doubtful = case(price=Decimal(price), last=(Decimal(25), days_ago(1)))
    found = [finding.code for finding in spot_checks.against_the_last(doubtful)]
    assert found == (["jump"] if jumped else [])


def test_a_jump_is_told_with_its_direction():
    last = (Decimal(25), days_ago(1))
    up, down = case(price=Decimal(30), last=last), case(price=Decimal(20), last=last)
    assert the_text(spot_checks.against_the_last(up)) == (
        "30.00 EUR is 20 % above the last accepted 25.00; a change of at most 8 % "
        "passes unasked. Compare it with another source, then accept or reject it."
    )
    assert "20 % below the last" in the_text(spot_checks.against_the_last(down))


def test_a_mistaken_unit_is_named_in_place_of_the_jump():
    kilogram = case(price=Decimal(884), last=(Decimal("27.50"), days_ago(1)))
    (found,) = spot_checks.against_the_last(kilogram)
    assert (found.code, found.weight) == ("unit_looks_wrong", "refuse")
    assert found.text == (
        "884.00 EUR is far from the 27.50 expected and looks like a price per "
        "kilogram read as one per troy ounce, or a price per troy ounce read as one "
        "per gram; a change of at most 8 % passes. Correct the feed; if it is the "
        "expected price that is wrong, enter today's by hand."
    )


def test_without_a_last_price_the_second_source_shows_a_mistaken_unit():
    pence = case(price=Decimal(275), second=Decimal("2.75"))
    (found,) = spot_checks.against_the_last(pence)
    assert found.code == "unit_looks_wrong"
    # but how far it lies from that is another check's
    assert not texts(spot_checks.against_the_last(case(second=Decimal(20))))


@pytest.mark.parametrize("second", [None, Decimal("NaN"), Decimal(0)])
def test_nothing_is_measured_by_what_is_no_price(second):
    assert not texts(spot_checks.against_the_last(case(second=second)))


@pytest.mark.parametrize(
    ("second", "differs"),
    [("25", False), ("24.9", True), (None, False), ("NaN", True), ("0", True)],
)
def test_a_second_source_may_differ_by_three_percent(second, differs):
    doubtful = case(price=Decimal("25.75"), second=second and Decimal(second))
    assert bool(texts(spot_checks.second_source(doubtful))) is differs


def test_a_second_source_is_told():
    assert the_text(spot_checks.second_source(case(second=Decimal("29.00")))) == (
        "27.50 EUR and the 29.00 of the second source differ; at most 3 % passes "
        "unasked. Compare both with a third, then accept or reject it."
    )


@pytest.mark.parametrize(
    ("since", "frozen"),
    [
        (2, False),  # Monday noon to Wednesday noon
        (5, False),  # Friday noon: three market days
        (5.1, True),
        (6, True),
    ],
)
def test_one_value_for_more_than_three_market_days_looks_frozen(since, frozen):
    doubtful = case(last=(Decimal("27.50"), days_ago(1)), since=days_ago(since))
    assert bool(texts(spot_checks.frozen(doubtful))) is frozen


def test_a_frozen_value_is_told_with_its_days():
    doubtful = case(last=(Decimal("27.50"), days_ago(1)), since=days_ago(6))
    assert the_text(spot_checks.frozen(doubtful)) == (
        "27.50 EUR has not moved for 4 market days; up to 3 look natural. See on "
        "another source whether the feed has stopped."
    )


def test_a_value_is_frozen_only_while_it_is_the_same():
    moved = case(last=(Decimal("27.49"), days_ago(1)), since=days_ago(9))
    assert not texts(spot_checks.frozen(moved))
    assert not texts(spot_checks.frozen(case(since=days_ago(9))))
    assert not texts(spot_checks.frozen(case(last=(Decimal("27.50"), days_ago(9)))))


def test_a_first_price_is_told():
    assert the_text(spot_checks.nothing_to_compare(case())) == (
        "27.50 EUR is the first price of its kind and was checked against the band of "
        "1.00 to 1000.00 alone. Compare it once with another source; if it is wrong, "
        "enter today's by hand and correct the feed."
    )
    known = case(last=(Decimal("27.50"), days_ago(1)))
    assert not texts(spot_checks.nothing_to_compare(known))
    assert not texts(spot_checks.nothing_to_compare(case(second=Decimal("27.50"))))
