from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from pricing.metal_line import MetalLine
from pricing.near_highest import NearHighest
from tests.strategies.lines import SPOTS, one_coins_lines


@given(one_coins_lines(), SPOTS, st.sampled_from([0, 1, 5]))
def test_every_line_that_may_be_the_highest_is_found_and_lower_ones_are_not(
    lines, spot, within
):
    values = [line.at(spot) for line in lines]
    found = NearHighest(lines).at(spot, within=within)
    least = max(values) - within
    surely = [i for i, value in enumerate(values) if value >= least]
    assert set(surely) <= set(found)
    assert all(values[i] > least - Decimal("1e-6") for i in found)
    assert list(found) == sorted(found)


def test_lines_apart_by_less_than_floating_point_can_tell_are_both_found():
    line = MetalLine(base=Decimal(40), slope=Decimal("0.5"))
    higher = MetalLine(base=Decimal("40.0000000000000000001"), slope=Decimal("0.5"))
    assert NearHighest([line, higher]).at(Decimal(30)) == (0, 1)


def test_at_the_kink_and_on_both_sides_of_it_the_steeper_one_wins_above():
    # Both are 50 at a spot of 20; one rises by 1 a unit from there, the other not.
    flat = MetalLine(base=Decimal(50), kink=Decimal(20), slope_above=Decimal(0))
    bent = MetalLine(
        base=Decimal(30), slope=Decimal(1), kink=Decimal(20), slope_above=Decimal(1)
    )
    near = NearHighest([flat, bent])
    found = [near.at(Decimal(spot)) for spot in ("19", "20", "21")]
    assert found == [(0,), (0, 1), (1,)]


@given(one_coins_lines(), st.lists(SPOTS, min_size=2, max_size=6))
def test_asking_again_finds_what_asking_for_the_first_time_would(lines, spots):
    kept = NearHighest(lines)
    for spot in spots:
        for near in (spot, spot + Decimal("0.01"), spot * Decimal("1.1")):
            for within in (0.0, 1.0):
                again = kept.at(near, within=within)
                first = NearHighest(lines).at(near, within=within)
                values = [line.at(near) for line in lines]
                close = max(values) - Decimal(within)
                apart = {*again} ^ {*first}
                assert all(abs(values[i] - close) < Decimal("1e-6") for i in apart)
                assert {i for i, x in enumerate(values) if x >= close} <= {*again}


def test_the_only_one_is_remembered_as_far_as_it_stays_the_only_one():
    # The steep line passes the flat one at a spot of 20.
    flat = MetalLine(base=Decimal(50))
    steep = MetalLine(base=Decimal(30), slope=Decimal(1))
    near = NearHighest([flat, steep])
    spots = ("10", "19", "20", "21", "1000", "10")
    assert [near.at(Decimal(x)) for x in spots] == [
        (0,), (0,), (0, 1), (1,), (1,), (0,)
    ]  # fmt: skip
