"""Listings as they are told: all of it to the bench, and not a word too much else."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal

import pytest

from api.ports import Band, Listing, PriceMove
from api.services.listings.document import (
    in_unit,
    listing_document,
    move_document,
    public_form,
    public_version,
    version,
)
from pricing.money import currency

EUR = currency("EUR")


@pytest.fixture
def listing(clock):
    return Listing(
        seq=7,
        sku="a",
        title="b",
        kind="ready_made",
        coin="canary_coin",
        channel="canary_channel",
        policy="canary_policy",
        extras=("canary_extra",),
        locked=True,
        published=True,
        actual_cost=Decimal("9173.46"),
        bands=(
            Band(id=3, size_from=Decimal(5), size_to=Decimal(6), price=Decimal(20)),
        ),
        revision=2,
        changed_rev=31,
        created_at=clock.now(),
        changed_at=clock.now(),
        changed_by="canary_key",
    )


def with_price(listing, price):
    [band] = listing.bands
    return replace(listing, bands=(replace(band, price=Decimal(price)),))


def test_the_bench_is_told_everything(listing):
    told = listing_document(listing, EUR)
    assert told["actual_cost"] == Decimal("9173.46")
    assert told["bands"] == [
        {"from": Decimal(5), "to": Decimal(6), "price": Decimal("20.00")}
    ]
    assert listing_document(replace(listing, actual_cost=None), EUR)[
        "actual_cost"
    ] is None  # fmt: skip


def test_a_shop_is_told_exactly_this(listing):
    told = public_form(listing, EUR)
    assert set(told) == {"sku", "title", "kind", "currency", "bands"}
    assert {name for band in told["bands"] for name in band} == {"from", "to", "price"}
    text = json.dumps(told, default=str)
    assert "canary" not in text
    assert "9173" not in text


def test_a_version_says_the_prices_too(listing):
    versions = {
        version(each)
        for each in (
            listing,
            replace(listing, revision=3),
            replace(listing, seq=8),
            with_price(listing, "20.01"),
        )
    }
    assert len(versions) == 4
    assert version(with_price(listing, "20.00")) == version(listing)


def test_a_public_version_follows_what_is_public_alone(listing):
    def named(each, secret=b"one"):
        return public_version(public_form(each, EUR), secret)

    quiet = replace(
        listing, coin="x", actual_cost=None, locked=False, revision=9, changed_by="y"
    )
    assert named(quiet) == named(listing)
    assert named(with_price(listing, "21")) != named(listing)
    assert named(replace(listing, title="c")) != named(listing)
    assert named(listing, b"two") != named(listing)


def test_a_move_by_a_run_tells_its_spot_and_book(clock):
    move = PriceMove(
        rev=3,
        at=clock.now(),
        by="Ada",
        why="applied",
        size_from=Decimal(5),
        size_to=Decimal(6),
        old=Decimal(20),
        new=Decimal(21),
        run="abc",
        spot='{"price": "27.50", "currency": "EUR"}',
        book_version=4,
    )
    told = move_document(move, EUR)
    assert (told["run"], told["spot_price"], told["book_version"]) == (
        "abc",
        Decimal("27.50"),
        4,
    )
    assert (str(told["old"]), str(told["new"])) == ("20.00", "21.00")


@pytest.mark.parametrize("spot", [None, "null"])
def test_a_move_may_be_without_a_spot_and_without_a_band_before(clock, spot):
    move = PriceMove(
        rev=3,
        at=clock.now(),
        by="",
        why="created",
        size_from=Decimal(5),
        size_to=Decimal(6),
        old=None,
        new=None,
        spot=spot,
    )
    told = move_document(move, EUR)
    assert told["old"] is told["new"] is told["spot_price"] is None


def test_amounts_have_the_decimals_of_their_currency_unless_they_have_more():
    assert str(in_unit(Decimal(5), EUR)) == "5.00"
    assert str(in_unit(Decimal("5.0000"), EUR)) == "5.00"
    assert str(in_unit(Decimal("5.00"), currency("JPY"))) == "5"
    assert str(in_unit(Decimal("5.25"), currency("JPY"))) == "5.25"
