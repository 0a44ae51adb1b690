"""Bands that are worked out once and shared."""

from __future__ import annotations

import gc
from dataclasses import replace
from decimal import Decimal

import pytest

from api.ports import Spec
from api.services.repricings import compiled_bands
from pricing.coin_document import read_coin
from pricing.errors import NotMakeable, UnknownKey
from tests.services.promising import COIN

SPEC = Spec(
    coin=COIN,
    size_from=Decimal(5),
    size_to=Decimal("5.5"),
    channel="own_shop",
    policy="retail",
)


def test_a_spec_is_worked_out_once_whatever_its_number(shop):
    book = shop.books.current()
    first = shop.compiled.of(book, replace(SPEC, id=1))
    assert shop.compiled.of(book, replace(SPEC, id=2)) is first


@pytest.mark.parametrize(
    "other",
    [
        {"size_from": Decimal("5.25")},
        {"size_to": Decimal(6)},
        {"channel": "fair"},
        {"policy": "trade"},
        {"extras": ("box",)},
        {"coin": "us_dollar_1921_1935"},
    ],
    ids=lambda other: next(iter(other)),
)
def test_what_differs_in_anything_is_another_band(shop, other):
    book = shop.books.current()
    first = shop.compiled.of(book, SPEC)
    different = shop.compiled.of(book, replace(SPEC, **other))
    assert different is not first
    assert shop.compiled.of(book, SPEC) is first


def test_a_new_price_book_is_worked_out_anew(shop):
    first = shop.compiled.of(shop.books.current(), SPEC)
    shop.change_book(title="Another bench")
    second = shop.compiled.of(shop.books.current(), SPEC)
    assert second is not first
    assert second.book is shop.books.current()


def test_a_changed_coin_is_worked_out_anew_and_the_others_are_not(shop):
    own = read_coin(
        {
            "key": "own",
            "fineness_permille": "900",
            "gross_mass_g": "20",
            "diameter_mm": "34",
        }
    )
    shop.coins.add(own)
    book, spec = shop.books.current(), replace(SPEC, coin="own")
    first, other = shop.compiled.of(book, spec), shop.compiled.of(book, SPEC)
    shop.coins.replace("own", replace(own, gross_mass_g=Decimal(22)), expected=1)
    assert shop.compiled.of(book, spec).coin.gross_mass_g == 22
    assert shop.compiled.of(book, spec) is not first
    assert shop.compiled.of(book, SPEC) is other


def test_a_refusal_is_not_kept(shop):
    book = shop.books.current()
    with pytest.raises(UnknownKey, match="no coin 'gone'"):
        shop.compiled.of(book, replace(SPEC, coin="gone"))
    with pytest.raises(NotMakeable):
        shop.compiled.of(
            book, replace(SPEC, coin="us_dime_1892_1964", size_to=Decimal(13))
        )
    assert shop.compiled.of(book, SPEC)


def test_no_more_are_kept_than_memory_is_meant_for(shop, monkeypatch):
    monkeypatch.setattr(compiled_bands, "MOST_KEPT", 2)
    book = shop.books.current()
    sizes = [replace(SPEC, size_to=Decimal(size)) for size in ("5", "5.25", "5.5")]
    first, *_ = [shop.compiled.of(book, spec) for spec in sizes]
    last = shop.compiled.of(book, sizes[2])
    assert shop.compiled.of(book, sizes[2]) is last
    assert shop.compiled.of(book, sizes[0]) is not first


def test_a_finder_finds_the_same_bands(shop):
    book = shop.books.current()
    find = shop.compiled.finder(book)
    specs = [SPEC, replace(SPEC, id=2), replace(SPEC, size_to=Decimal(6))]
    found = [find(spec) for spec in specs]
    assert found[0] is found[1] is not found[2]
    assert [shop.compiled.of(book, spec) for spec in specs] == found
    with pytest.raises(UnknownKey, match="no coin 'gone'"):
        find(replace(SPEC, coin="gone"))


def test_the_collector_of_garbage_leaves_many_new_bands_alone(shop, monkeypatch):
    monkeypatch.setattr(compiled_bands, "MANY_NEW", 2)
    book = shop.books.current()
    gc.unfreeze()
    try:
        band = shop.compiled.of(book, SPEC)
        shop.compiled.settle()
        assert not gc.get_freeze_count()
        shop.compiled.of(book, replace(SPEC, size_to=Decimal(6)))
        shop.compiled.settle()
        assert not any(each is band for each in gc.get_objects())
        gc.unfreeze()
        shop.compiled.of(book, SPEC)  # known already, so nothing is new
        shop.compiled.settle()
        assert not gc.get_freeze_count()
    finally:
        gc.unfreeze()
