"""How a price moves when one thing moves, over random price books; and where it may
not be expected to.

What is shown here holds for the rules on margin, markup and least price. Two rules
look at presented parts of the cost: ``multipliers`` at its lines and ``min_hourly``
at its wages. Sharing the cents out among the lines, and rounding the wages apart from
the cost, can move what these two ask for by some minor units the other way; the tests
say by how much.
"""

from dataclasses import replace
from decimal import Decimal
from functools import cache

import pytest

from pricing import price_book as pb
from pricing.estimate import estimate, prepare
from pricing.units import troy_ounces
from pricing.wish import OwnCoin
from tests.oracles.random_rings import random_case
from tests.oracles.workshops import (
    base_coin,
    book,
    policy,
    rate,
    silver_coin,
    spot,
    stage,
    wish,
)
from tests.thoroughness import thorough

SEEDS = range(thorough(quick=200, full=2000))
SURE = pb.Chance(rate=Decimal(0))


drawn = cache(random_case)


@cache
def plain(seed):
    """A random case without the two rules that look at parts of the cost."""
    case = drawn(seed)
    only = replace(case.book.policies[0], multipliers=None, min_hourly=None)
    return replace(case, book=replace(case.book, policies=(only,)))


@cache
def priced(seed):
    return priced_as(plain(seed))


def priced_as(case):
    return estimate(case.book, case.coin, case.spot, case.wish)


def with_book(case, **parts):
    return replace(case, book=replace(case.book, **parts))


def at_stage(case, place, change):
    """The case with one stage changed."""
    stages = list(case.book.stages)
    place %= len(stages)
    stages[place] = change(stages[place])
    return with_book(case, stages=tuple(stages))


def dearer_wage(case, _):
    labour = case.book.labour
    more = replace(labour, rate_per_hour=labour.rate_per_hour + Decimal("0.37"))
    return with_book(case, labour=more)


def dearer_overhead(case, _):
    labour = case.book.labour
    more = replace(labour, overhead_per_hour=labour.overhead_per_hour + Decimal("0.37"))
    return with_book(case, labour=more)


def longer_minute(case, seed):
    return at_stage(
        case, seed, lambda s: replace(s, minutes=s.minutes + Decimal("0.7"))
    )


def dearer_consumables(case, _):
    known = case.book.consumables
    dearer = tuple(replace(c, price=c.price + Decimal("0.13")) for c in known)
    return with_book(case, consumables=dearer)


def dearer_tools(case, _):
    dearer = tuple(replace(t, price=t.price + 20) for t in case.book.tools)
    return with_book(case, tools=dearer)


def higher_fees(case, _):
    (channel,) = case.book.channels
    fees = tuple(
        replace(f, rate=f.rate + Decimal("0.01"), fixed=f.fixed + Decimal("0.03"))
        for f in channel.fees
    )
    return with_book(case, channels=(replace(channel, fees=fees),))


RISES = [
    dearer_wage,
    dearer_overhead,
    longer_minute,
    dearer_consumables,
    dearer_tools,
    higher_fees,
]


@pytest.mark.parametrize("raised", RISES)
def test_price_never_falls_when_a_wage_a_minute_a_material_a_tool_or_a_fee_rises(
    raised,
):
    rose = 0
    for seed in SEEDS:
        before, after = priced(seed), priced_as(raised(plain(seed), seed))
        assert after.price.sale.unit >= before.price.sale.unit, seed
        assert after.cost.per_piece >= before.cost.per_piece, seed
        rose += after.price.sale.unit > before.price.sale.unit
    assert rose > len(SEEDS) / 20


def likelier(chance):
    if chance.rate is not None:
        return pb.Chance(rate=chance.rate + Decimal("0.03"))
    return replace(chance, failed=chance.failed + 2)


def worth_replacing(case):
    """Whether a coin costs at least what all its metal could be sold for.

    This is the condition under which a failure never pays: what is sold of a scrapped
    piece (slug, filings and the piece) is then worth no more than the coin, so with
    the work in it the piece had cost more than it brings. A coin bought at melt or
    above with payouts up to 100 % always meets it, as do base metal and a customer's
    own coin, which bring nothing back.
    """
    ready = prepare(case.book, case.coin, case.wish)
    parts, terms = ready.sheet.ingredients, case.book.recovery
    if parts.coin is None:
        return True
    fine = troy_ounces(ready.forming.mass_g * case.coin.fineness)
    payout = max(terms.slug, terms.filings, terms.scrap)
    return parts.coin.at(case.spot) >= fine * case.spot.price * payout


def test_price_never_falls_when_a_scrap_chance_rises_and_a_coin_is_worth_its_metal():
    tried = rose = 0
    for seed in SEEDS:
        case = plain(seed)
        if not worth_replacing(case):
            continue
        worse = at_stage(case, seed, lambda s: replace(s, scrap=likelier(s.scrap)))
        before, after = priced(seed), priced_as(worse)
        assert after.price.sale.unit >= before.price.sale.unit, seed
        assert after.cost.per_piece >= before.cost.per_piece, seed
        tried += 1
        rose += after.price.sale.unit > before.price.sale.unit
    assert tried > len(SEEDS) / 2
    assert rose > tried / 10


def test_price_never_falls_with_prudence_where_a_coin_is_worth_its_metal():
    for seed in SEEDS[::4]:
        case = plain(seed)
        if not worth_replacing(case):
            continue
        units = []
        for quantile in ("0.6", "0.8", "0.95"):
            careful = replace(case.book.policies[0], prudence=Decimal(quantile))
            made = priced_as(with_book(case, policies=(careful,)))
            units.append(made.price.sale.unit)
        assert units == sorted(units), seed


def cheap_coins(chance):
    """Coins got for 1.00 whose metal sells for ten times as much."""
    fixed = pb.CoinBuying(basis="paid", paid=Decimal(1))
    punch = stage("punch", minutes="1", removes="slug", scrap=rate(chance))
    shop = book(coin_buying=fixed, stages=(punch, stage("polish", minutes="60")))
    return estimate(shop, silver_coin(), spot(), wish("8"))


def test_failing_pays_where_a_scrapped_piece_sells_for_more_than_went_into_it():
    assert cheap_coins("0.50").cost.per_piece < cheap_coins("0.10").cost.per_piece
    assert cheap_coins("0.50").price.sale.unit < cheap_coins("0.10").price.sale.unit


def test_price_never_falls_as_spot_rises_where_the_slope_is_not_negative():
    # The cost is convex in spot, so a slope that is not negative today is not
    # negative at any higher spot either.
    tried = 0
    for seed in SEEDS:
        case, before = plain(seed), priced(seed)
        if before.cost.exact.slope_at(case.spot.price) < 0:
            continue
        for more in ("0.40", "9"):
            price = case.spot.price + Decimal(more)
            after = priced_as(replace(case, spot=replace(case.spot, price=price)))
            assert after.price.sale.unit >= before.price.sale.unit, seed
            tried += after.price.sale.unit > before.price.sale.unit
    assert tried > len(SEEDS) / 10


def test_slope_is_not_negative_where_coins_are_bought_at_melt_or_above():
    bought = 0
    for seed in SEEDS:
        case = plain(seed)
        if case.book.coin_buying.basis == "melt":
            assert priced(seed).cost.exact.slope >= 0, seed
            bought += 1
    assert bought


def test_a_scrapped_piece_worth_less_than_its_coin_is_not_enough_for_a_rising_price():
    # Coins at a fixed 20.00: even with nothing scrapped at all, slugs and filings
    # bring more as spot rises, and the price falls.
    fixed = pb.CoinBuying(basis="paid", paid=Decimal(20))
    stages = (stage("punch", minutes="10", removes="slug"),)
    prices = [
        estimate(
            book(coin_buying=fixed, stages=stages), silver_coin(), spot(at), wish("8")
        ).price.sale.unit
        for at in ("10", "20", "40")
    ]
    assert prices == sorted(prices, reverse=True)
    assert prices[0] > prices[-1]


def test_a_heavier_coin_of_the_same_diameter_may_make_a_cheaper_ring():
    # It is thicker, so less of it is bored out (V falls with 1/t), and boring is paid
    # by the gram here. Price is therefore not monotone in mass.
    stages = (
        stage("punch", minutes="4", removes="slug"),
        stage("bore", minutes_per={"bored_g": Decimal(60)}, removes="bore"),
    )
    fixed = pb.CoinBuying(basis="paid", paid=Decimal(12))
    shop = book(stages=stages, coin_buying=fixed)
    light, heavy = (
        estimate(shop, silver_coin(gross_mass_g=Decimal(mass)), spot(), wish("8"))
        for mass in ("13.00", "15.00")
    )
    assert heavy.forming.bored_g < light.forming.bored_g
    assert heavy.price.sale.unit < light.price.sale.unit
    melt = book(coin_buying=pb.CoinBuying())  # dear metal, boring at a flat time
    light, heavy = (
        estimate(melt, silver_coin(gross_mass_g=Decimal(mass)), spot(), wish("8"))
        for mass in ("13.00", "15.00")
    )
    assert heavy.price.sale.unit > light.price.sale.unit


def asked_of_net(made):
    """What the multipliers ask of the net of one piece."""
    factor = made.policy.multipliers.get
    return sum(part * factor(k, 1) for k, part in made.cost.by_kind.items())


@pytest.mark.parametrize("raised", RISES[:5])
def test_multipliers_ask_no_less_but_for_shared_out_cents(raised):
    checked = 0
    for seed in SEEDS:
        case = drawn(seed)
        factors = case.book.policies[0].multipliers
        if factors is None:
            continue
        before, after = priced_as(case), priced_as(raised(case, seed))
        most = max(*factors.values(), 1)
        cents = len(after.cost.lines) * most * after.currency.step
        assert asked_of_net(after) >= asked_of_net(before) - cents, seed
        checked += 1
    assert checked > len(SEEDS) / 8


@pytest.mark.parametrize("raised", RISES[:5])
def test_hourly_earning_asks_no_less_but_for_its_roundings(raised):
    checked = 0
    for seed in SEEDS:
        case = drawn(seed)
        hourly = case.book.policies[0].min_hourly
        if hourly is None:
            continue

        def asked(made, hourly=hourly):
            earned = hourly * made.cost.attended_minutes / 60
            return earned + made.cost.per_piece - made.cost.labour

        before, after = priced_as(case), priced_as(raised(case, seed))
        # cost and wages each half a minor unit, twice; minutes at 0.01, twice half
        slack = 2 * after.currency.step + hourly / 6000
        assert asked(after) >= asked(before) - slack, seed
        checked += 1
    assert checked > len(SEEDS) / 8


def test_a_cent_shared_out_to_a_wage_may_lower_a_price_by_multipliers():
    # Lines 10.006 and 5.005 are shown as 10.01 and 5.00; with a wage a fifth of a
    # cent higher they are shown as 10.00 and 5.01, and materials count three times.
    def made(wage):
        gas = pb.Consumable(key="gas", unit="kg", price=Decimal("10.006"))
        use = pb.ConsumableUse(key="gas", quantity=Decimal(1))
        stages = (stage("solder", minutes="60", consumables=(use,), removes="slug"),)
        shop = book(
            labour=pb.Labour(rate_per_hour=Decimal(wage)),
            consumables=(gas,),
            stages=stages,
            channels=(pb.Channel(key="fair"),),
            policies=(policy(multipliers={"consumable": Decimal(3)}),),
        )
        return estimate(shop, silver_coin(), None, wish("8", own_coin=OwnCoin()))

    before, after = made("5.005"), made("5.007")
    assert after.cost.per_piece == before.cost.per_piece == Decimal("15.01")
    assert before.price.sale.unit == Decimal("35.03")
    assert after.price.sale.unit == Decimal("35.01")


def test_without_failures_there_is_no_cost_of_failures():
    for seed in SEEDS[::20]:
        case = drawn(seed)
        sure = tuple(replace(s, scrap=SURE, redo=None) for s in case.book.stages)
        made = priced_as(with_book(case, stages=sure))
        assert made.spoilage.starts_per_good == 1, seed
        assert made.cost.attended_minutes == pytest.approx(
            sum(work.minutes for work in made.work)
            + sum(case.book.extra(key).minutes for key in case.wish.extras),
            abs=Decimal("0.005"),
        ), seed
        labels = {line.label for line in made.cost.lines}
        assert "Scrapped rings sold" not in labels, seed
        if case.wish.own_coin is not None:
            assert made.cost.by_kind["coin"] == 0, seed


def test_an_own_coin_has_its_compensation_and_neither_coin_nor_recovery():
    for seed in SEEDS[::20]:
        case, owed = drawn(seed), Decimal("37.50")
        asked = replace(case.wish, own_coin=OwnCoin(compensation=owed))
        one, other = (
            estimate(case.book, case.coin, replace(case.spot, price=price), asked)
            for price in (Decimal(1), Decimal(500))
        )
        assert one.cost == other.cost, seed
        assert one.price == other.price, seed
        good = one.spoilage.chance_good
        expected = (1 - good) / good * owed
        step = one.currency.step
        assert abs(one.cost.by_kind["coin"] - expected) <= step, seed
        assert "recovery" not in one.cost.by_kind, seed
        assert one.cost.slope_per_spot == 0, seed


def test_base_metal_needs_no_spot_and_has_no_break_even():
    for seed in SEEDS[::20]:
        case = drawn(seed)
        asked = replace(case.wish, own_coin=None)
        coin = base_coin(diameter_mm=case.coin.diameter_mm, gross_mass_g=Decimal(24))
        made = estimate(case.book, coin, None, asked)
        assert "recovery" not in made.cost.by_kind, seed
        found = made.break_even
        assert found.spot_at_floor is found.spot_at_zero is None, seed
        assert found.spot_at_floor_below is found.spot_at_zero_below is None, seed


def test_the_greater_of_both_costs_the_greater_of_both_at_every_spot():
    for seed in SEEDS[::10]:
        case = drawn(seed)
        asked = replace(case.wish, own_coin=None)

        def exact(basis, case=case, asked=asked):
            buying = replace(case.book.coin_buying, basis=basis)
            shop = replace(case.book, coin_buying=buying)
            return prepare(shop, case.coin, asked).sheet.exact

        both, melt, paid = exact("greater_of"), exact("melt"), exact("paid")
        for price in (Decimal(n) for n in (1, 9, 20, 33, 70, 400)):
            dearer = max(melt.at(price), paid.at(price))
            assert both.at(price) == pytest.approx(dearer, rel=Decimal("1e-15")), seed


def test_the_mean_of_the_simulated_orders_is_the_cost_of_the_order():
    for seed in SEEDS[::50]:
        case = drawn(seed)
        asked = replace(case.wish, own_coin=None, include=frozenset({"risk"}))
        made = estimate(case.book, case.coin, case.spot, asked)
        mean = made.cost.exact.at(case.spot.price) * asked.quantity
        allowed = 3 * made.risk.standard_error + made.currency.step
        assert abs(made.risk.mean - mean) <= allowed, seed
