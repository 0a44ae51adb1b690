import random
from dataclasses import replace
from decimal import Context, Decimal, localcontext

import pytest

from pricing import price_book as pb
from pricing.errors import InvalidInput, NoPossiblePrice, NotMakeable, UnknownKey
from pricing.estimate import estimate
from pricing.market import Market
from pricing.money import currency
from pricing.order import MOST_LINES, prepare_order
from tests.oracles.random_orders import random_order, with_quantities
from tests.oracles.workshops import (
    DOLLAR,
    RETAIL,
    SHOP,
    base_coin,
    book,
    policy,
    silver_coin,
    spot,
    wish,
)

SEEDS = pytest.mark.parametrize("seed", range(120))
FAIR = pb.Channel(key="fair")
BREAKS = (pb.QuantityBreak(from_quantity=4, target_margin=Decimal("0.25")),)
PAIR = ((DOLLAR, wish("7")), (DOLLAR, wish("11", quantity=2)))


def order(asked):
    return prepare_order(asked.book, asked.lines).at(asked.spot)


def refusal(kind, lines, *, shop=None, at=None):
    with pytest.raises(kind) as refused:
        prepare_order(shop or book(), lines).at(at)
    return refused.value


# One line


@SEEDS
def test_an_order_of_one_line_is_the_plain_estimate(seed):
    asked = random_order(seed, most=1)
    ((coin, ring),) = asked.lines
    plain = estimate(asked.book, coin, asked.spot, ring)
    made = order(asked)
    assert made.lines == (plain,)
    sale = plain.price.sale
    assert (made.goods, made.net, made.cost) == (sale.total, sale.net, sale.cost)
    assert (made.total, made.tax) == (sale.charged, sale.tax_total)
    assert (made.margin, made.margin_rate) == (sale.margin, sale.margin_rate)
    assert (made.fees, made.shipping) == (sale.fees_total, sale.shipping_charged)
    assert (made.channel, made.pieces) == (plain.channel, ring.quantity)
    # The same sale, told of the whole as one piece.
    assert made.sale == replace(sale, unit=sale.total)
    assert made.confidence == ring.confidence
    needed = [need.coins for need in made.coins_to_start]
    assert needed == ([] if ring.own_coin else [plain.coins_to_start])


def test_an_order_of_one_line_has_the_risk_that_is_asked_for():
    ring = wish(quantity=2, include=frozenset({"risk"}))
    shop = book()
    made = prepare_order(shop, [(DOLLAR, ring)]).at(spot())
    assert made.lines[0].risk is not None
    assert made.lines == (estimate(shop, DOLLAR, spot(), ring),)


# Several lines


@SEEDS
def test_goods_shipping_and_cost_of_an_order_are_the_sums_of_its_lines(seed):
    asked = random_order(seed, least=2)
    made = order(asked)
    sales = [line.price.sale for line in made.lines]
    assert made.pieces == sum(ring.quantity for _, ring in asked.lines)
    assert made.goods == sum(
        sale.unit * n for sale, n in zip(sales, counts(asked), strict=True)
    )
    assert made.shipping == sum(sale.shipping_charged for sale in sales)
    assert made.sale.shipping_paid == sum(sale.shipping_paid for sale in sales)
    assert made.cost == sum(sale.cost for sale in sales)


def counts(asked):
    return [ring.quantity for _, ring in asked.lines]


@SEEDS
def test_the_figures_of_an_order_agree_with_one_another(seed):
    asked = random_order(seed, least=2)
    made = order(asked)
    channel = asked.book.channel()
    on_top = 0 if channel.tax.inclusive else made.tax
    assert made.total == made.goods + made.shipping + on_top
    assert made.shipping == channel.shipping.charged
    shipping_net = made.total - made.tax - made.net
    spent = made.fees + made.cost + channel.shipping.paid
    assert made.margin == made.net + shipping_net - spent
    assert abs(made.margin_rate - made.margin / made.net) <= Decimal("0.00005")
    minutes = sum(
        line.cost.attended_minutes * n
        for line, n in zip(made.lines, counts(asked), strict=True)
    )
    assert abs(made.bench_hours - minutes / 60) <= Decimal("0.005")


@pytest.mark.parametrize("code", ["EUR", "JPY", "KWD"])
@pytest.mark.parametrize("inclusive", [True, False])
def test_every_amount_is_in_whole_minor_units(code, inclusive):
    unit = currency(code)
    channel = replace(SHOP, tax=pb.Tax(rate=Decimal("0.19"), inclusive=inclusive))
    shop = book(currency=unit, channels=(channel,))
    made = prepare_order(shop, PAIR).at(spot("4000", code))
    for name in ("goods", "shipping", "tax", "total", "net", "fees", "cost", "margin"):
        assert getattr(made, name) % unit.step == 0, name
    assert made.total == made.goods + made.shipping + (0 if inclusive else made.tax)


def test_a_set_with_one_whole_channel_keeps_it_beside_the_shares():
    made = prepare_order(book(), PAIR).at(spot())
    assert made.channel == SHOP
    # 0.25 × 1/3 = 0.083 and 0.25 × 2/3 = 0.167
    fixed = [line.channel.fees[0].fixed for line in made.lines]
    assert fixed == [Decimal("0.08"), Decimal("0.17")]
    assert [line.channel.key for line in made.lines] == ["shop", "shop"]


def test_what_is_given_away_leaves_no_rate_of_margin():
    nothing = policy(min_price="0.01")
    channel = pb.Channel(key="x", tax=pb.Tax(rate=Decimal(1)))
    shop = book(channels=(channel,), policies=(nothing,))
    # 0.01 with 100 % tax in it: half a cent of tax is a cent, and nothing is left.
    gone = prepare_order(shop, [PAIR[0]]).at(spot())
    assert (gone.net, gone.margin_rate) == (0, None)
    # Nothing is left of each of two, and a cent of both: the tax is worked once.
    pair = prepare_order(shop, [PAIR[0], PAIR[0]]).at(spot())
    assert [line.price.sale.net for line in pair.lines] == [0, 0]
    assert pair.net == Decimal("0.01")


def test_quantity_breaks_count_the_pieces_of_the_whole_order():
    shop = book(policies=(replace(RETAIL, quantity_breaks=BREAKS),))
    three = prepare_order(shop, PAIR).at(spot())
    four = prepare_order(shop, (*PAIR, (silver_coin(), wish("8")))).at(spot())
    targets = [line.price.target_margin for line in three.lines]
    assert targets == [Decimal("0.35")] * 2
    targets = [line.price.target_margin for line in four.lines]
    assert targets == [Decimal("0.25")] * 3


# The same ring on two lines


def same_ring(seed, **parts):
    """An order of one line of an even quantity, and the same on two lines."""
    asked = random_order(seed, most=1)
    grid = pb.Rounding(step=100 * asked.book.currency.step)
    first = replace(asked.book.policies[0], rounding=grid, **parts)
    policies = (first, replace(asked.book.policies[1], rounding=grid, **parts))
    whole = replace(asked, book=replace(asked.book, policies=policies))
    half = asked.lines[0][1].quantity
    one = with_quantities(whole, [2 * half])
    two = with_quantities(replace(whole, lines=whole.lines * 2), [half, half])
    return one, two


@SEEDS
def test_a_ring_on_two_lines_costs_a_step_of_the_grid_more_or_less(seed):
    one, two = same_ring(seed)
    (single,), pair = order(one).lines, order(two).lines
    assert order(one).cost == order(two).cost
    assert order(one).bench_hours == order(two).bench_hours
    for line in pair:
        assert line.cost == single.cost
        apart = abs(line.price.sale.unit - single.price.sale.unit)
        assert apart <= one.book.policies[0].rounding.step
        assert line.price.target_margin == single.price.target_margin


@SEEDS
def test_a_ring_on_two_lines_costs_the_same_where_nothing_is_rounded(seed):
    one, two = same_ring(seed)
    step = one.book.currency.step
    plain = pb.Channel(
        key="shop",
        fees=(pb.Fee(label="stall", fixed=2 * seed * step),),
        shipping=pb.Shipping(charged=8 * step * seed, paid=6 * step * seed),
    )
    made = [
        order(replace(each, book=replace(each.book, channels=(plain,))))
        for each in (one, two)
    ]
    for name in ("goods", "shipping", "tax", "total", "net", "fees", "cost", "margin"):
        assert getattr(made[0], name) == getattr(made[1], name), name
    units = {line.price.sale.unit for each in made for line in each.lines}
    assert len(units) == 1
    assert made[0].margin_rate == made[1].margin_rate


# The order of the lines


def shuffled(asked, seed):
    """Where each line goes, and the order with its lines there."""
    places = list(range(len(asked.lines)))
    random.Random(seed).shuffle(places)  # noqa: S311 - repeatable, nothing secret
    return places, replace(asked, lines=tuple(asked.lines[i] for i in places))


@SEEDS
def test_lines_of_unlike_quantity_are_the_same_in_any_order(seed):
    asked = random_order(seed, least=2)
    asked = with_quantities(asked, [3 * i + 1 for i in range(len(asked.lines))])
    places, other = shuffled(asked, seed)
    before, after = order(asked), order(other)
    assert after.lines == tuple(before.lines[i] for i in places)
    for name in ("total", "tax", "net", "fees", "cost", "margin", "bench_hours"):
        assert getattr(after, name) == getattr(before, name), name
    assert coins(after) == coins(before)


def coins(made):
    return sum(need.coins for need in made.coins_to_start)


@SEEDS
def test_of_lines_of_like_quantity_only_the_odd_minor_unit_moves(seed):
    asked = random_order(seed, least=2)
    asked = with_quantities(asked, [2] * len(asked.lines))
    places, other = shuffled(asked, seed)
    before, after = order(asked), order(other)
    step = asked.book.currency.step
    for now, i in zip(after.lines, places, strict=True):
        then = before.lines[i]
        assert now.cost == then.cost
        for one, two in zip(parts_of(now), parts_of(then), strict=True):
            assert abs(one - two) <= step
    assert [line.channel for line in after.lines] == [
        line.channel for line in before.lines
    ]  # the share goes with the place
    assert (after.cost, after.shipping) == (before.cost, before.shipping)
    assert (after.bench_hours, coins(after)) == (before.bench_hours, coins(before))


def parts_of(line):
    shipping = line.channel.shipping
    return *(fee.fixed for fee in line.channel.fees), shipping.charged, shipping.paid


# Spots, markets and what is kept


def test_an_order_needs_a_spot_where_any_line_does():
    free = (base_coin(), wish("8"))
    shop = book(recovery=pb.Recovery())
    assert not prepare_order(shop, [free, free]).needs_spot
    assert prepare_order(shop, [free, *PAIR]).needs_spot
    assert prepare_order(shop, [free, free]).at(None).lines[0].spot is None


def test_every_line_knows_how_old_the_spot_is():
    old = Market(spot_hours=Decimal(50))
    for market, codes in ((old, {"spot_stale"}), (Market(), set())):
        made = prepare_order(book(), PAIR).at(spot(), market=market)
        for line in made.lines:
            found = {caution.code for caution in line.cautions}
            assert found & {"spot_stale"} == codes


def test_the_lines_of_an_order_asked_for_again_are_found():
    shop = book()
    first, again = prepare_order(shop, PAIR), prepare_order(shop, PAIR)
    assert all(a is b for a, b in zip(first.lines, again.lines, strict=True))


def test_the_arithmetic_of_the_caller_changes_nothing():
    shop, lines = book(), (*PAIR, (silver_coin(), wish("8")))
    usual = prepare_order(shop, lines).at(spot())
    with localcontext(Context(prec=5)):
        odd = prepare_order(book(), lines).at(spot())
    assert (odd.total, odd.margin_rate) == (usual.total, usual.margin_rate)
    assert odd.bench_hours == usual.bench_hours


# Refusals


def test_lines_of_two_channels_are_refused():
    shop = book(channels=(SHOP, FAIR))
    lines = (*PAIR, (DOLLAR, wish(channel="fair")))
    error = refusal(InvalidInput, lines, shop=shop)
    assert error.path == ("lines", 2, "channel")
    assert "one channel" in error.message
    named = (PAIR[0], (DOLLAR, wish(channel="shop")))
    assert prepare_order(shop, named).at(spot()).channel == SHOP


@pytest.mark.parametrize("count", [0, MOST_LINES + 1])
def test_too_few_and_too_many_lines_are_refused(count):
    error = refusal(InvalidInput, PAIR[:1] * count)
    assert error.path == ("lines",)
    assert "1 to 50" in error.message


def test_as_many_lines_as_allowed_are_priced():
    made = prepare_order(book(), PAIR[:1] * MOST_LINES).at(spot())
    assert (len(made.lines), made.pieces) == (50, 50)
    assert made.shipping == SHOP.shipping.charged


def test_more_pieces_in_all_than_one_line_may_have_are_refused():
    many = (DOLLAR, wish(quantity=500))
    assert prepare_order(book(), [many, many]).at(spot()).pieces == 1000
    error = refusal(InvalidInput, [many, many, PAIR[0]])
    assert error.path == ("lines",)
    assert "1001 pieces" in error.message


@pytest.mark.parametrize(
    ("line", "kind", "path"),
    [
        ((DOLLAR, wish(policy="none")), UnknownKey, ("policy",)),
        ((DOLLAR, wish(extras=("bow",))), UnknownKey, ("extras", 0)),
        ((DOLLAR, wish(hole_mm=Decimal(37))), NotMakeable, ()),
    ],
)
def test_what_is_wrong_with_a_line_is_told_with_its_place(line, kind, path):
    error = refusal(kind, [PAIR[0], line])
    assert type(error) is kind
    assert error.path == error.faults[0].path == ("lines", 1, *path)


def test_a_line_that_cannot_be_made_names_the_nearest_that_can():
    bad = (DOLLAR, wish(hole_mm=Decimal(37)))
    with pytest.raises(NotMakeable) as alone:
        estimate(book(), *bad[:1], spot(), bad[1])
    error = refusal(NotMakeable, [PAIR[0], bad])
    assert (error.reason, error.message) == (alone.value.reason, alone.value.message)
    assert error.nearest_hole_mm == alone.value.nearest_hole_mm


def test_a_line_that_no_price_can_meet_is_told_with_its_place():
    greedy = policy(target_margin="0.99")
    shop = book(policies=(RETAIL, greedy))
    error = refusal(
        NoPossiblePrice, [PAIR[0], (DOLLAR, wish(policy="only"))], shop=shop, at=spot()
    )
    assert (error.path, error.rule) == (("lines", 1), "target_margin")


def test_a_missing_spot_is_told_of_the_first_line_that_needs_one():
    shop = book(recovery=pb.Recovery())
    error = refusal(InvalidInput, [(base_coin(), wish("8")), PAIR[0]], shop=shop)
    assert error.path == ("lines", 1, "spot")
    assert "enter one" in error.message


# Lines whose price stands already


def test_a_line_is_sold_at_the_price_given_for_it_and_the_others_as_decided():
    ready = prepare_order(book(), PAIR)
    plain = ready.at(spot())
    made = ready.at(spot(), unit_prices={1: Decimal("123.45")})
    assert made.lines[0] == plain.lines[0]
    assert made.lines[1].price.bound_by == "given"
    assert made.goods == plain.lines[0].price.sale.total + 2 * Decimal("123.45")
    assert made.cost == plain.cost


def test_a_price_that_cannot_be_given_is_told_of_its_line():
    ready = prepare_order(book(), PAIR)
    with pytest.raises(InvalidInput) as refused:
        ready.at(spot(), unit_prices={1: Decimal("0.001")})
    assert refused.value.path == ("lines", 1, "unit")
