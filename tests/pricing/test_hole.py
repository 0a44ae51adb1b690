from decimal import Decimal

import pytest

from pricing.coin import HoleStep
from pricing.errors import InvalidInput
from pricing.hole import choose_hole, holes_to_try
from pricing.price_book import Forming
from tests.oracles.workshops import silver_coin

ANY = Forming()
PUNCHES = Forming(punches_mm=tuple(Decimal(n) for n in (10, 13, 16, 19)))
TABLE = (
    HoleStep(up_to=Decimal(7), hole_mm=Decimal("16.5")),
    HoleStep(up_to=Decimal(9), hole_mm=Decimal("14.5")),
)
ALL_ABOVE = HoleStep(up_to=None, hole_mm=Decimal("12.5"))


def chosen(us="8", *, hole=None, width=None, limits=ANY, **coin):
    return choose_hole(
        silver_coin(**coin),
        size_us=Decimal(us),
        hole_mm=hole and Decimal(hole),
        band_width_mm=width and Decimal(width),
        limits=limits,
    )


def test_a_hole_asked_for_is_taken_as_it_is_whatever_punches_there_are():
    found = chosen(hole="12.34", limits=PUNCHES, holes=TABLE)
    assert found.diameter_mm == Decimal("12.34")
    assert found.why == "hole as asked for"


def test_a_band_width_leaves_the_rest_of_the_diameter_as_the_hole():
    found = chosen(width="7.5", holes=TABLE)
    assert found.diameter_mm == Decimal(15)
    assert found.why == "for a band 7.5 mm wide"


def test_a_hole_by_band_width_goes_to_the_nearest_punch():
    found = chosen(width="7.5", limits=PUNCHES)
    assert found.diameter_mm == Decimal(16)
    assert found.why == "for a band 7.5 mm wide (15 mm), nearest punch owned"


def test_between_two_punches_the_smaller_leaves_more_metal():
    assert chosen(width="7.75", limits=PUNCHES).diameter_mm == Decimal(13)


@pytest.mark.parametrize("width", ["15", "20"])
def test_a_band_too_wide_for_any_hole_is_refused(width):
    with pytest.raises(InvalidInput, match=r"less than 15(\.0)? mm") as refused:
        chosen(width=width)
    assert refused.value.path == ("band_width_mm",)


def test_a_hole_and_a_band_width_together_are_refused():
    with pytest.raises(InvalidInput, match="give one of them"):
        chosen(hole="12", width="7")


@pytest.mark.parametrize(
    ("us", "hole"), [("5", "16.5"), ("7", "16.5"), ("7.1", "14.5"), ("9", "14.5")]
)
def test_the_coins_table_gives_the_hole_up_to_each_size(us, hole):
    assert chosen(us, holes=TABLE, limits=PUNCHES).diameter_mm == Decimal(hole)


def test_the_last_step_of_a_table_may_hold_for_all_sizes_above():
    found = chosen("12", holes=(*TABLE, ALL_ABOVE))
    assert found.diameter_mm == Decimal("12.5")
    assert found.why == "the coin's hole table, all above"


def test_the_reason_names_the_step_of_the_table():
    assert chosen("7", holes=TABLE).why == "the coin's hole table, up to US 7"


def test_above_a_table_that_ends_the_general_rule_holds():
    # 30 mm × 15.875 ÷ 38.1 = 12.5 mm
    assert chosen("9.5", holes=TABLE).diameter_mm == Decimal(15)
    assert chosen("10", holes=TABLE).diameter_mm == Decimal("12.5")


def test_the_general_rule_goes_to_the_nearest_punch_too():
    assert chosen("9.5", limits=PUNCHES).diameter_mm == Decimal(16)
    assert chosen("10", limits=PUNCHES).diameter_mm == Decimal(13)


def test_holes_to_offer_are_the_punches_or_every_half_millimetre():
    coin = silver_coin()
    assert holes_to_try(coin, PUNCHES) == PUNCHES.punches_mm
    offered = holes_to_try(coin, ANY)
    assert offered[0] == 4
    assert offered[-1] == Decimal("29.5")
    assert offered[1] - offered[0] == Decimal("0.5")
