"""Guards with what is on record: last price, second source, what can be kept."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from tests.services.feeding import ASSAY, NOON, Fetchery, codes, reading

HOUR = timedelta(hours=1)
WIDE = {"limits": {"lowest": "0.000000001", "highest": "999999999999"}}


def test_the_first_price_is_taken_with_a_word(fetchery):
    assert codes(fetchery.fetch()) == ["nothing_to_compare"]


def test_a_price_is_recorded_at_nine_decimals_and_known_again(fetchery):
    third = reading("27.12345678949")
    assert fetchery.fetch(third).price == Decimal("27.123456789")
    assert fetchery.spots.current().price == Decimal("27.123456789")
    assert fetchery.fetch(third).outcome == "ignored"


@pytest.mark.parametrize("price", ["1000000000", "999999999998.9"])
def test_a_price_that_cannot_be_kept_is_refused(storage, clock, price):
    fetchery = Fetchery(storage, clock)
    fetchery.set_up(**WIDE)
    result = fetchery.fetch(reading(price))
    assert (result.outcome, codes(result)[-1]) == ("refused", "beyond_record")
    assert fetchery.spots.history() == ()


def test_a_price_is_not_rounded_up_into_what_is_allowed(storage, clock):
    fetchery = Fetchery(storage, clock)
    fetchery.set_up(**WIDE)
    assert codes(fetchery.fetch(reading("0.0000000009")))[0] == "outside_band"


@pytest.mark.parametrize("price", ["0.000000001", "999999999.999999999"])
def test_a_price_at_the_edge_of_what_can_be_kept_is_kept(storage, clock, price):
    fetchery = Fetchery(storage, clock)
    fetchery.set_up(**WIDE)
    assert fetchery.fetch(reading(price)).outcome == "accepted"
    assert fetchery.spots.current().price == Decimal(price)


@pytest.mark.parametrize("price", ["NaN", "Infinity", "-1", "0", "1E+5000", "1E-5000"])
def test_what_is_no_price_is_refused(fetchery, price):
    result = fetchery.fetch(reading(price))
    assert (result.outcome, codes(result)) == ("refused", ["not_a_price"])


def test_a_first_price_in_the_wrong_unit_is_seen_by_one_entered_by_hand(
    fetchery, clock
):
    fetchery.spots.enter("XAG", Decimal("27.50"), "EUR")
    clock.advance(hours=1)
    result = fetchery.fetch(reading("855.35", NOON))  # by 31.1 too much
    assert (result.outcome, codes(result)) == ("refused", ["unit_looks_wrong"])


def test_a_price_by_hand_sets_the_measure_right(fetchery, clock):
    fetchery.fetch(reading("855.35"))
    clock.advance(hours=1)
    assert fetchery.fetch(reading("27.50", clock.now())).outcome == "refused"
    fetchery.spots.enter("XAG", Decimal("27.40"), "EUR")
    assert fetchery.fetch(reading("27.50", clock.now())).outcome == "accepted"


def test_a_price_older_than_the_feeds_last_is_ignored(fetchery):
    fetchery.fetch(reading())
    result = fetchery.fetch(reading("27.40", NOON - HOUR))
    assert (result.outcome, codes(result)) == ("ignored", ["older_than_last"])


def test_a_price_older_than_one_by_hand_is_still_recorded(fetchery):
    fetchery.spots.enter("XAG", Decimal("27.50"), "EUR")
    assert fetchery.fetch(reading("27.40", NOON - HOUR)).outcome == "accepted"
    assert fetchery.spots.current().price == Decimal("27.50")


def test_a_value_that_does_not_move_is_told(fetchery, clock):
    for _ in range(5):
        result = fetchery.fetch(reading("27.50", clock.now()))
        clock.advance(hours=23)
    assert (result.outcome, codes(result)) == ("accepted", ["frozen"])


@pytest.fixture
def compared(storage, clock):
    """A workshop whose feed is held against another."""
    fetchery = Fetchery(storage, clock)
    fetchery.set_up("other", max_age_hours="5")
    fetchery.set_up(second_source="other")
    return fetchery


def test_a_second_source_that_agrees_passes_in_silence(compared):
    compared.fetch(reading("27.40"), key="other")
    result = compared.fetch(reading("27.50"))
    assert (result.outcome, codes(result)) == ("accepted", [])


def test_a_second_source_that_says_otherwise_holds(compared):
    compared.fetch(reading("28.90"), key="other")
    result = compared.fetch(reading("27.50"))
    assert (result.outcome, codes(result)) == ("held", ["second_source_disagrees"])


@pytest.mark.parametrize("hours", [None, 6])
def test_without_a_fresh_second_source_it_is_said_that_none_was_there(
    compared, clock, hours
):
    if hours is not None:
        compared.fetch(reading("28.90"), key="other")
        clock.advance(hours=hours)
    result = compared.fetch(reading("28.50", clock.now()))
    assert result.outcome == "accepted"
    assert codes(result)[-1] == "no_second_source"
    assert "'other' has no fresh price in EUR" in result.findings[-1].text


def test_a_second_source_that_was_removed_is_judged_by_the_feeds_own_age(
    compared, clock
):
    compared.fetch(reading("28.90"), key="other")
    compared.feeds.remove("other", expected=1)
    clock.advance(hours=6)
    result = compared.fetch(reading("27.50", clock.now()))
    assert codes(result) == ["second_source_disagrees"]


def test_closed_dates_of_the_feed_do_not_make_its_price_old(storage, clock):
    fetchery = Fetchery(storage, clock)
    fetchery.set_up(closed_dates=["2026-12-02", "2026-12-03"])
    fetchery.set_up("plain", ASSAY)
    clock.advance(days=3)
    assert fetchery.fetch(reading(), key="plain").outcome == "refused"
    assert fetchery.fetch(reading()).outcome == "accepted"
