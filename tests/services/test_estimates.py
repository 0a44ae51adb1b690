"""Estimates: what is stored and what is wished, brought together."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from api.ports import NotFound, SpotUnavailable
from api.services import Coins, Estimates, PriceBooks, Snapshots, SpotPrices
from pricing.catalogue import catalogue_coin
from pricing.coin_document import read_coin
from pricing.errors import InvalidInput, UnknownKey
from pricing.estimate import estimate
from pricing.ring_size import ring_size
from pricing.spot import Spot
from pricing.wish import Wish

COIN = "at_50s_1959_1973"
WISH = Wish(size=ring_size("us", "10"))
BASE = {
    "metal": "base",
    "gross_mass_g": "22.68",
    "diameter_mm": "38.1",
    "density_g_cm3": "8.95",
    "paid": "1.50",
}


class Workshop:
    """The services of one workshop."""

    def __init__(self, storage, clock):
        self.snapshots = Snapshots(storage, clock)
        self.books = PriceBooks(self.snapshots, clock)
        self.coins = Coins(self.snapshots, clock)
        self.spots = SpotPrices(self.snapshots, clock)
        self.estimates = Estimates(
            self.snapshots,
            clock,
            books=self.books,
            coins=self.coins,
            spots=self.spots,
        )


@pytest.fixture
def empty(storage, clock):
    return Workshop(storage, clock)


@pytest.fixture
def workshop(empty, book_document):
    empty.books.replace(book_document, expected=None)
    empty.spots.enter("XAG", Decimal("27.50"), "EUR")
    return empty


def test_an_estimate_is_of_the_stored_book_coin_and_spot(workshop, clock):
    clock.advance(minutes=90)
    found = workshop.estimates.estimate(COIN, WISH)
    spot = workshop.spots.current()
    expected = estimate(workshop.books.current(), catalogue_coin(COIN), spot, WISH)
    assert found == expected
    assert found.book_version == 1
    assert (found.spot.source, found.spot.age_hours) == ("manual", Decimal("1.5"))


def test_a_spot_given_with_the_wish_goes_before(workshop, clock):
    found = workshop.estimates.estimate(COIN, WISH, spot_price=Decimal(40))
    assert found.spot == Spot(price=Decimal(40), currency="EUR", as_of=clock.now())
    assert found.spot.source == "given"


def test_a_coin_that_is_not_stored_can_be_priced(workshop):
    coin = replace(catalogue_coin(COIN), key="", gross_mass_g=Decimal(21))
    assert workshop.estimates.estimate(coin, WISH).coin == coin


def test_the_workshops_own_coin_goes_before_the_catalogues(workshop):
    mine = replace(catalogue_coin(COIN), gross_mass_g=Decimal(21))
    workshop.coins.replace(COIN, mine, expected=0)
    assert workshop.estimates.estimate(COIN, WISH).coin.gross_mass_g == 21


def test_an_unknown_coin_is_the_wishs_fault(workshop):
    with pytest.raises(UnknownKey, match=COIN) as refused:
        workshop.estimates.estimate("at_50s_1959_197", WISH)
    assert refused.value.path == ("coin",)


def test_without_a_book_nothing_is_priced(empty):
    with pytest.raises(NotFound, match="fineweight book load"):
        empty.estimates.estimate(COIN, WISH, spot_price=Decimal(27))


def test_silver_without_a_spot_is_not_priced(empty, book_document):
    empty.books.replace(book_document, expected=None)
    with pytest.raises(SpotUnavailable):
        empty.estimates.estimate(COIN, WISH)


def test_silver_with_a_spot_in_another_currency_is_not_priced(empty, book_document):
    empty.books.replace(book_document, expected=None)
    empty.spots.enter("XAG", Decimal(30), "USD")
    with pytest.raises(SpotUnavailable, match=r"USD.*EUR"):
        empty.estimates.estimate(COIN, WISH)


def test_a_given_spot_that_cannot_be_is_the_wishs_fault(workshop):
    with pytest.raises(InvalidInput) as refused:
        workshop.estimates.estimate(COIN, WISH, spot_price=Decimal(0))
    assert refused.value.path == ("spot", "price")


def test_a_coin_without_a_metal_price_needs_no_spot(empty, book_document):
    empty.books.replace(book_document, expected=None)
    found = empty.estimates.estimate(read_coin(BASE), WISH)
    assert found.spot is None


def test_another_fault_of_the_wish_stays_what_it_is(workshop):
    wish = replace(WISH, channel="nowhere")
    with pytest.raises(UnknownKey, match="own_shop"):
        workshop.estimates.estimate(COIN, wish)


def test_figures_that_do_not_fit_together_are_the_wishs_fault(workshop):
    wish = replace(WISH, hole_mm=Decimal(15), band_width_mm=Decimal(9))
    with pytest.raises(InvalidInput) as refused:
        workshop.estimates.estimate(COIN, wish)
    assert refused.value.path[:1] != ("spot",)


def test_an_estimate_in_a_held_request_asks_the_database_once(
    workshop, storage, monkeypatch
):
    workshop.estimates.estimate(COIN, WISH)
    asked = []
    revisions = storage.revisions
    monkeypatch.setattr(storage, "revisions", lambda: asked.append(1) or revisions())
    monkeypatch.setattr(storage, "read", None)
    with workshop.snapshots.held():
        workshop.snapshots.take()
        workshop.estimates.estimate(COIN, WISH)
    assert asked == [1]
