"""How a 38.1 mm silver dollar is worked: common practice, no source.

None of these figures is published anywhere we could read; they are what ring makers
are used to, and every one of them can be set in the price book or for a coin.
"""

from dataclasses import replace
from decimal import Decimal

import pytest

from pricing.catalogue import catalogue
from pricing.forming import Shaping, plan_forming
from pricing.ring_size import us_size
from pricing.units import MM_PER_INCH

ACROSS = Decimal("38.1")
DOLLARS = [
    coin
    for coin in catalogue().values()
    if coin.country == "US" and coin.diameter_mm == ACROSS and coin.metal == "XAG"
]
NAMES = [coin.key for coin in DOLLARS]
FIVE_EIGHTHS = MM_PER_INCH * 5 / 8
THREE_QUARTERS = MM_PER_INCH * 3 / 4


def unruled(coin):
    """The same coin without any habit of its own."""
    return replace(coin, holes=(), bore_allowance=None, natural_size=None)


def plan(coin, us):
    return plan_forming(coin, Shaping(size=us_size(Decimal(us))))


def test_there_are_dollars_to_look_at():
    assert len(DOLLARS) >= 2


@pytest.mark.parametrize("coin", DOLLARS, ids=NAMES)
@pytest.mark.parametrize("us", ["10", "10.5", "12", "15"])
def test_size_ten_and_up_is_punched_five_eighths_of_an_inch(coin, us):
    # common practice, no source
    for each in (coin, unruled(coin)):
        assert plan(each, us).hole.diameter_mm == FIVE_EIGHTHS == Decimal("15.875")


@pytest.mark.parametrize("coin", DOLLARS, ids=NAMES)
@pytest.mark.parametrize("us", ["5", "7", "9", "9.5"])
def test_size_nine_and_a_half_and_down_is_punched_three_quarters_of_an_inch(coin, us):
    # common practice, no source
    for each in (coin, unruled(coin)):
        assert plan(each, us).hole.diameter_mm == THREE_QUARTERS == Decimal("19.05")


@pytest.mark.parametrize("coin", DOLLARS, ids=NAMES)
def test_the_edge_is_opened_two_and_a_half_sizes_over_the_finger(coin):
    # common practice, no source: 2.5 to 3 sizes
    made = plan(coin, "10")
    assert made.opening_size_us - made.size_us == Decimal("2.5")
    assert made.press_sizes == Decimal("2.5")


@pytest.mark.parametrize("coin", DOLLARS, ids=NAMES)
def test_a_dollar_opens_at_about_eighteen_and_a_half_unforced(coin):
    # common practice, no source: the one point 0.70 of the diameter comes from
    for each in (coin, unruled(coin)):
        assert plan(each, "10").natural_size_us == Decimal("18.5")
    # so for size 10, opened to 12.5, six sizes are wrapped down and none stretched
    assert plan(coin, "10").wrap_sizes == 6
    assert plan(coin, "10").stretch_sizes == 0


@pytest.mark.parametrize("coin", DOLLARS, ids=NAMES)
def test_a_thick_dollar_is_made_two_sizes_small_and_bored_out(coin):
    # common practice, no source; thinner coins are bored less
    for each in (coin, unruled(coin)):
        assert plan(each, "10").dome_sizes == 2
    thin = replace(unruled(coin), gross_mass_g=coin.gross_mass_g / 2)
    assert plan(thin, "10").dome_sizes < 2


@pytest.mark.parametrize("coin", DOLLARS, ids=NAMES)
@pytest.mark.parametrize("us", ["6", "9.5", "10", "13"])
def test_usual_dollar_rings_can_be_made_with_a_wall_a_maker_would_expect(coin, us):
    # common practice, no source: walls of one and a half to a good three millimetres
    made = plan(coin, us)
    assert Decimal("1.2") < made.wall_hole_edge_mm < made.wall_coin_edge_mm < 4
    assert made.finished_g > coin.gross_mass_g / 2
