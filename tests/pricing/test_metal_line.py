from decimal import Decimal
from fractions import Fraction
from functools import reduce
from operator import add

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from pricing.errors import InvalidInput
from pricing.metal_line import Crossings, MetalLine, crossings, greater_of
from pricing.money import ZERO, arithmetic

AMOUNTS = st.integers(-20_000, 20_000).map(lambda n: n * Decimal("0.01"))
SLOPES = st.integers(-3_000, 3_000).map(lambda n: n * Decimal("0.001"))
SPOTS = st.integers(1, 20_000).map(lambda n: n * Decimal("0.01"))
STRAIGHT = st.builds(MetalLine, base=AMOUNTS, slope=SLOPES)
TINY = Decimal("1e-24")


@pytest.fixture(autouse=True)
def _fixed_arithmetic():
    with arithmetic():
        yield


@st.composite
def lines(draw, kinks=SPOTS):
    if draw(st.booleans()):
        return draw(STRAIGHT)
    below, above = sorted((draw(SLOPES), draw(SLOPES)))
    return MetalLine(
        base=draw(AMOUNTS), slope=below, kink=draw(kinks), slope_above=above
    )


def line(base="0", slope="0", kink=None, slope_above=None) -> MetalLine:
    return MetalLine(
        base=Decimal(base),
        slope=Decimal(slope),
        kink=None if kink is None else Decimal(kink),
        slope_above=None if slope_above is None else Decimal(slope_above),
    )


VALLEY = line("100", "-2", kink="30", slope_above="1")  # 40 at its lowest


# The line itself


@given(st.lists(STRAIGHT, max_size=4), lines(), st.lists(STRAIGHT, max_size=4))
def test_a_total_is_the_lines_added_one_by_one(before, bent, after):
    every = [*before, bent, *after]
    assert MetalLine.total(every) == reduce(add, every, MetalLine.constant(ZERO))


def test_a_total_of_nothing_is_nothing():
    assert MetalLine.total([]) == MetalLine.constant(ZERO)


def test_a_total_has_one_kink_however_many_lines_bend_there_and_no_second():
    bent = greater_of(Decimal(20), MetalLine.proportional(Decimal("0.5")))
    later = greater_of(Decimal(30), MetalLine.proportional(Decimal("0.5")))
    assert MetalLine.total([bent, bent]) == bent.scaled(Decimal(2))
    with pytest.raises(InvalidInput, match="do not add up to"):
        MetalLine.total([bent, later])


@given(lines(), SPOTS, SPOTS, st.integers(0, 10))
def test_a_line_never_rises_above_its_chords(a_line, left, right, tenths):
    weight = Decimal(tenths) / 10
    between = left * (1 - weight) + right * weight
    chord = a_line.at(left) * (1 - weight) + a_line.at(right) * weight
    assert a_line.at(between) <= chord + TINY


@given(lines(), SPOTS)
def test_the_slope_is_what_the_next_little_bit_of_spot_adds(a_line, spot):
    bit = Decimal("0.001")  # every kink drawn is on whole hundredths
    assert a_line.at(spot + bit) - a_line.at(spot) == a_line.slope_at(spot) * bit


@given(STRAIGHT, lines(), SPOTS)
def test_a_sum_of_lines_is_the_sum_of_their_amounts(one, other, spot):
    assert (one + other).at(spot) == one.at(spot) + other.at(spot)
    assert (other + one).at(spot) == one.at(spot) + other.at(spot)
    assert (one + other).slope_at(spot) == one.slope_at(spot) + other.slope_at(spot)


@given(lines(st.just(Decimal(30))), lines(st.just(Decimal(30))), SPOTS)
def test_lines_with_the_same_kink_add_up(one, other, spot):
    assert (one + other).at(spot) == one.at(spot) + other.at(spot)


@given(lines(), SPOTS, st.integers(0, 500).map(lambda n: n * Decimal("0.01")))
def test_a_scaled_line_is_so_many_times_the_amount(a_line, spot, factor):
    assert a_line.scaled(factor).at(spot) == a_line.at(spot) * factor


def test_lines_are_summed_from_a_constant_of_zero():
    parts = [MetalLine.constant(Decimal(5)), MetalLine.proportional(Decimal("0.5"))]
    total = sum(parts, MetalLine.constant(ZERO))
    assert total == line("5", "0.5")


def test_the_slope_at_the_kink_is_the_one_above():
    assert VALLEY.slope_at(Decimal("29.99")) == -2
    assert VALLEY.slope_at(Decimal(30)) == 1


def test_lines_with_different_kinks_do_not_add_up():
    with pytest.raises(InvalidInput, match="kinks at 30 and 31"):
        VALLEY + line("0", "0", kink="31", slope_above="1")


def test_a_line_bent_downwards_is_refused():
    with pytest.raises(InvalidInput, match="bends upwards only"):
        line("0", "1", kink="30", slope_above="0.9")


@pytest.mark.parametrize("half", [{"kink": "30"}, {"slope_above": "1"}])
def test_half_a_kink_is_refused(half):
    with pytest.raises(InvalidInput, match="come together"):
        line("0", "1", **half)


def test_a_negative_factor_is_refused():
    with pytest.raises(InvalidInput, match=r"factor -0\.5 is negative"):
        VALLEY.scaled(Decimal("-0.5"))


# The greater of two


@given(AMOUNTS, STRAIGHT, SPOTS)
def test_the_greater_of_two_is_the_greater_at_every_spot(fixed, a_line, spot):
    both = greater_of(fixed, a_line)
    assert abs(both.at(spot) - max(fixed, a_line.at(spot))) < TINY


@pytest.mark.parametrize(
    ("fixed", "melt", "greater"),
    [
        ("18", line("0", "0.6"), line("18", "0", kink="30", slope_above="0.6")),
        ("40", line("100", "-2"), line("100", "-2", kink="30", slope_above="0")),
        ("18", line("20", "0.6"), line("20", "0.6")),  # dearer from the start
        ("18", line("18", "0.6"), line("18", "0.6")),
        ("18", line("18", "-0.6"), line("18")),
        ("18", line("10", "-0.6"), line("18")),
        ("18", line("17"), line("18")),
        ("18", line("19"), line("19")),
    ],
)
def test_a_kink_stands_only_where_both_meet_above_zero(fixed, melt, greater):
    assert greater_of(Decimal(fixed), melt) == greater


def test_the_greater_of_an_amount_and_a_bent_line_is_refused():
    with pytest.raises(InvalidInput, match="needs a straight line"):
        greater_of(Decimal(1), VALLEY)


# Crossings


@given(lines(), AMOUNTS, SPOTS)
def test_a_crossing_has_the_target_and_lies_on_its_side_of_spot(a_line, target, spot):
    found = crossings(a_line, target=target, spot=spot)
    if found.below is not None:
        assert 0 < found.below < spot
        assert abs(a_line.at(found.below) - target) < TINY
    if found.above is not None:
        assert found.above >= spot
        assert abs(a_line.at(found.above) - target) < TINY


@given(lines(), AMOUNTS, SPOTS)
def test_no_crossing_is_nearer_and_none_is_missed(a_line, target, spot):
    # A convex line with no crossing inside a stretch keeps its sign just inside both
    # ends and at its kink; one crossing missed turns an end, two turn the kink.
    found = crossings(a_line, target=target, spot=spot)
    low = Decimal("1e-6") if found.below is None else found.below
    high = Decimal("1e6") if found.above is None else found.above
    for left, right in ((low, spot), (spot, high)):
        edge = (right - left) * Decimal("1e-9")
        looked_at = [left + edge, right - edge]
        if a_line.kink is not None and left < a_line.kink < right:
            looked_at.append(a_line.kink)
        assert len({sign(a_line.at(s) - target) for s in looked_at} - {0}) <= 1


def sign(value: Decimal) -> int:
    return 0 if abs(value) < TINY else int(value.compare(ZERO))


@given(STRAIGHT, AMOUNTS, SPOTS)
def test_a_straight_line_crosses_where_fractions_say(a_line, target, spot):
    assume(a_line.slope)
    exact = (Fraction(target) - Fraction(a_line.base)) / Fraction(a_line.slope)
    found = crossings(a_line, target=target, spot=spot)
    got = [s for s in (found.below, found.above) if s is not None]
    assert len(got) == (exact > 0)
    assert all(abs(Fraction(s) - exact) < Fraction(TINY) for s in got)


@pytest.mark.parametrize(
    ("a_line", "target", "spot", "below", "above"),
    [
        (VALLEY, "50", "27", "25", "40"),  # one on each side
        (VALLEY, "50", "20", None, "25"),  # both above: the nearer one
        (VALLEY, "50", "60", "40", None),  # both below: the nearer one
        (VALLEY, "50", "25", None, "25"),  # standing on one
        (VALLEY, "50", "40", "25", "40"),
        (VALLEY, "40", "20", None, "30"),  # touches at the kink
        (VALLEY, "40", "35", "30", None),
        (VALLEY, "39.99", "30", None, None),  # never so low
        (VALLEY, "100", "35", None, "90"),  # the other one is at zero, not above it
        (VALLEY, "110", "35", None, "100"),
        # flat up to the kink, and from the kink on: the stretch ends at the kink
        (line("18", "0", "30", "0.6"), "18", "20", None, "30"),
        (line("18", "0", "30", "0.6"), "18", "40", "30", None),
        (line("18", "0", "30", "0.6"), "24", "40", None, "40"),
        (line("100", "-2", "30", "0"), "40", "50", "30", None),
        (line("100", "-2", "30", "0"), "60", "50", "20", None),
        # along the target everywhere, or never
        (line("18"), "18", "20", None, None),
        (line("18"), "19", "20", None, None),
        (line("18", "0.5", "30", "0.5"), "33", "10", None, "30"),
    ],
)
def test_crossings_by_hand(a_line, target, spot, below, above):
    found = crossings(a_line, target=Decimal(target), spot=Decimal(spot))
    assert found == Crossings(
        below=None if below is None else Decimal(below),
        above=None if above is None else Decimal(above),
    )
