from decimal import Decimal

import pytest

from pricing.coin_cost import coin_cost, fineness_words
from pricing.errors import InvalidInput
from pricing.price_book import CoinBuying
from tests.oracles.workshops import base_coin, silver_coin, spot

OUNCE = Decimal("31.1034768")  # of fine metal, as a 1000 fine coin of that mass
SPOTS = [Decimal(n) for n in (1, 10, 27, 40, 100)]


def bought(basis="melt", *, coin=None, mass=OUNCE, **terms):
    exact = {name: Decimal(value) for name, value in terms.items()}
    return coin_cost(
        coin or silver_coin(fineness_permille=Decimal(1000)),
        CoinBuying(basis=basis, **exact),
        mass_g=mass,
    )


def own(**figures):
    return silver_coin(fineness_permille=Decimal(1000), **figures)


def near(value):
    return pytest.approx(value, abs=Decimal("0.0001"))


def test_melt_is_fine_ounces_at_spot_with_the_premium_and_the_extra():
    cost = bought(premium="0.12", extra="1.50")
    assert cost.line.at(Decimal(20)) == near(Decimal("23.90"))
    assert cost.line.slope_at(Decimal(20)) == near(Decimal("1.12"))


def test_a_discount_to_melt_is_a_negative_premium():
    cost = bought(premium="-0.05")
    assert cost.line.at(Decimal(20)) == near(Decimal(19))
    assert "− 5 %" in cost.how(spot("20"))


def test_paid_is_the_same_at_every_spot():
    cost = bought("paid", paid="18.90", premium="0.5", extra="3")
    assert {cost.line.at(s) for s in SPOTS} == {Decimal("18.90")}


def test_the_greater_of_both_has_its_kink_where_they_meet():
    cost = bought("greater_of", paid="24.00", premium="0.20")
    # 1.20 × spot = 24 at 20
    assert cost.line.kink == near(Decimal(20))
    for price in SPOTS:
        melt = Decimal("1.20") * price
        assert cost.line.at(price) == pytest.approx(
            max(melt, Decimal(24)), abs=Decimal("0.001")
        )


def test_the_coins_own_terms_come_before_the_books():
    coin = own(basis="melt", premium=Decimal("0.5"), extra=Decimal(2))
    cost = bought("paid", coin=coin, paid="9", premium="0.1", extra="1")
    assert cost.line.at(Decimal(20)) == near(Decimal(32))
    coin = own(basis="paid", paid=Decimal(11))
    assert bought(coin=coin, paid="9").line.at(Decimal(20)) == 11


def test_an_own_premium_of_nothing_is_not_the_books():
    cost = bought(coin=own(premium=Decimal(0)), premium="0.12")
    assert cost.line.at(Decimal(20)) == near(Decimal(20))


def test_an_amount_for_this_coin_means_it_is_bought_for_that():
    cost = bought("melt", coin=own(paid=Decimal(17)))
    assert (cost.basis, cost.line.at(Decimal(50))) == ("paid", 17)


def test_a_book_that_compares_paid_with_melt_does_so_with_each_coins_own_amount():
    cost = bought("greater_of", coin=own(paid=Decimal(17)), paid="99")
    assert cost.basis == "greater_of"
    assert cost.line.at(Decimal(10)) == 17
    assert cost.line.at(Decimal(50)) == near(Decimal(50))


@pytest.mark.parametrize("basis", ["paid", "greater_of"])
def test_a_basis_that_needs_an_amount_is_refused_without_one(basis):
    with pytest.raises(InvalidInput, match="set 'paid'") as refused:
        bought(basis)
    assert refused.value.path == ("coin", "paid")


def test_base_metal_is_bought_for_what_is_paid_whatever_the_book_says():
    cost = bought("melt", coin=base_coin(paid=Decimal(2)))
    assert (cost.basis, cost.fine_ozt) == ("paid", 0)
    assert {cost.line.at(s) for s in SPOTS} == {Decimal(2)}


def test_base_metal_may_be_paid_for_as_the_book_says():
    assert bought("paid", coin=base_coin(paid=None), paid="3").line.base == 3


def test_base_metal_needs_an_amount_paid():
    with pytest.raises(InvalidInput, match="paid"):
        bought("melt", coin=base_coin(paid=None))


@pytest.mark.parametrize("basis", ["melt", "greater_of"])
def test_base_metal_has_no_melt_value_to_be_bought_at(basis):
    with pytest.raises(InvalidInput, match="no metal price") as refused:
        bought(coin=base_coin(basis=basis))
    assert refused.value.path == ("coin", "basis")


def test_the_arithmetic_can_be_followed():
    coin = silver_coin(gross_mass_g=Decimal(20))
    cost = bought(coin=coin, mass=Decimal(20), premium="0.12", extra="0.40")
    assert cost.how(spot("27.50")) == (
        "20 g × 0.900 ÷ 31.1035 = 0.5787 ozt × 27.50 + 12 % + 0.40"
    )
    assert "27.50 +" not in bought().how(spot("27.50"))


def test_the_words_of_the_other_bases():
    assert "paid" in bought("paid", paid="18.90").how(spot())
    both = bought("greater_of", paid="18.90").how(spot())
    assert both.startswith("the greater of 18.90 paid and")


def test_cost_without_a_spot_is_what_is_paid():
    cost = bought("paid", paid="18.90")
    assert cost.at(None) == cost.at(spot()) == Decimal("18.90")
    assert "paid" in cost.how(None)


@pytest.mark.parametrize(
    ("permille", "words"),
    [("900", "0.900"), ("999.9", "0.9999"), ("1000", "1.000"), ("0", "0.000")],
)
def test_fineness_reads_as_it_is_stamped(permille, words):
    assert fineness_words(silver_coin(fineness_permille=Decimal(permille))) == words
