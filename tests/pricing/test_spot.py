from datetime import UTC, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import InvalidInput
from pricing.money import arithmetic
from pricing.spot import (
    FEED_UNITS,
    FxRate,
    Spot,
    convert,
    invert,
    price_per_troy_ounce,
)
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


@pytest.mark.parametrize(
    "price", ["0", "-27.50", "NaN", "sNaN", "Infinity", "1E+5000", "1E-30"]
)
def test_a_price_that_is_not_above_zero_is_refused(price):
    with pytest.raises(InvalidInput, match="give one above 0") as told:
        Spot(price=Decimal(price), currency="EUR")
    assert told.value.path == ("spot", "price")
    with pytest.raises(InvalidInput, match="give one above 0"):
        price_per_troy_ounce(Decimal(price), unit="g")
    with pytest.raises(InvalidInput, match="an inverse spot price of"):
        invert(Decimal(price))
    with pytest.raises(InvalidInput, match="an exchange rate of") as told:
        FxRate(base="EUR", quote="USD", rate=Decimal(price))
    assert told.value.path == ("fx", "rate")


def test_a_refused_price_is_not_written_out_at_any_length():
    with pytest.raises(InvalidInput) as told:
        Spot(price=Decimal("-" + "9" * 5000), currency="EUR")
    assert len(told.value.message) < 120


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
        ("1", "gram", "31.1034768"),
        ("1000", "kilogram", "31.1034768"),
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


def quoted_every_way(per_ounce, unit):
    """The figure and options of one price as feeds may quote it by ``unit``."""
    with arithmetic():
        ounces = 1 if unit == "troy_ounce" else troy_ounces(GRAMS_OF[unit])
        price = per_ounce * ounces
        yield price, {}
        yield price * 100, {"hundredths": True}
        yield 1 / price, {"inverse": True}
        yield 1 / (price * 100), {"inverse": True, "hundredths": True}


GRAMS_OF = {"gram": Decimal(1), "kilogram": Decimal(1000)}


@given(st.integers(1, 10**9).map(lambda n: n * Decimal("0.0001")))
def test_one_price_is_the_same_spot_however_it_is_quoted(price):
    for unit in FEED_UNITS:
        for figure, options in quoted_every_way(price, unit):
            got = price_per_troy_ounce(figure, unit=unit, **options)
            assert abs(got - price) <= price * Decimal("1e-30"), (unit, options)


@given(st.integers(1, 10**9).map(lambda n: n * Decimal("0.0001")))
def test_turning_a_price_round_twice_changes_nothing(price):
    assert abs(invert(invert(price)) - price) <= price * Decimal("1e-30")


WHEN = datetime(2026, 11, 25, 15, 0, tzinfo=UTC)
EURO = FxRate(
    base="EUR",
    quote="USD",
    rate=Decimal("1.0853"),
    as_of=WHEN,
    source="reference",
    age_hours=Decimal(2),
)
DOLLARS = Spot(
    price=Decimal("29.84575"),
    currency="USD",
    as_of=WHEN,
    source="morning",
    age_hours=Decimal(5),
)


def test_a_rate_works_in_both_directions():
    assert convert(DOLLARS, EURO, to="EUR").price == Decimal("27.50")
    euros = Spot(price=Decimal("27.50"), currency="EUR")
    assert convert(euros, EURO, to="USD").price == Decimal("29.84575")


def test_a_converted_spot_says_what_it_was_and_by_which_rate():
    got = convert(DOLLARS, EURO, to="EUR")
    assert (got.currency, got.fx) == ("EUR", EURO)
    assert (got.original_price, got.original_currency) == (DOLLARS.price, "USD")
    assert (got.metal, got.as_of, got.source, got.age_hours) == (
        DOLLARS.metal,
        DOLLARS.as_of,
        DOLLARS.source,
        DOLLARS.age_hours,
    )


def test_a_spot_in_the_wanted_currency_is_left_as_it_is():
    assert convert(DOLLARS, EURO, to="USD") is DOLLARS
    assert (DOLLARS.fx, DOLLARS.original_price, DOLLARS.original_currency) == (
        None,
        None,
        None,
    )


@pytest.mark.parametrize(
    ("currency", "to"), [("USD", "GBP"), ("GBP", "EUR"), ("GBP", "USD")]
)
def test_a_rate_between_other_currencies_is_refused(currency, to):
    spot = Spot(price=Decimal("27.50"), currency=currency)
    with pytest.raises(
        InvalidInput, match=f"one between {currency} and {to} is needed"
    ) as told:
        convert(spot, EURO, to=to)
    assert told.value.path == ("fx",)


def test_a_spot_is_not_converted_twice():
    pounds = FxRate(base="EUR", quote="GBP", rate=Decimal("0.84"))
    with pytest.raises(InvalidInput, match="convert the original to GBP"):
        convert(convert(DOLLARS, EURO, to="EUR"), pounds, to="GBP")


def test_a_rate_of_a_currency_in_itself_is_refused():
    with pytest.raises(InvalidInput, match="between two currencies") as told:
        FxRate(base="EUR", quote="EUR", rate=Decimal(1))
    assert told.value.path == ("fx", "quote")


@given(
    st.integers(1, 10**9).map(lambda n: n * Decimal("0.0001")),
    st.integers(1, 10**9).map(lambda n: n * Decimal("0.000001")),
)
def test_there_and_back_again_is_the_same_price(price, rate):
    fx = FxRate(base="EUR", quote="USD", rate=rate)
    there = fx.exchanged(price, of="EUR", to="USD")
    assert abs(fx.exchanged(there, of="USD", to="EUR") - price) <= price * Decimal(
        "1e-30"
    )


def test_a_converted_price_is_short_enough_to_be_shown_whole():
    sevenfold = FxRate(base="EUR", quote="USD", rate=Decimal(7))
    spot = Spot(price=Decimal(30), currency="USD")
    assert str(convert(spot, sevenfold, to="EUR").price) == "4.285714"
    with pytest.raises(InvalidInput, match="no price"):
        convert(Spot(price=Decimal("0.000001"), currency="USD"), sevenfold, to="EUR")
