from datetime import UTC, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import InvalidInput
from pricing.money import arithmetic
from pricing.spot import Spot, price_per_troy_ounce
from pricing.units import MASS_UNITS_G, troy_ounces


def test_a_given_spot_needs_no_more_than_a_price_and_a_currency():
    spot = Spot(price=Decimal("27.50"), currency="EUR")
    assert (spot.metal, spot.source, spot.as_of, spot.age_hours) == (
        "XAG",
        "given",
        None,
        None,
    )


def test_a_fetched_spot_says_when_and_from_where():
    when = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)
    spot = Spot(
        price=Decimal("27.50"),
        currency="EUR",
        as_of=when,
        source="morning",
        age_hours=Decimal("1.5"),
    )
    assert (spot.as_of, spot.source, spot.age_hours) == (
        when,
        "morning",
        Decimal("1.5"),
    )


@pytest.mark.parametrize("price", ["0", "-27.50", "NaN", "sNaN", "Infinity"])
def test_a_price_that_is_not_above_zero_is_refused(price):
    with pytest.raises(InvalidInput, match="give one above 0") as told:
        Spot(price=Decimal(price), currency="EUR")
    assert told.value.path == ("spot", "price")
    with pytest.raises(InvalidInput, match="give one above 0"):
        price_per_troy_ounce(Decimal(price), unit="g")


@pytest.mark.parametrize(
    ("price", "unit", "per_ounce"),
    [
        # A troy ounce is 480 grains of exactly 64.79891 mg (pricing.units).
        ("1", "g", "31.1034768"),
        ("1000", "kg", "31.1034768"),
        ("1", "grain", "480"),
        ("1", "pennyweight", "20"),
        ("12", "troy_pound", "1"),
        ("27.50", "troy_ounce", "27.50"),
        ("3", "tola", "8"),
    ],
)
def test_a_price_by_any_measure_becomes_one_by_the_troy_ounce(price, unit, per_ounce):
    with arithmetic():
        assert price_per_troy_ounce(Decimal(price), unit=unit) == Decimal(per_ounce)


@given(
    st.integers(1, 10**9).map(lambda n: n * Decimal("0.0001")),
    st.sampled_from(sorted(MASS_UNITS_G)),
)
def test_the_same_metal_costs_the_same_by_either_measure(price, unit):
    with arithmetic():
        ounces = troy_ounces(MASS_UNITS_G[unit])
        got = price_per_troy_ounce(price, unit=unit) * ounces
        assert abs(got - price) < Decimal("1e-20")


def test_hundredths_are_a_hundredth_of_the_price():
    assert price_per_troy_ounce(Decimal(2750), hundredths=True) == Decimal("27.50")
    assert price_per_troy_ounce(Decimal(88), unit="g", hundredths=True) == (
        price_per_troy_ounce(Decimal("0.88"), unit="g")
    )


def test_an_unknown_measure_is_refused_with_the_known_ones():
    with pytest.raises(InvalidInput, match="'stone' is not known; use one of g, kg"):
        price_per_troy_ounce(Decimal(1), unit="stone")
