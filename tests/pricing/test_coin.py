from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.coin import (
    ELEMENT_DENSITY_G_CM3,
    Coin,
    Provenance,
    alloy_density_g_cm3,
    density_g_cm3,
)
from pricing.errors import InvalidInput


def coin(**changes):
    figures = {
        "fineness_permille": Decimal(900),
        "gross_mass_g": Decimal(20),
        "diameter_mm": Decimal(34),
    }
    return Coin(**figures | changes)


shares = st.lists(
    st.tuples(
        st.sampled_from(sorted(ELEMENT_DENSITY_G_CM3)),
        st.decimals("1", "1000", places=1),
    ),
    min_size=1,
    max_size=5,
)


@given(shares)
def test_an_alloy_is_no_lighter_or_denser_than_its_elements(alloy):
    of_parts = [ELEMENT_DENSITY_G_CM3[element] for element, _ in alloy]
    density = alloy_density_g_cm3(tuple(alloy))
    assert min(of_parts) - 1e-9 <= density <= max(of_parts) + 1e-9


@pytest.mark.parametrize("alloy", [(), (("Au", Decimal(1000)),)])
def test_an_alloy_of_unknown_density_asks_for_it(alloy):
    with pytest.raises(InvalidInput, match="give density_g_cm3"):
        alloy_density_g_cm3(alloy)


def test_a_given_density_wins_over_the_alloy():
    made = coin(density_g_cm3=Decimal("10.2"), alloy=(("Ag", Decimal(1000)),))
    assert density_g_cm3(made) == 10.2


def test_the_alloy_wins_over_the_fineness():
    made = coin(alloy=(("Ag", Decimal(900)), ("Mn", Decimal(100))))
    assert density_g_cm3(made) == alloy_density_g_cm3(made.alloy)


def test_what_is_not_silver_is_taken_as_copper():
    as_copper = alloy_density_g_cm3((("Ag", Decimal(835)), ("Cu", Decimal(165))))
    assert density_g_cm3(coin(fineness_permille=Decimal(835))) == as_copper


def test_base_metal_needs_a_density_or_an_alloy():
    made = coin(metal="base", fineness_permille=Decimal(0))
    with pytest.raises(InvalidInput, match="needs density_g_cm3") as got:
        density_g_cm3(made)
    assert got.value.path == ("coin", "density_g_cm3")


def test_fineness_is_a_fraction():
    assert coin(fineness_permille=Decimal(835)).fineness == Decimal("0.835")


@pytest.mark.parametrize(
    ("named", "label"),
    [
        ({"name": "Crown", "key": "gb_crown"}, "Crown"),
        ({"key": "gb_crown"}, "gb_crown"),
        ({}, "a coin of your own"),
    ],
)
def test_a_coin_is_called_by_the_best_name_it_has(named, label):
    assert coin(**named).label == label


@pytest.mark.parametrize(
    ("figure", "mark"),
    [("mass", "looked up"), ("diameter", "from memory"), ("edge", "given")],
)
def test_each_figure_says_where_it_comes_from(figure, mark):
    provenance = Provenance(looked_up=("mass",), from_memory=("diameter",))
    assert provenance.mark(figure) == mark
