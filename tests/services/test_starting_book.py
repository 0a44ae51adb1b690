"""A first book from a few answers."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from api.services.starting_book import StartingAnswers, starting_book, to_be_timed
from pricing.catalogue import catalogue_coin
from pricing.errors import BookRefused
from pricing.estimate import prepare
from pricing.price_book import read_price_book
from pricing.ring_size import ring_size
from pricing.spot import Spot
from pricing.wish import Wish

ANSWERS = StartingAnswers(
    title="A bench",
    currency="EUR",
    timezone="Europe/Vienna",
    rate_per_hour=Decimal("32.00"),
    overhead_per_hour=Decimal("9.50"),
    tax=Decimal("0.20"),
    target_margin=Decimal("0.35"),
)


def test_it_is_a_book_that_prices_a_ring():
    book = read_price_book(starting_book(ANSWERS))
    spot = Spot(price=Decimal("27.50"), currency="EUR", as_of=None)
    ring = prepare(
        book, catalogue_coin("at_50s_1959_1973"), Wish(size=ring_size("us", "9"))
    )
    sale = ring.price_at(spot).sale
    assert sale.margin_rate >= Decimal("0.35")
    assert sale.tax > 0


def test_every_stage_says_that_it_is_to_be_timed():
    book = read_price_book(starting_book(ANSWERS))
    assert to_be_timed(book) == len(book.stages)
    first = starting_book(ANSWERS)
    first["stages"][0]["title"] = "Gauge"
    assert to_be_timed(read_price_book(first)) == len(book.stages) - 1


def test_what_cannot_be_is_for_the_reader_of_books_to_refuse():
    with pytest.raises(BookRefused):
        read_price_book(starting_book(replace(ANSWERS, currency="ABC")))
