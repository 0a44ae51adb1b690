"""The board: which price falls to its floor next."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from unittest.mock import patch

import pytest

from api.ports import SpotUnavailable, StaleSpot
from tests.services.promising import BASE

BAND = ("5", "5.5")
CENT = Decimal("0.05")
"""So much silver is more than a cent of cost, by which costs are shown."""


@pytest.fixture
def stocked(shop):
    shop.coins.add(replace(BASE, key="medal"))
    shop.list(
        shop.listing("A", (*BAND, "140.00"), ("8", "9", "150.00")),
        shop.listing("B", (*BAND, "170.00"), locked=True),
        shop.listing("C", (*BAND, "100.00")),
        shop.listing("D", (*BAND, "140.00")),
        shop.listing("E", (*BAND, "140.00"), coin="gone"),
        shop.listing("F", ("9", "9", "900.00"), coin="medal"),
        shop.listing("G", ("9", "9", "1.00"), coin="medal"),
    )
    return shop


def whole_board(shop, limit=100):
    found, past = [], None
    while True:
        page = shop.repricings.floors(limit=limit, past=past)
        found += page.bands
        if not page.more:
            return found
        assert len(page.bands) == limit
        past = page.bands[-1].mark


def test_what_is_under_its_floor_comes_first_then_the_nearest(stocked):
    board = whole_board(stocked)
    assert [(band.sku, band.under) for band in board[:2]] == [("C", True), ("G", True)]
    spots = [band.spot_at_floor for band in board[2:]]
    assert spots == sorted(spots)
    assert all(spot > Decimal("27.50") for spot in spots)
    assert {band.sku for band in board} == {"A", "B", "C", "D", "G"}
    assert [band.spot_at_floor for band in board[:2]] == [None, None]
    assert [band.rise for band in board[:2]] == [None, None]


def test_a_little_below_that_spot_it_keeps_its_floor_and_above_no_more(stocked):
    for band in whole_board(stocked)[2:]:
        listing = stocked.get(band.sku)
        [spec] = [
            listing.spec(one)
            for one in listing.bands
            if one.size_from == band.size_from
        ]
        compiled = stocked.compiled.of(stocked.books.current(), spec)

        def decision(spot, compiled=compiled, price=band.price):
            spot = replace(stocked.spots.current(), price=spot)
            return compiled.judge(spot, price)

        assert "under the floor" not in decision(band.spot_at_floor - CENT).reason
        above = decision(band.spot_at_floor + CENT)
        assert "under the floor" in above.reason
        assert band.rise == pytest.approx(
            band.spot_at_floor / Decimal("27.50") - 1, abs=Decimal("0.0001")
        )


def test_a_band_is_shown_with_its_price_margin_and_floor(stocked):
    [band] = [each for each in whole_board(stocked) if each.sku == "B"]
    assert (band.size_from, band.size_to, band.price) == (5, Decimal("5.5"), 170)
    assert band.floor == Decimal("0.20") < band.margin
    assert band.policy == "retail"


@pytest.mark.parametrize("limit", [1, 2, 3])
def test_page_by_page_each_is_seen_once(stocked, limit):
    board = whole_board(stocked)
    assert whole_board(stocked, limit) == board
    assert len({band.mark for band in board}) == len(board) == 6


def test_equal_prices_of_equal_specs_are_paged_through_too(shop):
    shop.list(*(shop.listing(f"N{n:02}", (*BAND, "140.00")) for n in range(7)))
    assert [b.sku for b in whole_board(shop, 3)] == [f"N{n:02}" for n in range(7)]


def test_an_empty_shop_has_an_empty_board(shop):
    page = shop.repricings.floors(limit=10)
    assert (page.bands, page.more) == ((), False)


def test_without_a_fresh_spot_nothing_is_said(stocked, clock):
    with patch.object(stocked.repricings._grounds, "_spots") as spots:
        spots.quoted.side_effect = SpotUnavailable("none; enter one")
        with pytest.raises(SpotUnavailable, match="enter one"):
            stocked.repricings.floors(limit=10)
    clock.advance(days=30)
    with pytest.raises(StaleSpot):
        stocked.repricings.floors(limit=10)
