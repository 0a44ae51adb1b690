from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pricing.band_floor import spot_at_level
from pricing.metal_line import MetalLine, crossings
from pricing.money import arithmetic
from pricing.near_highest import NearHighest
from tests.strategies.lines import SPOTS, one_coins_lines
from tests.thoroughness import thorough


@pytest.fixture(autouse=True)
def _fixed_arithmetic():
    with arithmetic():
        yield


def found(lines, level, spot):
    highest = max(lines, key=lambda line: line.at(spot))
    near = NearHighest(lines)
    return spot_at_level(lines, level, highest=highest, near=near, spot=spot)


def straight(base, slope):
    return MetalLine(base=Decimal(base), slope=Decimal(slope))


@settings(max_examples=thorough(75, 500))
@given(one_coins_lines(), st.integers(-500, 9000), SPOTS)
def test_it_is_the_first_spot_at_which_any_line_is_at_the_level(lines, cents, spot):
    level = cents * Decimal("0.01")
    each = [crossings(x, target=level, spot=spot).above for x in lines]
    first = min((x for x in each if x is not None), default=None)
    if max(line.at(spot) for line in lines) > level:
        first = None
    assert found(lines, level, spot) == first


def test_another_size_may_be_the_first_to_fall_than_the_costliest_of_today():
    # At 30 the first costs 55 and the second 52; 70 is reached by the first at 60
    # and by the second, 22 + 1 × 48, at 48 already.
    lines = [straight("40", "0.5"), straight("22", "1")]
    assert found(lines, Decimal(70), Decimal(30)) == 48


def test_the_steepest_is_asked_where_the_costliest_of_today_never_falls():
    # The first stays at 40; of the others 20 + 0.5 × 60 and 10 + 0.6 × 66.67 reach
    # 50, and the one that is less steep does so first.
    lines = [straight("40", "0"), straight("20", "0.5"), straight("10", "0.6")]
    assert found(lines, Decimal(50), Decimal(10)) == 60


@pytest.mark.parametrize(
    ("lines", "level"),
    [
        ([straight("40", "0.5")], "54.99"),
        ([straight("40", "0")], "60"),
        ([straight("40", "-0.5"), straight("30", "-0.1")], "60"),
    ],
)
def test_there_is_none_if_it_is_above_already_or_never_comes_there(lines, level):
    assert found(lines, Decimal(level), Decimal(30)) is None


def test_at_the_level_today_it_is_todays_spot():
    assert found([straight("40", "0.5")], Decimal(55), Decimal(30)) == 30
