from dataclasses import replace
from decimal import Context, Decimal, localcontext

import pytest

from pricing import estimate as module
from pricing import price_book as pb
from pricing.errors import InvalidInput, NoPossiblePrice, NotMakeable, UnknownKey
from pricing.estimate import estimate, prepare
from pricing.market import Market
from pricing.money import currency
from pricing.validity import suggested_validity
from pricing.wish import OwnCoin
from tests.oracles.workshops import (
    DOLLAR,
    RETAIL,
    SHOP,
    base_coin,
    book,
    policy,
    rate,
    silver_coin,
    spot,
    stage,
    wish,
)

FAIR = pb.Channel(key="fair")
BREAKS = (
    pb.QuantityBreak(from_quantity=3, target_margin=Decimal("0.30")),
    pb.QuantityBreak(from_quantity=10, target_margin=Decimal("0.25")),
)


def test_an_estimate_names_all_it_stands_on():
    shop = book(version=7)
    made = estimate(shop, DOLLAR, spot(), wish())
    assert made.book_version == 7
    assert (made.coin, made.spot, made.wish) == (DOLLAR, spot(), wish())
    assert (made.channel, made.policy, made.currency) == (SHOP, RETAIL, currency("EUR"))
    assert [work.key for work in made.work] == [each.key for each in shop.stages]
    assert len(made.spoilage.stages) == len(shop.stages)
    assert made.price.sale.cost == made.cost.per_piece
    assert made.on_paid is None
    assert made.risk is None


def test_the_first_channel_and_policy_are_taken_unless_another_is_named():
    trade = policy(markup="0.5")
    shop = book(channels=(SHOP, FAIR), policies=(RETAIL, trade))
    assert estimate(shop, DOLLAR, spot(), wish()).channel is SHOP
    other = estimate(shop, DOLLAR, spot(), wish(channel="fair", policy="only"))
    assert (other.channel, other.policy) == (FAIR, trade)
    assert "packaging" not in other.cost.by_kind


@pytest.mark.parametrize("member", ["channel", "policy"])
def test_a_name_the_book_does_not_have_is_refused(member):
    with pytest.raises(UnknownKey, match="nowhere"):
        estimate(book(), DOLLAR, spot(), wish(**{member: "nowhere"}))


def test_an_extra_the_book_does_not_have_is_refused():
    with pytest.raises(UnknownKey, match="bow"):
        estimate(book(), DOLLAR, spot(), wish(extras=("bow",)))


def test_a_ring_that_cannot_be_made_is_refused():
    with pytest.raises(NotMakeable):
        estimate(book(), DOLLAR, spot(), wish(hole_mm=Decimal(37)))


def test_a_rule_no_price_can_meet_is_refused():
    greedy = policy(target_margin="0.99")
    with pytest.raises(NoPossiblePrice):
        estimate(book(policies=(greedy,)), DOLLAR, spot(), wish())


def test_silver_needs_a_spot():
    with pytest.raises(InvalidInput, match="no spot price is known") as refused:
        estimate(book(), DOLLAR, None, wish())
    assert refused.value.path == ("spot",)


def test_a_coin_at_a_fixed_price_still_needs_a_spot_for_its_scrap():
    fixed = pb.CoinBuying(basis="paid", paid=Decimal(20))
    with pytest.raises(InvalidInput, match="spot"):
        prepare(book(coin_buying=fixed), DOLLAR, wish()).cost_at(None)
    unsold = book(coin_buying=fixed, recovery=pb.Recovery())
    assert prepare(unsold, DOLLAR, wish()).cost_at(None).per_piece > 20


def test_a_spot_in_another_currency_is_refused():
    with pytest.raises(InvalidInput, match="USD") as refused:
        estimate(book(), DOLLAR, spot(code="USD"), wish())
    assert refused.value.path == ("spot",)


@pytest.mark.parametrize(
    ("coin", "asked"),
    [
        (base_coin(), wish("8")),
        (DOLLAR, wish(own_coin=OwnCoin(compensation=Decimal(40)))),
    ],
)
def test_what_spot_does_not_touch_needs_none_and_is_not_moved_by_one(coin, asked):
    without = estimate(book(), coin, None, asked)
    for price in ("1", "300"):
        made = estimate(book(), coin, spot(price), asked)
        assert made.cost == without.cost
        assert made.price == without.price


def test_coins_to_start_are_told_for_bought_coins_and_not_for_own_ones():
    stages = (stage("punch", minutes="4", removes="slug", scrap=rate("0.10")),)
    shop = book(stages=stages)
    asked = wish(quantity=10)
    # 13 at 90 % each give 10 good ones in 96.6 % of all orders, 12 in 88.9 %
    assert estimate(shop, DOLLAR, spot(), asked).coins_to_start == 13
    bold = replace(asked, confidence=Decimal("0.85"))
    assert estimate(shop, DOLLAR, spot(), bold).coins_to_start == 12
    own = replace(asked, own_coin=OwnCoin())
    made = estimate(shop, DOLLAR, spot(), own)
    assert made.coins_to_start is None
    assert made.spoilage.chance_good == Decimal("0.9")


@pytest.mark.parametrize(
    ("quantity", "target"),
    [(1, "0.35"), (2, "0.35"), (3, "0.30"), (9, "0.30"), (10, "0.25"), (500, "0.25")],
)
def test_larger_orders_have_lower_targets(quantity, target):
    shop = book(policies=(replace(RETAIL, quantity_breaks=BREAKS),))
    made = estimate(shop, DOLLAR, spot(), wish(quantity=quantity))
    assert made.price.target_margin == Decimal(target)
    sale = made.price.sale
    assert sale.margin >= Decimal(target) * sale.net
    assert sale.cost == quantity * made.cost.per_piece


def test_prudence_prices_at_an_upper_quantile_of_the_counts():
    counted = pb.Chance(tried=40, failed=1)
    stages = (stage("punch", minutes="4", removes="slug", scrap=counted),)

    def priced(prudence):
        only = replace(RETAIL, prudence=prudence and Decimal(prudence))
        return estimate(book(stages=stages, policies=(only,)), DOLLAR, spot(), wish())

    mean, prudent, anxious = priced(None), priced("0.80"), priced("0.99")
    chances = [m.spoilage.stages[0].scrap.value for m in (mean, prudent, anxious)]
    assert chances == sorted(chances)
    assert mean.cost.per_piece < prudent.cost.per_piece < anxious.cost.per_piece


def test_two_policies_of_one_book_price_at_their_own_prudence():
    counted = pb.Chance(tried=40, failed=1)
    stages = (stage("punch", minutes="4", removes="slug", scrap=counted),)
    careful = replace(RETAIL, key="careful", prudence=Decimal("0.9"))
    shop = book(stages=stages, policies=(RETAIL, careful))
    plain = estimate(shop, DOLLAR, spot(), wish())
    other = estimate(shop, DOLLAR, spot(), wish(policy="careful"))
    assert other.spoilage.chance_good < plain.spoilage.chance_good
    assert estimate(shop, DOLLAR, spot(), wish()) == plain


def test_the_same_wish_twice_is_the_same_estimate():
    asked = wish(include=frozenset({"risk"}), quantity=2)
    first = estimate(book(), DOLLAR, spot(), asked)
    shop = book()
    assert first.risk is not None
    assert estimate(shop, DOLLAR, spot(), asked) == first
    assert prepare(shop, DOLLAR, asked).at(spot()) == first


def test_one_preparation_serves_every_spot():
    ready = prepare(book(), DOLLAR, wish())
    for price in ("12.00", "27.50", "61.05"):
        assert ready.at(spot(price)) == estimate(book(), DOLLAR, spot(price), wish())


def test_the_callers_decimal_context_moves_nothing():
    expected = estimate(book(), DOLLAR, spot(), wish())
    with localcontext(Context(prec=5)):
        found = estimate(book(), DOLLAR, spot(), wish())
        sheet = prepare(book(), DOLLAR, wish()).cost_at(spot())
    assert found == expected
    assert sheet == expected.cost


def test_a_coins_own_wear_comes_before_the_books():
    book_wear = estimate(book(), silver_coin(), spot(), wish("8"))
    unworn = estimate(book(), silver_coin(wear=Decimal(0)), spot(), wish("8"))
    assert unworn.forming.mass_g == Decimal("14.58")
    assert book_wear.forming.mass_g == Decimal("14.4342")


def test_the_scale_readings_of_a_coin_are_used_for_that_coin():
    measured = pb.Calibration(coin=DOLLAR.key, slug=Decimal("1.1"))
    plain = estimate(book(), DOLLAR, spot(), wish())
    shop = book(calibrations=(measured,))
    assert estimate(shop, DOLLAR, spot(), wish()).forming.slug_g > plain.forming.slug_g
    other = estimate(shop, silver_coin(), spot(), wish("8"))
    assert other.forming == estimate(book(), silver_coin(), spot(), wish("8")).forming


def test_cautions_name_what_the_route_uses_and_not_what_is_on_the_shelf():
    tape = pb.Consumable(key="ptfe_tape", unit="m", price=Decimal("0.11"))
    use = pb.ConsumableUse(key="ptfe_tape", quantity=Decimal(1))
    stages = (stage("punch", minutes="4", removes="slug", consumables=(use,)),)

    def codes(**parts):
        made = estimate(book(consumables=(tape,), **parts), DOLLAR, spot(), wish())
        return {caution.code for caution in made.cautions}

    assert "ptfe" in codes(stages=stages)
    assert "ptfe" not in codes()


def test_a_book_that_lists_no_materials_is_warned_of_tape():
    made = estimate(book(), DOLLAR, spot(), wish())
    assert "ptfe" in {caution.code for caution in made.cautions}


def test_cautions_name_what_the_extras_bring():
    blackened = pb.Extra(key="liver_of_sulphur_finish", minutes=Decimal(3))
    asked = wish(extras=("liver_of_sulphur_finish",))
    made = estimate(book(extras=(blackened,)), DOLLAR, spot(), asked)
    assert "liver_of_sulphur" in {caution.code for caution in made.cautions}


def test_an_own_coin_brings_its_own_cautions_and_its_risk():
    owed = OwnCoin(compensation=Decimal(40))
    made = estimate(book(), DOLLAR, None, wish(own_coin=owed))
    assert "own_coin" in {caution.code for caution in made.cautions}
    assert made.own_coin.compensation == 40
    assert estimate(book(), DOLLAR, spot(), wish()).own_coin is None


def test_an_estimate_cannot_be_changed():
    made = estimate(book(), DOLLAR, spot(), wish())
    with pytest.raises(AttributeError):
        made.coin = base_coin()


def test_the_chain_of_a_book_is_worked_once():
    module._spoilage_of.cache_clear()
    shop = book()
    for us in ("8", "9", "10"):
        estimate(shop, DOLLAR, spot(), wish(us))
    found = module._spoilage_of.cache_info()
    assert (found.misses, found.hits) == (1, 2)


def test_the_price_alone_is_the_one_of_the_whole_estimate():
    ready = prepare(book(), DOLLAR, wish())
    assert ready.price_at(spot()) == ready.at(spot()).price


OLD = Market(spot_hours=Decimal(30))
RESTLESS = Market(daily=(Decimal("27.2"), Decimal("27.8")) * 6)


def test_an_old_spot_is_the_first_thing_to_watch():
    ready = prepare(book(), DOLLAR, wish())
    fresh, old = ready.at(spot()), ready.at(spot(), market=OLD)
    assert old.cautions[0].code == "spot_stale"
    assert old.cautions[1:] == fresh.cautions
    assert old.price == fresh.price


def test_the_policy_says_what_is_old():
    patient = policy(stale_spot=pb.StaleSpot(warn_hours=Decimal(40)))
    ready = prepare(book(policies=(patient,)), DOLLAR, wish())
    assert ready.at(spot(), market=OLD) == ready.at(spot())


def test_where_nothing_moves_with_the_spot_it_may_be_old():
    ready = prepare(book(), DOLLAR, wish(own_coin=OwnCoin(compensation=Decimal(40))))
    assert not ready.needs_spot
    assert ready.at(spot(), market=OLD) == ready.at(spot())


def test_how_long_a_price_may_hold_follows_from_how_the_spot_moved():
    ready = prepare(book(), DOLLAR, wish())
    found = ready.at(spot(), market=RESTLESS)
    assert found.validity == suggested_validity(
        spot().price, found.break_even.spot_at_floor, RESTLESS.daily
    )
    assert found.validity.points == 12
    assert ready.at(spot()).validity is None


def test_without_a_spot_no_time_is_suggested():
    owed = OwnCoin(compensation=Decimal(40))
    ready = prepare(book(), DOLLAR, wish(own_coin=owed))
    assert ready.at(None, market=RESTLESS).validity is None


# A price that stands already


def test_a_given_price_changes_the_sale_and_nothing_of_the_cost():
    ready = prepare(book(), DOLLAR, wish(quantity=2, include=frozenset({"risk"})))
    decided = ready.at(spot())
    unit = decided.price.sale.unit + Decimal("13.37")
    made = ready.at(spot(), unit_price=unit)
    assert (made.price.bound_by, made.price.sale.unit) == ("given", unit)
    assert made.price.sale.total == 2 * unit
    assert made.cost == decided.cost
    assert made.price.sale.margin > decided.price.sale.margin
    assert made.break_even.spot_at_floor > decided.break_even.spot_at_floor
    assert made.risk.chance_of_loss <= decided.risk.chance_of_loss
    again = ready.at(spot(), unit_price=decided.price.sale.unit)
    assert again == replace(decided, price=replace(decided.price, bound_by="given"))


def test_a_given_price_stands_where_the_policy_finds_none():
    steep = policy(target_margin="0.99", markup=None)
    ready = prepare(book(policies=(steep,)), DOLLAR, wish())
    with pytest.raises(NoPossiblePrice):
        ready.at(spot())
    assert ready.at(spot(), unit_price=Decimal("99.95")).price.rules == ()


def test_a_given_price_needs_a_spot_all_the_same():
    with pytest.raises(InvalidInput):
        prepare(book(), DOLLAR, wish()).at(None, unit_price=Decimal("99.95"))
