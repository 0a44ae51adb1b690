"""Units, densities, minor units and rounding against published figures."""

from decimal import ROUND_HALF_EVEN, Decimal

import iso4217
import pytest
import scipy.constants

from pricing.catalogue import catalogue_coin
from pricing.coin import alloy_density_g_cm3
from pricing.errors import InvalidInput
from pricing.money import ONE, arithmetic, currency, grid_ceiling, half_up, share_out
from pricing.units import (
    GRAINS_PER_TROY_OUNCE,
    GRAMS_PER_GRAIN,
    GRAMS_PER_TROY_OUNCE,
    MASS_UNITS_G,
    MM_PER_INCH,
    grams,
    troy_ounces,
)

SOLD_IN = [
    unit
    for unit in iso4217.Currency
    if unit.exponent is not None and unit.code != "XAD"  # a unit of account
]
CENT = Decimal("0.01")


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (GRAMS_PER_GRAIN, scipy.constants.grain * 1000),
        (GRAMS_PER_TROY_OUNCE, scipy.constants.troy_ounce * 1000),
        (MASS_UNITS_G["troy_pound"], scipy.constants.troy_pound * 1000),
        (MASS_UNITS_G["ounce"], scipy.constants.oz * 1000),
        (MASS_UNITS_G["pound"], scipy.constants.lb * 1000),
        (MM_PER_INCH, scipy.constants.inch * 1000),
    ],
)
def test_constants_are_those_of_scipy(ours, theirs):
    # scipy's own troy ounce is off in the 16th digit, hence the tolerance.
    assert float(ours) == pytest.approx(theirs, rel=1e-12)


@pytest.mark.parametrize(
    ("unit", "mass_g"),
    [  # Statemaster, Troy weight; auminer.com, troy; GNU Units 2.22.
        ("grain", "0.06479891"),
        ("pennyweight", "1.55517384"),
        ("troy_ounce", "31.1034768"),
        ("troy_pound", "373.2417216"),
        ("ounce", "28.349523125"),
        ("pound", "453.59237"),
        ("tola", "11.6638038"),
    ],
)
def test_units_of_mass_are_exact(unit, mass_g):
    assert grams(ONE, unit=unit) == Decimal(mass_g)


def test_a_kilogram_is_32_1507465686_troy_ounces():
    # GNU Units 2.22, evaluated.
    ounces = troy_ounces(grams(ONE, unit="kg"))
    assert half_up(ounces, Decimal("1e-10")) == Decimal("32.1507465686")


def test_a_tola_is_three_eighths_of_an_ounce():
    # auminer.com: 3.75 ozt are 10 tolas.
    assert troy_ounces(MASS_UNITS_G["tola"]) == Decimal("0.375")
    assert GRAINS_PER_TROY_OUNCE == 480


@pytest.mark.parametrize(
    ("alloy", "density"),
    [  # Worked out by the rule of mixtures (tmtpages, specific gravity of alloys).
        ({"Ag": 925, "Cu": 75}, 10.357),
        ({"Ag": 900, "Cu": 100}, 10.314),
        ({"Ag": 835, "Cu": 165}, 10.203),
        ({"Ag": 800, "Cu": 200}, 10.144),
        ({"Ag": 720, "Cu": 280}, 10.011),
        ({"Ag": 625, "Cu": 375}, 9.859),
        ({"Ag": 500, "Cu": 500}, 9.665),
        ({"Cu": 750, "Ni": 250}, 8.947),
        ({"Cu": 917, "Ni": 83}, 8.956),
        ({"Ag": 350, "Cu": 560, "Mn": 90}, 9.230),
        ({"Ag": 1000}, 10.49),
    ],
)
def test_alloys_have_the_density_of_their_mixture(alloy, density):
    parts = tuple((element, Decimal(share)) for element, share in alloy.items())
    assert alloy_density_g_cm3(parts) == pytest.approx(density, abs=0.0005)


def test_sterling_is_near_its_published_densities():
    # 10.36 Biology Insights, 10.40 Stuller: real alloys stray by some tenths of
    # a per cent (from memory).
    sterling = alloy_density_g_cm3((("Ag", Decimal(925)), ("Cu", Decimal(75))))
    assert sterling == pytest.approx(10.36, rel=0.005)
    assert sterling == pytest.approx(10.40, rel=0.005)


@pytest.mark.parametrize(
    ("key", "ratio"),
    [
        ("us_dollar_1921_1935", 0.947),
        ("us_half_1916_1947", 0.767),
        ("us_quarter_1932_1964", 0.749),
    ],
)
def test_rim_thickness_overstates_the_metal(key, ratio):
    # Why mass never comes from diameter × rim thickness (worked out apart).
    coin = catalogue_coin(key)
    area_mm2 = scipy.constants.pi / 4 * float(coin.diameter_mm) ** 2
    rim_cm3 = area_mm2 * float(coin.rim_thickness_mm) / 1000
    metal_cm3 = float(coin.gross_mass_g) / alloy_density_g_cm3(coin.alloy)
    assert metal_cm3 / rim_cm3 == pytest.approx(ratio, abs=0.001)


@pytest.mark.parametrize("unit", SOLD_IN, ids=lambda unit: unit.code)
def test_minor_units_are_those_of_iso_4217(unit):
    # ISO 4217 list one, as the iso4217 package carries it.
    assert currency(unit.code).minor_units == unit.exponent


@pytest.mark.parametrize("code", ["XAG", "XAU", "XPT", "XPD", "XTS", "XXX"])
def test_metals_and_testing_codes_have_no_minor_unit(code):
    assert iso4217.Currency(code).exponent is None
    with pytest.raises(InvalidInput):
        currency(code)


def test_half_up_and_half_even_differ_on_even_halves():
    # Python's decimal module, evaluated: half-even 0, 2, 2; half-up 1, 2, 3.
    halves = [Decimal("0.5"), Decimal("1.5"), Decimal("2.5")]
    assert [half_up(half, ONE) for half in halves] == [1, 2, 3]
    with arithmetic():
        assert [half.quantize(ONE, ROUND_HALF_EVEN) for half in halves] == [0, 2, 2]


def test_2_675_is_2_68_and_not_the_2_67_of_binary():
    # Python documentation of round(): 2.675 is stored a little below itself.
    assert half_up(Decimal("2.675"), CENT) == Decimal("2.68")
    assert half_up(Decimal(2.675), CENT) == Decimal("2.67")  # noqa: RUF032 - the trap


@pytest.mark.parametrize(
    ("value", "nearest"), [("12.32", "12.30"), ("12.33", "12.35"), ("12.325", "12.35")]
)
def test_swiss_cash_goes_to_five_rappen(value, nearest):
    # Cash step 0.05 for CHF: Unicode CLDR; a tie goes up (worked out apart).
    step = Decimal("0.05")
    assert half_up(Decimal(value) / step, ONE) * step == Decimal(nearest)


def test_a_price_on_the_five_rappen_grid_never_falls_below_what_is_needed():
    step, offset = Decimal("0.05"), Decimal(0)
    found = [
        grid_ceiling(Decimal(v), step, offset) for v in ("12.30", "12.31", "12.35")
    ]
    assert found == [Decimal("12.30"), Decimal("12.35"), Decimal("12.35")]


def test_largest_remainder_shares_seats():
    # archipel-des-libertes.fr, largest remainders: 930 votes, 4 seats, 2-1-1-0.
    votes = [500, 300, 110, 20]
    quotas = [Decimal(count) * 4 / 930 for count in votes]
    assert share_out(quotas, currency("JPY")) == (2, 1, 1, 0)


def test_a_hundred_in_three_loses_no_cent():
    # Worked out apart: 33.34 + 33.33 + 33.33.
    shared = share_out([Decimal(100) / 3] * 3, currency("EUR"))
    assert [str(part) for part in shared] == ["33.34", "33.33", "33.33"]
