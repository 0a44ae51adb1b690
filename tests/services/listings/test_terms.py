"""What a listing may say, whatever the book says."""

from __future__ import annotations

from dataclasses import fields
from decimal import Decimal

import pytest

from api.services.listings.terms import (
    MOST_BANDS,
    MOST_EXTRAS,
    ListingAsk,
    raise_errors,
    shape_errors,
)
from pricing.errors import Fault, InvalidInput, UnknownKey
from pricing.money import currency
from tests.services.selling import asked, band

EUR, JPY = currency("EUR"), currency("JPY")


def wrong(*bands, unit=EUR, **members):
    """The paths of what is wrong."""
    return [error.path for error in shape_errors(asked(*bands, **members), unit)]


GOOD = {
    "a usual one": asked(),
    "a sku of all signs": asked(sku="A.b_c-9"),
    "a sku like a figure": asked(sku="-5"),
    "the longest sku": asked(sku="x" * 64),
    "the longest title": asked(title="x" * 200),
    "a title like a formula": asked(title="=1+1"),
    "a piece that lies ready": asked(kind="ready_made", actual_cost=Decimal("0.00")),
    "one size": asked(band("16", "16")),
    "the smallest size": asked(band("0", "0.25")),
    "no price": asked(band(price=None)),
    "the least price": asked(band(price="0.01")),
    "a price of fewer decimals": asked(band(price="5")),
    "a price of more zeros": asked(band(price="5.0000")),
    "the largest price": asked(band(price="999999999.99")),
    "bands side by side": asked(band("5", "6"), band("6.25", "7")),
    "bands in any order": asked(band("6.25", "7"), band("5", "6")),
    "most extras": asked(extras=tuple(f"x{i}" for i in range(MOST_EXTRAS))),
    "most bands": asked(*(band(str(i / 4), str(i / 4)) for i in range(MOST_BANDS))),
}


@pytest.mark.parametrize("ask", GOOD.values(), ids=GOOD)
def test_what_can_be_is_taken(ask):
    assert not list(shape_errors(ask, EUR))


SKUS = ("", "x" * 65, "a b", "a/b", "é", "a\n", ".", "..", "import", "export", "floors")


@pytest.mark.parametrize("sku", SKUS)
def test_a_sku_that_no_address_can_have_is_refused(sku):
    assert wrong(sku=sku) == [("sku",)]


BANDS = {
    "none": ([], [("bands",)]),
    "a size between quarters": ([band("5.1", "6")], [("bands", 0, "from")]),
    "a size too large": ([band("5", "16.25")], [("bands", 0, "to")]),
    "a size below nothing": ([band("-1", "6")], [("bands", 0, "from")]),
    "the larger size first": ([band("6", "5")], [("bands", 0, "to")]),
    "nothing as price": ([band(price="0")], [("bands", 0, "price")]),
    "less than nothing": ([band(price="-1")], [("bands", 0, "price")]),
    "half a cent": ([band(price="5.005")], [("bands", 0, "price")]),
    "a billion": ([band(price="1000000000")], [("bands", 0, "price")]),
    "the same size twice": ([band(), band()], [("bands", 1, "from")]),
    "an overlap": ([band("9.5", "10"), band("5", "9.5")], [("bands", 0, "from")]),
    "one within another": ([band("5", "9"), band("6", "7")], [("bands", 1, "from")]),
    "two faults": (
        [band("5.1", "6"), band("7", "8", "0")],
        [("bands", 0, "from"), ("bands", 1, "price")],
    ),
}


@pytest.mark.parametrize(("bands", "paths"), BANDS.values(), ids=BANDS)
def test_bands_that_cannot_be_are_pointed_at(bands, paths):
    ask = ListingAsk(
        **{each.name: getattr(asked(), each.name) for each in fields(ListingAsk)}
        | {"bands": tuple(bands)}
    )
    assert [error.path for error in shape_errors(ask, EUR)] == paths


@pytest.mark.parametrize(
    ("members", "path"),
    [
        ({"title": ""}, ("title",)),
        ({"title": " "}, ("title",)),
        ({"title": "x" * 201}, ("title",)),
        ({"title": "a\nb"}, ("title",)),
        ({"kind": "bought"}, ("kind",)),
        ({"extras": ("box", "box")}, ("extras",)),
        ({"extras": tuple(f"x{i}" for i in range(MOST_EXTRAS + 1))}, ("extras",)),
        ({"actual_cost": Decimal(5)}, ("actual_cost",)),
        ({"kind": "ready_made", "actual_cost": Decimal(-1)}, ("actual_cost",)),
        ({"kind": "ready_made", "actual_cost": Decimal("0.001")}, ("actual_cost",)),
    ],
)
def test_members_that_cannot_be_are_pointed_at(members, path):
    assert wrong(**members) == [path]


def test_too_many_bands_are_refused():
    many = [band(str(i / 4), str(i / 4)) for i in range(MOST_BANDS + 1)]
    assert wrong(*many) == [("bands",)]


def test_prices_have_the_decimals_of_their_currency():
    assert wrong(band(price="12500"), unit=JPY) == []
    assert wrong(band(price="12500.5"), unit=JPY) == [("bands", 0, "price")]


def test_an_overlap_is_told_with_both_bands():
    [error] = shape_errors(asked(band("5", "9.5"), band("9.5", "10")), EUR)
    assert "the band from 9.5 begins within the one from 5 to 9.5" in str(error)


def test_of_errors_figures_come_first_and_together():
    key = UnknownKey("no such coin", path=("coin",))
    one = InvalidInput("too small", path=("bands", 0, "price"))
    two = InvalidInput("too long", path=("title",))
    raise_errors([])
    with pytest.raises(UnknownKey):
        raise_errors([key])
    with pytest.raises(InvalidInput) as single:
        raise_errors([key, one])
    assert single.value is one
    with pytest.raises(InvalidInput, match="2 values cannot be used") as both:
        raise_errors([one, key, two])
    assert both.value.faults == (
        Fault(("bands", 0, "price"), "too small"),
        Fault(("title",), "too long"),
    )
