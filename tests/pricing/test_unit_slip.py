from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.money import arithmetic
from pricing.unit_slip import UNIT_TOLERANCE, unit_slips

USUAL = Decimal("27.50")
PER_OUNCE_AS_GRAM = "a price per troy ounce read as one per gram"
PER_GRAM_AS_OUNCE = "a price per gram read as one per troy ounce"
PER_KILOGRAM_AS_OUNCE = "a price per kilogram read as one per troy ounce"
PER_OUNCE_AS_KILOGRAM = "a price per troy ounce read as one per kilogram"
PER_KILOGRAM_AS_GRAM = "a price per kilogram read as one per gram"
PER_GRAM_AS_KILOGRAM = "a price per gram read as one per kilogram"
HUNDREDTHS_AS_WHOLE = "a price in hundredths (cents, pence) read as one in whole units"
WHOLE_AS_HUNDREDTHS = "a price in whole units read as one in hundredths (cents, pence)"
INVERSE = "metal for one unit of money read as money for metal"

# Factors: a troy ounce is exactly 31.1034768 g (pricing.units).
SLIPS = [
    ("31.1035", PER_OUNCE_AS_GRAM),
    ("0.0321507", PER_GRAM_AS_OUNCE),
    ("32.1507", PER_KILOGRAM_AS_OUNCE),
    ("0.0311035", PER_OUNCE_AS_KILOGRAM),
    ("1000", PER_KILOGRAM_AS_GRAM),
    ("0.001", PER_GRAM_AS_KILOGRAM),
    ("100", HUNDREDTHS_AS_WHOLE),
    ("0.01", WHOLE_AS_HUNDREDTHS),
]


@pytest.fixture(autouse=True)
def _fixed_arithmetic():
    with arithmetic():
        yield


@pytest.mark.parametrize(("factor", "mistake"), SLIPS)
@pytest.mark.parametrize("moved", ["1", "0.992", "1.008"])
def test_each_mistake_of_unit_is_named_first(factor, mistake, moved):
    price = USUAL * Decimal(factor) * Decimal(moved)
    assert unit_slips(price, usual=USUAL)[0] == mistake


def test_an_inverse_is_named():
    assert unit_slips(1 / Decimal("27.80"), usual=USUAL) == (INVERSE,)
    assert unit_slips(Decimal("27.80"), usual=1 / USUAL) == (INVERSE,)


def test_two_mistakes_that_are_nearly_alike_are_both_named():
    assert unit_slips(USUAL * Decimal("31.6"), usual=USUAL) == (
        PER_OUNCE_AS_GRAM,
        PER_KILOGRAM_AS_OUNCE,
    )


@pytest.mark.parametrize("factor", [1000, 100, Decimal("0.01"), Decimal("0.001")])
def test_a_mistake_is_recognised_as_far_as_the_tolerance(factor):
    inside, outside = UNIT_TOLERANCE, UNIT_TOLERANCE + Decimal("0.0001")
    for moved in (inside, 1 / inside):
        assert unit_slips(USUAL * factor * moved, usual=USUAL)
    for moved in (outside, 1 / outside):
        assert not unit_slips(USUAL * factor * moved, usual=USUAL)


@given(
    st.integers(1, 10**9).map(lambda n: n * Decimal("0.000001")),
    st.integers(500, 2000).map(lambda n: n * Decimal("0.001")),
)
def test_a_price_within_twice_and_half_is_no_mistake_of_unit(usual, moved):
    # an exchange rate near 1 is near its own inverse
    assert unit_slips(usual * moved, usual=usual) == ()
