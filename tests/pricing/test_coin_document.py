"""A coin's document: read whole or refused with every fault, and written back."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.catalogue import catalogue, catalogue_coin
from pricing.coin import ELEMENT_DENSITY_G_CM3, Coin, HoleStep, Provenance
from pricing.coin_document import coin_document, read_coin
from pricing.errors import InvalidInput

SILVER = {"gross_mass_g": "20", "fineness_permille": "900", "diameter_mm": "34"}
BASE = {
    "metal": "base",
    "gross_mass_g": "11.34",
    "diameter_mm": "30.6",
    "density_g_cm3": "8.95",
    "paid": "1.50",
}
EVERYTHING = {
    "key": "my_medal",
    "name": "Médaille ½",
    "country": "AT",
    "years": "1959-1973",
    "face_value": "50",
    "face_currency": "ATS",
    "edge": "lettered",
    "metal": "XAG",
    "fineness_permille": "900",
    "gross_mass_g": "20.00",
    "diameter_mm": "34.0",
    "rim_thickness_mm": "2.4",
    "composition": "90% Ag 10% Cu",
    "alloy": {"Ag": "900", "Cu": "100"},
    "nickel": "possible",
    "published_fine_ozt": "0.5787",
    "density_g_cm3": "10.3",
    "wear": "0.01",
    "holes": [{"up_to": "9.5", "hole_mm": "17.5"}, {"hole_mm": "15"}],
    "bore_allowance": "1.5",
    "natural_size": "16",
    "basis": "greater_of",
    "premium": "-0.05",
    "extra": "0.50",
    "paid": "14.00",
    "source": "A mint's page",
    "looked_up": ["mass", "diameter"],
    "from_memory": ["edge"],
    "alloy_basis": "published",
    "notes": "two pages differ",
}


def faults(document, **more):
    with pytest.raises(InvalidInput) as refused:
        read_coin(document, **more)
    return {fault.dotted: fault.message for fault in refused.value.faults}


def sorted_alloy(coin):
    order = list(ELEMENT_DENSITY_G_CM3)
    return replace(
        coin, alloy=tuple(sorted(coin.alloy, key=lambda e: order.index(e[0])))
    )


def test_mass_fineness_and_diameter_are_enough():
    assert read_coin(SILVER) == Coin(
        gross_mass_g=Decimal(20),
        fineness_permille=Decimal(900),
        diameter_mm=Decimal(34),
    )


def test_every_member_is_read():
    coin = read_coin(EVERYTHING)
    assert coin.alloy == (("Ag", Decimal(900)), ("Cu", Decimal(100)))
    assert coin.holes == (
        HoleStep(up_to=Decimal("9.5"), hole_mm=Decimal("17.5")),
        HoleStep(up_to=None, hole_mm=Decimal(15)),
    )
    assert coin.provenance == Provenance(
        source="A mint's page",
        looked_up=("mass", "diameter"),
        from_memory=("edge",),
        alloy_basis="published",
        notes="two pages differ",
    )
    assert (coin.basis, coin.premium) == ("greater_of", Decimal("-0.05"))
    assert (coin.nickel, coin.wear) == ("possible", Decimal("0.01"))


def test_a_document_comes_back_as_it_was():
    document = {name: value for name, value in EVERYTHING.items() if name != "metal"}
    assert coin_document(read_coin(EVERYTHING)) == document


def test_null_counts_as_left_out():
    nulls = dict.fromkeys(EVERYTHING.keys() - SILVER.keys())
    assert read_coin(SILVER | nulls) == read_coin(SILVER)


def test_whole_numbers_and_decimals_are_exact_enough():
    given = {"gross_mass_g": 20, "fineness_permille": Decimal("916.7")}
    coin = read_coin(SILVER | given)
    assert (coin.gross_mass_g, coin.fineness_permille) == (20, Decimal("916.7"))


@pytest.mark.parametrize("key", [k for k, c in catalogue().items() if c.metal == "XAG"])
def test_every_silver_coin_of_the_catalogue_comes_back(key):
    coin = catalogue_coin(key)
    assert read_coin(coin_document(coin)) == sorted_alloy(coin)


@pytest.mark.parametrize(
    "key", [k for k, c in catalogue().items() if c.metal == "base"]
)
def test_a_base_metal_coin_of_the_catalogue_comes_back_with_what_it_cost(key):
    coin = replace(catalogue_coin(key), paid=Decimal(2), basis="paid")
    if not coin.alloy:
        coin = replace(coin, density_g_cm3=Decimal("8.95"))
    assert read_coin(coin_document(coin)) == sorted_alloy(coin)


@given(
    st.decimals("0.1", "1000", places=4),
    st.decimals("0", "1000", places=2),
    st.decimals("8", "100", places=3),
)
def test_any_coin_inside_the_limits_comes_back(mass, fineness, diameter):
    coin = Coin(gross_mass_g=mass, fineness_permille=fineness, diameter_mm=diameter)
    assert read_coin(coin_document(coin)) == coin


@pytest.mark.parametrize(
    ("member", "least", "under", "most", "over"),
    [
        ("gross_mass_g", "0.1", "0.0999", "1000", "1000.1"),
        ("diameter_mm", "8", "7.99", "100", "100.01"),
        ("fineness_permille", "0", "-1", "1000", "1000.1"),
        ("density_g_cm3", "1", "0.99", "25", "25.01"),
        ("rim_thickness_mm", "0.01", "0", "20", "20.1"),
        ("wear", "0", "-0.01", "0.99", "1"),
        ("bore_allowance", "0", "-0.5", "10", "10.5"),
        ("natural_size", "0", "-1", "80", "80.5"),
        ("premium", "-0.99", "-1", "1", "1.01"),
        ("extra", "0", "-0.01", "999999999999", "1000000000000"),
        ("paid", "0", "-0.01", "999999999999", "1000000000000"),
        ("published_fine_ozt", "0", "-0.1", "40", "40.1"),
    ],
)
def test_each_figure_has_its_limits(member, least, under, most, over):
    for allowed in (least, most):
        coin = read_coin(SILVER | {member: allowed})
        assert getattr(coin, member) == Decimal(allowed)
    for refused in (under, over):
        assert set(faults(SILVER | {member: refused})) == {member}


@pytest.mark.parametrize(
    ("member", "value"),
    [
        ("gross_mass_g", 20.0),
        ("gross_mass_g", "2e1"),
        ("gross_mass_g", True),
        ("gross_mass_g", ""),
        ("gross_mass_g", "NaN"),
        ("name", 5),
        ("name", "two\nlines"),
        ("name", "x" * 201),
        ("key", "My Medal"),
        ("key", ""),
        ("metal", "XAU"),
        ("nickel", "some"),
        ("basis", "guess"),
        ("source", 5),
        ("source", "x" * 1001),
        ("notes", "a\u202eb"),
        ("holes", "15"),
        ("looked_up", "mass"),
        ("alloy", [["Ag", "900"]]),
        ("weight", "20"),
    ],
)
def test_a_member_that_cannot_be_is_refused_by_its_name(member, value):
    assert set(faults(SILVER | {member: value})) == {member}


def test_an_unknown_member_is_answered_with_the_nearest_one():
    assert "gross_mass_g" in faults(SILVER | {"gros_mass_g": "20"})["gros_mass_g"]


@pytest.mark.parametrize("member", SILVER)
def test_what_every_coin_needs_is_missed(member):
    document = {name: value for name, value in SILVER.items() if name != member}
    assert "missing" in faults(document)[member]


def test_all_faults_are_found_at_once():
    document = {"gross_mass_g": "0", "diameter_mm": "200", "wear": "2", "colour": "red"}
    assert set(faults(document)) == {
        "gross_mass_g",
        "diameter_mm",
        "fineness_permille",
        "wear",
        "colour",
    }


def test_faults_are_found_inside_a_larger_document():
    assert set(faults(SILVER | {"wear": "2"}, path=("coin",))) == {"coin.wear"}


@pytest.mark.parametrize("document", [None, [], "at_50s_1959_1973", 5])
def test_only_a_table_is_a_coin(document):
    assert "table" in faults(document)[""]


def test_the_first_fault_is_the_message():
    with pytest.raises(InvalidInput, match="wear: ") as refused:
        read_coin(SILVER | {"wear": "2"})
    assert refused.value.path == ("wear",)


@pytest.mark.parametrize(
    ("holes", "where"),
    [
        ([{"up_to": "9.5", "hole_mm": "19"}], "holes[0].up_to"),
        ([{"hole_mm": "19"}, {"hole_mm": "15"}], "holes[0]"),
        (
            [
                {"up_to": "9", "hole_mm": "19"},
                {"up_to": "9", "hole_mm": "17"},
                {"hole_mm": "15"},
            ],
            "holes[1].up_to",
        ),
        ([{"hole_mm": "34"}], "holes[0].hole_mm"),
        ([{"hole_mm": "0"}], "holes[0].hole_mm"),
        ([{"up_to": None}], "holes[0].hole_mm"),
        ([{"hole_mm": "15", "size": "9"}], "holes[0].size"),
        (["15"], "holes[0]"),
    ],
)
def test_a_hole_rule_that_does_not_hold_is_refused(holes, where):
    assert set(faults(SILVER | {"holes": holes})) == {where}


def test_a_hole_is_not_measured_against_a_faulty_diameter():
    document = SILVER | {"diameter_mm": "7", "holes": [{"hole_mm": "15"}]}
    assert set(faults(document)) == {"diameter_mm"}


def test_a_base_metal_coin_has_no_fineness_and_is_bought_at_what_was_paid():
    coin = read_coin(BASE)
    assert (coin.metal, coin.fineness_permille, coin.basis) == ("base", 0, "paid")
    assert read_coin(BASE | {"fineness_permille": "0"}) == coin
    assert read_coin(coin_document(coin)) == coin


def test_the_alloy_stands_in_for_the_density_of_a_base_metal_coin():
    document = BASE | {"density_g_cm3": None, "alloy": {"Cu": "750", "Ni": "250"}}
    assert read_coin(document).density_g_cm3 is None


@pytest.mark.parametrize(
    ("change", "where", "said"),
    [
        ({"density_g_cm3": None}, "density_g_cm3", "needs its density"),
        ({"paid": None}, "paid", "say what one costs"),
        ({"basis": "melt"}, "basis", 'use basis "paid"'),
        ({"fineness_permille": "500"}, "fineness_permille", "has no fineness"),
    ],
)
def test_a_base_metal_coin_says_what_silver_would(change, where, said):
    found = faults(BASE | change)
    assert set(found) == {where}
    assert said in found[where]


def test_a_faulty_figure_of_a_base_metal_coin_is_one_fault():
    found = faults(BASE | {"density_g_cm3": "99", "paid": "-1"})
    assert set(found) == {"density_g_cm3", "paid"}
