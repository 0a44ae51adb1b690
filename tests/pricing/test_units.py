from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import InvalidInput
from pricing.units import MASS_UNITS_G, grams, troy_ounces

amounts = st.decimals("0", "1000000", places=4)


@given(amounts)
def test_troy_ounces_and_grams_are_each_others_inverse(amount):
    assert troy_ounces(grams(amount, unit="troy_ounce")) == amount


@given(amounts, st.sampled_from(sorted(MASS_UNITS_G)))
def test_mass_grows_with_the_unit(amount, unit):
    assert grams(amount, unit=unit) == amount * MASS_UNITS_G[unit]


def test_an_unknown_unit_lists_the_known_ones():
    with pytest.raises(InvalidInput, match=r"'stone' is not known.*troy_ounce") as got:
        grams(Decimal(1), unit="stone")
    assert got.value.path == ("unit",)


def test_the_table_of_units_cannot_be_changed():
    with pytest.raises(TypeError):
        MASS_UNITS_G["g"] = Decimal(2)
