from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from api.ports import NotFound, SpotUnavailable
from api.services import PriceBooks
from api.services.spot.standing import Standings
from pricing.errors import InvalidInput
from pricing.price_book import StaleSpot
from tests.services.feeding import reading


@pytest.fixture
def standings(fetchery, clock):
    """How the prices of a workshop that fetches stand; it is a Tuesday, noon."""
    return Standings(
        fetchery.snapshots, clock, feeds=fetchery.feeds, spots=fetchery.spots
    )


@pytest.fixture
def books(fetchery, clock):
    return PriceBooks(fetchery.snapshots, clock)


def test_nothing_in_force_has_no_standing(standings):
    with pytest.raises(SpotUnavailable, match="spot set"):
        standings.of()


def test_what_is_no_metal_is_refused(standings):
    with pytest.raises(InvalidInput, match="has no price here"):
        standings.of("XAU")


def test_a_price_is_fresh_then_old_then_stale(standings, fetchery, clock):
    fetchery.fetch(reading())
    seen = []
    for hours in (26, 1, 45, 1):
        clock.advance(hours=hours)
        found = standings.of()
        seen.append((found.staleness, found.open_hours, len(found.said)))
    assert seen == [
        ("fresh", Decimal("26.0"), 0),
        ("old", Decimal("27.0"), 1),
        ("old", Decimal("72.0"), 1),
        ("stale", Decimal("73.0"), 1),
    ]
    assert "73.0 hours of open market old; nothing is priced" in found.said[0]
    assert found.spot.age_hours == 73


def test_a_price_that_expires_is_not_old_before(standings, fetchery, clock):
    until = clock.now() + timedelta(days=30)
    fetchery.spots.enter("XAG", Decimal(28), "EUR", expires_at=until)
    clock.advance(days=29)
    found = standings.of()
    assert (found.staleness, found.open_hours) == ("fresh", None)
    assert found.expires_at == until


def test_the_first_policy_of_the_book_says_what_is_old(
    standings, fetchery, clock, books, book_document
):
    book_document["policies"][0]["stale_spot"] = {"warn_hours": 1, "refuse_hours": 2}
    books.replace(book_document, expected=None)
    fetchery.fetch(reading())
    clock.advance(minutes=90)
    assert standings.of().staleness == "old"
    clock.advance(minutes=31)
    assert standings.of().staleness == "stale"


def test_the_rate_counts_where_the_book_is_in_another_currency(
    standings, fetchery, clock, books, book_document
):
    books.replace(book_document, expected=None)
    fetchery.spots.enter("EUR", Decimal("1.10"), "USD")
    clock.advance(hours=80)
    fetchery.spots.enter("XAG", Decimal(30), "USD")
    found = standings.of()
    assert found.staleness == "stale"
    assert found.said[0].startswith("The rate of EUR in USD")
    assert (found.spot.price, found.spot.currency) == (30, "USD")
    assert found.open_hours == 0


def test_without_a_rate_the_price_stands_by_itself(
    standings, fetchery, clock, books, book_document
):
    books.replace(book_document, expected=None)
    fetchery.spots.enter("XAG", Decimal(30), "USD")
    clock.advance(hours=30)
    found = standings.of()
    assert (found.staleness, found.open_hours) == ("old", Decimal("30.0"))


def test_a_rate_of_exchange_has_a_standing_too(standings, fetchery, clock):
    fetchery.spots.enter("EUR", Decimal("1.10"), "USD")
    clock.advance(hours=73)
    found = standings.of("EUR")
    assert (found.staleness, found.spot.price) == ("stale", Decimal("1.10"))


def test_held_prices_wait_until_they_are_decided(standings, fetchery):
    fetchery.fetch(reading())
    held = fetchery.fetch(reading("31", reading().as_of + timedelta(minutes=1)))
    assert standings.of().waiting == 1
    [entry] = standings.waiting()
    assert entry.id == held.entry_id
    fetchery.spots.reject(entry.id)
    assert standings.of().waiting == 0


def test_closed_days_of_the_feed_do_not_count(standings, fetchery, clock):
    document = fetchery.feeds.get("assay")
    changed = {**document.document, "closed_dates": ["2026-12-02"]}
    fetchery.feeds.put("assay", changed, expected=document.revision)
    fetchery.fetch(reading())
    clock.advance(hours=48)
    found = standings.of()
    assert (found.open_hours, found.spot.age_hours) == (24, 48)
    assert replace(found, said=()) == found


def test_it_says_at_which_ages_it_is_warned_of_and_refused(standings, fetchery):
    fetchery.fetch(reading())
    assert standings.of().limits == StaleSpot()


def test_the_rate_in_force_of_each_pair_is_told(standings, fetchery, clock):
    enter = fetchery.spots.enter
    enter("XAG", Decimal(28), "EUR")
    enter("USD", Decimal("0.90"), "EUR")
    clock.advance(hours=1)
    enter("USD", Decimal("0.91"), "EUR")
    enter("GBP", Decimal("1.15"), "EUR", expires_at=clock.now() + timedelta(hours=1))
    enter("USD", Decimal("0.80"), "GBP")
    clock.advance(hours=2)
    told = [(one.metal, one.currency, one.price) for one in standings.rates()]
    assert told == [
        ("USD", "EUR", Decimal("0.91")),
        ("USD", "GBP", Decimal("0.80")),
    ]


def test_a_typed_price_is_compared_with_the_one_in_force(standings, fetchery):
    assert standings.doubts("XAG", Decimal(275), "EUR") == ()
    fetchery.fetch(reading())
    assert standings.doubts("XAG", Decimal(28), "EUR") == ()
    assert "above the 27.50 in force" in standings.doubts("XAG", Decimal(50), "EUR")[0]
    assert standings.doubts("XAG", Decimal(50), "USD") == ()


def test_an_entry_is_found_by_its_id(standings, fetchery):
    entered = fetchery.spots.enter("XAG", Decimal(28), "EUR")
    assert standings.entry(entered.id) == entered
    with pytest.raises(NotFound, match="no spot price with the id"):
        standings.entry(10**30)
