from decimal import Decimal

import pytest

from pricing.errors import InvalidInput
from pricing.money import currency
from pricing.price_book import Rounding
from pricing.price_grid import grid_of

EURO = currency("EUR")
NINETY_FIVE = Rounding(step=Decimal(5), offset=Decimal("-0.05"))


@pytest.mark.parametrize(
    ("value", "price"),
    [
        ("84.95", "84.95"),
        ("84.96", "89.95"),
        ("0", "4.95"),
        ("-30", "4.95"),
    ],
)
def test_the_next_price_is_on_the_grid_and_above_zero(value, price):
    assert grid_of(NINETY_FIVE, EURO).at_least(Decimal(value)) == Decimal(price)


@pytest.mark.parametrize(("code", "first"), [("EUR", "0.01"), ("JPY", "1")])
def test_without_a_grid_every_minor_unit_is_a_price(code, first):
    grid = grid_of(None, currency(code))
    assert (grid.first, grid.step) == (Decimal(first), Decimal(first))


@pytest.mark.parametrize(
    ("step", "offset"), [("0", "0"), ("-1", "0"), ("0.005", "0"), ("1", "0.001")]
)
def test_a_grid_that_is_not_in_whole_minor_units_is_refused(step, offset):
    with pytest.raises(InvalidInput, match="not whole in EUR") as refused:
        grid_of(Rounding(step=Decimal(step), offset=Decimal(offset)), EURO)
    assert refused.value.path == ("rounding",)
