from collections import Counter
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pricing import price_book as pb
from pricing.coin import HoleStep
from pricing.errors import InvalidInput, NoPossiblePrice, NotMakeable, UnknownKey
from pricing.estimate import prepare
from pricing.reprice import compile_band
from tests.oracles.random_bands import decided, random_band
from tests.oracles.workshops import (
    DOLLAR,
    RETAIL,
    SHOP,
    base_coin,
    book,
    policy,
    spot,
    stage,
)

SEEDS = st.integers(0, 10**9)
MANY = settings(max_examples=150, deadline=None)
SOME = settings(max_examples=80, deadline=None)


def band_of(shop, coin=DOLLAR, *, least="9", most="10", **sold):
    return compile_band(
        shop, coin, size_from=Decimal(least), size_to=Decimal(most), **sold
    )


# The price of a band, against pricing every size as an estimate does


@MANY
@given(SEEDS)
def test_a_band_has_the_highest_of_the_prices_of_its_sizes(seed):
    drawn = random_band(seed)
    priced = drawn.band.price_at(drawn.spot)
    asked, costs = drawn.asked(), drawn.costs()
    assert priced.unit == max(asked.values())
    assert all(priced.unit >= unit for unit in asked.values())
    assert priced.dearest_size == drawn.dearest()
    assert priced.cost == max(shown for shown, _ in costs.values())
    assert priced.costliest_size == max(costs, key=lambda us: (*costs[us], -us))


@SOME
@given(SEEDS)
def test_a_band_has_the_highest_price_under_rules_that_pull_apart(seed):
    """Cost, time and weighted lines need not be highest at the same size."""
    rules = {
        "target_margin": None,
        "quantity_breaks": (),
        "markup": Decimal("0.1"),
        "multipliers": {"coin": Decimal("0.7"), "labour": Decimal("2.5")},
        "min_hourly": Decimal(60),
        "rounding": None,
    }
    drawn = random_band(seed, policy=rules)
    priced = drawn.band.price_at(drawn.spot)
    assert priced.unit == max(drawn.asked().values())
    assert priced.dearest_size == drawn.dearest()


@SOME
@given(SEEDS)
def test_margins_are_those_of_the_size_with_the_worst_margin(seed):
    drawn = random_band(seed)
    priced = drawn.band.price_at(drawn.spot)
    at_its_price = drawn.sales(priced.unit)
    worst = at_its_price[priced.costliest_size]
    assert worst.margin == min(sale.margin for sale in at_its_price.values())
    assert (priced.margin, priced.margin_rate) == (worst.margin, worst.margin_rate)
    made = priced.judge(drawn.current)
    now = drawn.sales(drawn.current)[priced.costliest_size]
    after = drawn.sales(made.new_price)[priced.costliest_size]
    assert now.margin == min(x.margin for x in drawn.sales(drawn.current).values())
    assert (made.old_margin, made.new_margin) == (now.margin_rate, after.margin_rate)


# The decision, against the same questions asked with fractions


@MANY
@given(SEEDS)
def test_a_decision_follows_the_questions_in_their_order(seed):
    drawn = random_band(seed)
    made = drawn.band.judge(drawn.spot, drawn.current)
    assert (made.decision, made.new_price) == decided(drawn)
    assert made.asked == max(drawn.asked().values())


def test_every_decision_comes_up_among_the_drawn_bands():
    decisions = Counter(decided(random_band(seed))[0] for seed in range(120))
    assert min(decisions[x] for x in ("hold", "raise", "lower", "review")) >= 3


@SOME
@given(SEEDS)
def test_a_price_that_was_applied_is_held_at_the_same_spot(seed):
    drawn = random_band(seed)
    made = drawn.band.judge(drawn.spot, drawn.current)
    again = drawn.band.judge(drawn.spot, made.new_price)
    assert again.decision == "hold"
    assert again.new_price == made.new_price


@SOME
@given(SEEDS)
def test_a_change_is_never_beyond_the_largest_step_unless_it_is_for_review(seed):
    drawn = random_band(seed, policy={"max_step": Decimal("0.1")})
    made = drawn.band.judge(drawn.spot, drawn.current)
    change = abs(Fraction(made.new_price) - Fraction(drawn.current))
    largest = Fraction(1, 10) * Fraction(drawn.current)
    assert (change > largest) == (made.decision == "review")


@SOME
@given(SEEDS)
def test_under_the_floor_the_price_goes_up_even_inside_the_dead_band(seed):
    everything = pb.DeadBand(amount=Decimal(10**9), share=Decimal(1))
    drawn = random_band(
        seed, policy={"dead_band": everything, "floor_margin": Decimal("0.3")}
    )
    worst = drawn.worst(drawn.current)
    made = drawn.band.judge(drawn.spot, drawn.current)
    if worst.keeps(Decimal("0.3")):
        assert made.decision == "hold"
    elif made.asked > drawn.current:
        assert made.decision in {"raise", "review"}
        assert made.new_price > drawn.current
    else:
        assert made.decision == "hold"
        assert "ask for no more" in made.reason


@SOME
@given(SEEDS)
def test_no_price_goes_down_where_the_policy_lowers_none(seed):
    drawn = random_band(seed, policy={"allow_lowering": False})
    made = drawn.band.judge(drawn.spot, drawn.current)
    assert made.decision != "lower"
    assert made.new_price >= drawn.current


@SOME
@given(SEEDS)
def test_the_spot_at_the_floor_solves_the_margin_of_the_first_size_to_fall(seed):
    drawn = random_band(seed)
    made = drawn.band.judge(drawn.spot, drawn.current)
    sale = drawn.worst(drawn.current)
    bearable = sale.margin + sale.cost - drawn.policy.floor_margin * sale.net
    lines = [each.sheet.exact for each in drawn.sizes.values()]

    def costliest(price):
        return max(line.at(price) for line in lines)

    found = made.spot_at_floor
    if found is None:
        sky = Decimal(10) ** 9
        assert costliest(drawn.spot.price) > bearable or costliest(sky) <= bearable
        return
    assert found >= drawn.spot.price
    rate = (sale.margin + sale.cost - costliest(found)) / sale.net
    assert abs(rate - drawn.policy.floor_margin) < Decimal("1e-9")
    between = drawn.spot.price + (found - drawn.spot.price) * Decimal("0.999")
    assert costliest(between) <= bearable + Decimal("1e-20")


@MANY
@given(SEEDS, st.lists(st.integers(30, 300), min_size=1, max_size=6))
def test_what_was_asked_before_changes_no_answer(seed, percents):
    """Answers are remembered, and how far they hold; it must never show."""
    asked_before, fresh = random_band(seed), random_band(seed)
    price, current = fresh.spot.price, fresh.current
    for percent in percents:
        there = replace(fresh.spot, price=price * percent / 100)
        other = (current * percent / 100).quantize(Decimal(1))
        for each in (current, other + 1):
            asked_before.band.judge(there, each)
    again = asked_before.band.price_at(fresh.spot)
    first = fresh.band.price_at(fresh.spot)
    assert again.judge(current) == first.judge(current)
    assert (again.unit, again.cost, again.shown) == (
        first.unit, first.cost, first.shown
    )  # fmt: skip
    assert again.dearest_size == first.dearest_size
    assert again.costliest_size == first.costliest_size


# Worked by hand


def plain_shop(**rules):
    """A dollar that costs what its silver does, 30.00 of bench time, and no more.

    Punching takes 60 minutes at 30.00 an hour and spoils nothing; nothing is
    recovered. A new dollar of 1921–1935 is 26.73 g of 0.900 silver: mass at 0.1 mg
    26.7300 × 0.900 = 24.0570 g fine, ÷ 31.1034768 = 0.773451… ozt.
    """
    return book(
        stages=(stage("punch", minutes="60", removes="slug"),),
        labour=pb.Labour(rate_per_hour=Decimal(30)),
        recovery=pb.Recovery(),
        coin_buying=pb.CoinBuying(),
        channels=(pb.Channel(key="plain"),),
        policies=(policy(floor_margin="0.2", **rules),),
    )


TARGET = {
    "target_margin": "0.40",
    "rounding": pb.Rounding(step=Decimal(5), offset=Decimal("-0.05")),
}


def test_a_raise_worked_by_hand():
    # At 30.00: 0.773451 × 30 = 23.2035, + 30.00 of time = 53.20.
    # Least price with a margin of 40 %: 53.20 ÷ 0.60 = 88.67, on the grid 89.95.
    # At 84.95 the margin is (84.95 − 53.20) ÷ 84.95 = 31.75 ÷ 84.95 = 37.37 %, at
    # 89.95 it is 36.75 ÷ 89.95 = 40.86 %. 5.00 ÷ 84.95 = 5.886 %.
    # Floor: cost may be 84.95 × 0.8 = 67.96, less 30.00 is 37.96 of silver,
    # ÷ 0.773451 = 49.0787.
    made = band_of(plain_shop(**TARGET)).judge(spot("30"), Decimal("84.95"))
    assert (made.decision, made.new_price) == ("raise", Decimal("89.95"))
    assert made.old_margin == Decimal("0.3737")
    assert made.new_margin == Decimal("0.4086")
    assert made.reason == "89.95 would be 5.00 more (5.9 %)"
    assert abs(made.spot_at_floor - Decimal("49.0787")) < Decimal("0.0001")


def test_a_price_under_its_floor_worked_by_hand():
    # At 60.00: 46.41 + 30.00 = 76.41. (84.95 − 76.41) ÷ 84.95 = 10.05 %.
    # 76.41 ÷ 0.60 = 127.35, on the grid 129.95: 45.00 more, 52.97 %.
    made = band_of(plain_shop(**TARGET)).judge(spot("60"), Decimal("84.95"))
    assert (made.decision, made.new_price) == ("raise", Decimal("129.95"))
    assert (made.old_margin, made.spot_at_floor) == (Decimal("0.1005"), None)
    assert made.reason == (
        "the margin at 84.95 would be 10.1 %, under the floor of 20 %; "
        "129.95 would be 45.00 more (53 %)"
    )


def test_the_price_of_a_band_worked_by_hand_at_its_dearest_size():
    # A minute for every size wrapped: the coin stands unforced at US 18.5 and a ring
    # is opened 2.5 sizes over the finger, so 18.5 − (9 + 2.5) = 7 sizes are wrapped
    # at size 9 and 6 at size 10: at 30.00 an hour 3.50 against 3.00.
    # At 30.00, size 9 costs 23.2035 + 30.00 + 3.50 = 56.70: 56.70 ÷ 0.6 = 94.50.
    shop = plain_shop(target_margin="0.40")
    wrapping = stage(
        "punch", minutes="60", removes="slug", minutes_per={"wrap_sizes": Decimal(1)}
    )
    coin = replace(DOLLAR, natural_size=Decimal("18.5"))
    shop = replace(shop, stages=(wrapping,))
    priced = band_of(shop, coin).price_at(spot("30"))
    assert (priced.unit, priced.dearest_size) == (Decimal("94.50"), Decimal(9))
    assert (priced.cost, priced.costliest_size) == (Decimal("56.70"), Decimal(9))
    assert priced.margin == Decimal("37.80")
    assert priced.margin_rate == Decimal("0.4000")
    # Alone, size 10 costs 56.20: 56.20 ÷ 0.6 = 93.67, rounded up.
    alone = band_of(shop, coin, least="10").price_at(spot("30"))
    assert (alone.unit, alone.dearest_size) == (Decimal("93.67"), Decimal(10))


# Sizes, spots and names


def test_a_band_is_worked_out_in_quarter_sizes_with_both_ends():
    sizes = band_of(book(), least="5", most="6.5").sizes.sizes
    assert [str(size.size_us) for size in sizes] == [
        "5", "5.25", "5.5", "5.75", "6", "6.25", "6.5",
    ]  # fmt: skip


def test_working_a_band_out_leaves_the_wishes_kept_for_estimates_alone():
    before = prepare.cache_info()
    band_of(book()).price_at(spot())
    assert prepare.cache_info() == before


def test_one_size_that_cannot_be_made_blocks_the_band_and_is_named():
    holes = (
        HoleStep(hole_mm=Decimal(15), up_to=Decimal(9)),
        HoleStep(hole_mm=Decimal(36), up_to=None),
    )
    with pytest.raises(NotMakeable, match=r"^US 9\.25: .*36 mm hole") as refused:
        band_of(book(), replace(DOLLAR, holes=holes), least="8.5")
    assert refused.value.reason == "land_too_short"
    assert refused.value.message == str(refused.value)


def test_a_rule_no_price_can_meet_blocks_the_band_and_names_the_size():
    greedy = policy(target_margin="0.99")
    band = band_of(book(policies=(greedy,)), least="10", most="10")
    with pytest.raises(NoPossiblePrice, match=r"^US 10: no price can meet target"):
        band.price_at(spot())


@pytest.mark.parametrize("member", ["channel", "policy"])
def test_a_name_the_book_does_not_have_is_refused(member):
    with pytest.raises(UnknownKey, match="nowhere"):
        band_of(book(), **{member: "nowhere"})


def test_an_extra_the_book_does_not_have_is_refused():
    with pytest.raises(UnknownKey, match="bow"):
        band_of(book(), extras=("bow",))


def test_channel_policy_and_extras_count():
    fair = pb.Channel(key="fair")
    trade = policy(markup="0.5")
    box = pb.Extra(key="box", price_cost=Decimal(4))
    shop = book(channels=(SHOP, fair), policies=(RETAIL, trade), extras=(box,))
    plain = band_of(shop).price_at(spot())
    other = band_of(shop, channel="fair", policy="only", extras=("box",))
    priced = other.price_at(spot())
    # No packaging of 1.80 at the fair, a box of 4.00, and half as much on top.
    assert priced.cost == plain.cost + Decimal("2.20")
    assert priced.unit == (priced.cost * Decimal("1.5")).quantize(Decimal("0.01"))


def test_silver_needs_a_spot_in_the_currency_of_the_book():
    band = band_of(book())
    with pytest.raises(InvalidInput, match="no spot price is known"):
        band.price_at(None)
    with pytest.raises(InvalidInput, match="USD"):
        band.price_at(spot(code="USD"))


def test_what_no_metal_price_moves_needs_no_spot_and_has_no_spot_at_its_floor():
    band = band_of(book(), base_coin(), least="8", most="9")
    assert not band.needs_spot
    without = band.judge(None, Decimal("60.00"))
    assert band.judge(spot(), Decimal("60.00")) == without
    assert without.spot_at_floor is None


def test_prices_are_written_in_whole_minor_units_however_they_were_given():
    whole = plain_shop(
        target_margin="0.40", rounding=pb.Rounding(step=Decimal(10), offset=Decimal(0))
    )
    made = band_of(whole).judge(spot("30"), Decimal(85))
    assert made.reason == "90.00 would be 5.00 more (5.9 %)"
    assert str(made.new_price) == "90.00"
    assert str(band_of(whole).judge(spot("30"), Decimal("9E+1")).new_price) == "90.00"


@pytest.mark.parametrize("current", ["0", "-1", "74.955"])
def test_a_current_price_that_is_none_is_refused(current):
    with pytest.raises(InvalidInput, match="no price in EUR") as refused:
        band_of(book()).judge(spot(), Decimal(current))
    assert refused.value.path == ("price",)
