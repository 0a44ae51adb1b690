"""What a price stands on: found, or said to be missing."""

from __future__ import annotations

from decimal import Decimal

import pytest

from api.ports import SpotUnavailable, StaleSpot
from api.services.ground import coin_of, given_spot, refuse_stale, spot_in_force
from pricing.catalogue import catalogue_coin
from pricing.errors import InvalidInput, UnknownKey
from pricing.market import UNKNOWN, Market
from tests.services.promising import COIN, SPOT, Promises


def test_a_coin_is_one_that_is_given_or_the_one_of_a_key(promises):
    coin = catalogue_coin(COIN)
    assert coin_of(promises.coins, COIN) == coin
    assert coin_of(promises.coins, coin) is coin
    with pytest.raises(UnknownKey, match="at_50s") as unknown:
        coin_of(promises.coins, "at_50s")
    assert unknown.value.path == ("coin",)


def test_a_given_spot_is_of_now_and_in_the_books_currency(promises):
    book, now = promises.books.current(), promises.clock.now()
    spot = given_spot(Decimal(30), book, at=now)
    assert (spot.price, spot.currency, spot.as_of) == (30, "EUR", now)
    assert spot.source == "given"
    with pytest.raises(InvalidInput):
        given_spot(Decimal(0), book, at=now)


def test_the_spot_in_force_comes_with_its_age(promises):
    promises.clock.advance(hours=2)
    spot, market = spot_in_force(promises.spots, promises.books.current(), needed=True)
    assert (spot.price, market.spot_hours) == (SPOT, 2)


def test_no_spot_matters_only_where_one_is_needed(promises, tmp_path, open_database):
    book = promises.books.current()
    empty = open_database(str(tmp_path / "empty.sqlite3"))
    bare = Promises(empty, promises.clock)
    assert spot_in_force(bare.spots, book, needed=False) == (None, UNKNOWN)
    with pytest.raises(SpotUnavailable):
        spot_in_force(bare.spots, book, needed=True)


@pytest.mark.parametrize(("hours", "refused"), [(72, False), (73, True)])
def test_a_spot_is_refused_when_it_is_older_than_the_policy_says(
    promises, hours, refused
):
    book = promises.books.current()
    spot = promises.spots.current()
    market = Market(spot_hours=Decimal(hours))
    if not refused:
        refuse_stale(book.policy(), spot, market)
        return
    with pytest.raises(StaleSpot, match=r"'retail' refuses over 72\. Enter today's"):
        refuse_stale(book.policy(), spot, market)
