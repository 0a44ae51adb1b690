from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import InvalidInput
from pricing.markup import exact_percent, margin_of_markup, markup_of_margin

MARGINS = st.integers(-3000, 999).map(lambda n: n * Decimal("0.001"))
MARKUPS = st.integers(-999, 9000).map(lambda n: n * Decimal("0.001"))


@given(MARGINS)
def test_margin_to_markup_and_back_is_the_same_margin(margin):
    assert margin_of_markup(markup_of_margin(margin)) == pytest.approx(
        margin, abs=Decimal("1e-20")
    )


@given(MARKUPS)
def test_markup_to_margin_and_back_is_the_same_markup(markup):
    assert markup_of_margin(margin_of_markup(markup)) == pytest.approx(
        markup, abs=Decimal("1e-20")
    )


@given(MARKUPS, st.integers(1, 100_000).map(lambda n: n * Decimal("0.01")))
def test_both_describe_the_same_price(markup, cost):
    price = cost * (1 + markup)
    assert price - cost == pytest.approx(
        margin_of_markup(markup) * price, abs=Decimal("1e-20")
    )


@given(MARGINS.filter(lambda m: m > 0))
def test_a_markup_is_always_more_than_the_margin_it_gives(margin):
    assert markup_of_margin(margin) > margin


@pytest.mark.parametrize("margin", ["1", "1.5"])
def test_a_margin_of_all_the_price_is_refused(margin):
    with pytest.raises(InvalidInput, match="leaves nothing for the cost") as told:
        markup_of_margin(Decimal(margin))
    assert told.value.path == ("margin",)


@pytest.mark.parametrize("markup", ["-1", "-2"])
def test_a_markup_that_gives_the_goods_away_is_refused(markup):
    with pytest.raises(InvalidInput, match="gives the goods away") as told:
        margin_of_markup(Decimal(markup))
    assert told.value.path == ("markup",)


@pytest.mark.parametrize(
    ("rate", "text"),
    [
        ("0.019", "1.9 %"),
        ("0.20", "20 %"),
        ("1", "100 %"),
        ("0", "0 %"),
        ("-0.0725", "-7.25 %"),
    ],
)
def test_a_rate_is_written_without_needless_digits(rate, text):
    assert exact_percent(Decimal(rate)) == text
