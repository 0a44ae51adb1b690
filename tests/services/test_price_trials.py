"""A price book tried on some rings before it is kept."""

from __future__ import annotations

from copy import deepcopy
from decimal import Decimal

import pytest

from api.services.price_trials import USUAL, PriceTrials
from pricing.errors import BookRefused
from tests.services.promising import COIN, DOLLAR, Promises
from tests.services.repricing import SHOP_BOOK


@pytest.fixture
def trials(shop):
    return PriceTrials(
        shop.snapshots, books=shop.books, coins=shop.coins, spots=shop.spots
    )


def dearer(**members):
    return deepcopy(SHOP_BOOK) | members


def test_the_book_in_force_changes_nothing(trials):
    tried = trials.tried(SHOP_BOOK)
    assert (tried.version, tried.changes) == (1, ())
    assert [one.step for one in tried.rings] == [Decimal(0)] * 3
    assert all(one.before == one.after for one in tried.rings)


def test_without_listings_the_usual_coins_are_priced(trials):
    tried = trials.tried(SHOP_BOOK)
    assert [one.ring.coin.key for one in tried.rings] == [coin for coin, _ in USUAL]
    assert [one.ring.sku for one in tried.rings] == [""] * 3


def test_a_dearer_hour_is_seen_in_every_price_and_told(trials):
    labour = SHOP_BOOK["labour"] | {"rate_per_hour": "120"}
    tried = trials.tried(dearer(labour=labour))
    assert [change.path for change in tried.changes] == ["labour.rate_per_hour"]
    for one in tried.rings:
        assert one.step > 0
        assert one.after.cost > one.before.cost
        assert one.after.margin_rate >= Decimal("0.35")


def test_a_book_at_fault_is_refused(trials):
    with pytest.raises(BookRefused):
        trials.tried(dearer(stages=[]))


def test_what_cannot_be_priced_says_why_not(trials):
    coarse = dearer(forming={"min_land_mm": "40"})
    tried = trials.tried(coarse)
    assert all(one.after.price is None for one in tried.rings)
    assert all("land" in one.after.why_not for one in tried.rings)
    assert all(one.step is None for one in tried.rings)


def test_another_currency_without_a_rate_is_told(trials):
    (first, *_) = trials.tried(dearer(currency="USD")).rings
    assert first.after.currency == "USD"
    assert "no spot price" in first.after.why_not
    assert first.step is None


def test_listings_are_taken_where_there_are_some_the_different_ones_first(trials, shop):
    band = ("5", "9.5", "100.00")
    alike = [shop.listing(f"ring-{n}", band) for n in range(3)]
    other = shop.listing("other", band, coin=DOLLAR, policy="trade")
    shop.list(other, *alike)
    found = [one.ring for one in trials.tried(SHOP_BOOK).rings]
    assert {one.sku for one in found} >= {"other", "ring-2"}
    assert len(found) == 3
    assert {one.coin.key for one in found} == {COIN, DOLLAR}


def test_a_listing_whose_coin_was_removed_is_passed_over(trials, shop):
    shop.list(shop.listing("gone", ("5", "6", "90.00"), coin="no_such_coin"))
    assert [one.ring.sku for one in trials.tried(SHOP_BOOK).rings] == [""] * 3


def test_the_first_book_of_all_is_tried_against_nothing(storage, clock):
    empty = Promises(storage, clock)
    trials = PriceTrials(
        empty.snapshots, books=empty.books, coins=empty.coins, spots=empty.spots
    )
    tried = trials.tried(SHOP_BOOK)
    assert (tried.version, tried.changes) == (0, ())
    assert [one.before for one in tried.rings] == [None] * 3
    assert [one.step for one in tried.rings] == [None] * 3
