"""The spot in force, told again as the same object until something may differ."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from api.ports import SpotUnavailable
from api.services import Feeds, Snapshots, SpotPrices
from api.services.spot.in_force import AGE_KEPT, InForce
from pricing.price_book import read_price_book
from tests.services.feeding import ASSAY


@pytest.fixture
def snapshots(storage, clock):
    return Snapshots(storage, clock)


@pytest.fixture
def spots(snapshots, clock):
    found = SpotPrices(snapshots, clock)
    found.enter("XAG", Decimal("27.50"), "EUR")
    return found


@pytest.fixture
def told(snapshots, clock, spots):
    return InForce(snapshots, clock, spots)


@pytest.fixture
def book(book_document):
    return read_price_book(book_document)


def test_it_says_what_the_spot_prices_say(told, spots, book):
    assert told.quoted(book) == spots.quoted(book)


def test_while_nothing_changed_it_is_the_same_object(told, book, clock):
    first = told.quoted(book)
    clock.advance(seconds=9)
    assert told.quoted(book) is first


def test_its_age_is_told_anew_in_time(told, book, clock):
    first = told.quoted(book)
    clock.time += AGE_KEPT
    assert told.quoted(book) is not first


def test_a_clock_that_was_set_back_tells_anew(told, book, clock):
    first = told.quoted(book)
    clock.advance(seconds=-1)
    assert told.quoted(book) is not first


def test_a_new_price_counts_at_once(told, spots, book):
    told.quoted(book)
    spots.enter("XAG", Decimal("28.10"), "EUR")
    assert told.quoted(book).spot.price == Decimal("28.10")


def test_a_price_of_another_process_counts_at_once(told, storage, book, clock):
    told.quoted(book)
    elsewhere = SpotPrices(Snapshots(storage, clock), clock)
    elsewhere.enter("XAG", Decimal("28.10"), "EUR")
    assert told.quoted(book).spot.price == Decimal("28.10")


def test_a_price_that_expires_is_gone_from_that_moment(told, spots, book, clock):
    end = clock.now() + timedelta(seconds=3)
    spots.enter("XAG", Decimal("30.00"), "EUR", expires_at=end)
    clock.advance(seconds=2)
    assert told.quoted(book).spot.price == Decimal("30.00")
    clock.advance(seconds=1)
    assert told.quoted(book).spot.price == Decimal("27.50")


def test_another_calendar_counts_at_once(told, snapshots, book, clock):
    first = told.quoted(book)
    Feeds(snapshots, clock).put("assay", ASSAY, expected=None)
    assert told.quoted(book) is not first


def test_another_book_has_its_own_currency(told, book_document, book):
    told.quoted(book)
    pounds = read_price_book(book_document | {"currency": "GBP"})
    with pytest.raises(SpotUnavailable, match="in GBP"):
        told.quoted(pounds)
    assert told.quoted(book).spot.currency == "EUR"
