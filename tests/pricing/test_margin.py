from dataclasses import replace
from decimal import Decimal

import pytest

from pricing import price_book as pb
from pricing.estimate import estimate, prepare
from pricing.margin import BreakEven, margin_on_paid
from pricing.wish import OwnCoin
from tests.oracles.workshops import (
    DOLLAR,
    base_coin,
    book,
    policy,
    rate,
    silver_coin,
    spot,
    stage,
    wish,
)

FIXED = pb.CoinBuying(basis="paid", paid=Decimal(20))
GREATER = pb.CoinBuying(basis="greater_of", paid=Decimal(20))
FLOORED = policy(target_margin="0.35", floor_margin="0.20")
CENT = Decimal("0.01")


def margin_at(ready, made, price):
    """The order's margin if its cost were that of another spot, all rounded."""
    cost = ready.sheet.per_piece_at(price) * made.wish.quantity
    return made.price.sale.margin + made.price.sale.cost - cost


def check(ready, made, price, level):
    """At this spot the margin is ``level`` of net.

    The cost of a piece is presented to the cent there as well, so it may be half a
    cent off the line, and the order's margin that times its pieces.
    """
    off = margin_at(ready, made, price) - level * made.price.sale.net
    assert abs(off) <= made.wish.quantity * CENT / 2


def priced(*, coin=DOLLAR, at="27.50", asked=None, **parts):
    ready = prepare(book(**{"policies": (FLOORED,), **parts}), coin, asked or wish())
    return ready, ready.at(at and spot(at))


@pytest.mark.parametrize("quantity", [1, 7])
def test_a_coin_at_melt_eats_the_margin_as_spot_rises(quantity):
    ready, made = priced(asked=wish(quantity=quantity))
    found = made.break_even
    assert Decimal("27.50") < found.spot_at_floor < found.spot_at_zero
    assert (found.spot_at_floor_below, found.spot_at_zero_below) == (None, None)
    check(ready, made, found.spot_at_floor, Decimal("0.20"))
    check(ready, made, found.spot_at_zero, 0)


def test_a_coin_at_a_fixed_price_loses_its_scrap_as_spot_falls():
    slim = policy(target_margin="0.03", floor_margin="0.01")
    ready, made = priced(coin_buying=FIXED, policies=(slim,))
    found = made.break_even
    assert (found.spot_at_floor, found.spot_at_zero) == (None, None)
    assert 0 < found.spot_at_zero_below < found.spot_at_floor_below < Decimal("27.50")
    check(ready, made, found.spot_at_floor_below, Decimal("0.01"))
    check(ready, made, found.spot_at_zero_below, 0)


def test_at_the_greater_of_both_the_margin_falls_on_either_side_of_the_kink():
    slim = policy(target_margin="0.03", floor_margin="0.01")
    ready, made = priced(coin_buying=GREATER, policies=(slim,), at="25.80")
    found = made.break_even
    sides = (found.spot_at_floor_below, found.spot_at_floor)
    assert found.spot_at_zero_below < sides[0] < Decimal("25.80") < sides[1]
    assert sides[1] < found.spot_at_zero
    for price in sides:
        check(ready, made, price, Decimal("0.01"))
    for price in (found.spot_at_zero_below, found.spot_at_zero):
        check(ready, made, price, 0)


def test_no_lower_spot_takes_a_margin_that_scrap_hardly_carries():
    _, made = priced(coin_buying=FIXED)
    assert made.break_even == BreakEven()


def test_a_price_that_loses_money_breaks_even_only_where_silver_is_cheaper():
    low = policy(min_price="45.00", floor_margin="0.10")
    ready, made = priced(policies=(low,))
    found = made.break_even
    assert made.price.sale.margin < 0
    assert (found.spot_at_floor, found.spot_at_zero) == (None, None)
    assert found.spot_at_floor_below < found.spot_at_zero_below < Decimal("27.50")
    check(ready, made, found.spot_at_zero_below, 0)
    check(ready, made, found.spot_at_floor_below, Decimal("0.10"))


@pytest.mark.parametrize(
    ("coin", "asked"),
    [(base_coin(), wish("8")), (DOLLAR, wish(own_coin=OwnCoin()))],
)
def test_what_spot_does_not_touch_has_no_break_even(coin, asked):
    for at in (None, "27.50"):
        _, made = priced(coin=coin, asked=asked, at=at)
        assert made.break_even == BreakEven()


EXCHANGES = pb.AfterSale(rate=Decimal("0.10"), share=Decimal("0.60"))
SURE = (stage("punch", minutes="60", removes="slug", scrap=rate("0.2")),)
PLAIN = pb.Channel(key="plain")


def on_paid(paid="12.00", **parts):
    asked = wish("8", quantity=parts.pop("quantity", 1), coin_paid=Decimal(paid))
    whole = {"channels": (PLAIN,), "stages": SURE, **parts}
    _, made = priced(coin=silver_coin(), asked=asked, **whole)
    return made


@pytest.mark.parametrize("quantity", [1, 3])
def test_margin_on_paid_is_that_of_the_same_order_with_coins_at_what_was_paid(quantity):
    made = on_paid(quantity=quantity, after_sale=EXCHANGES)
    paid = pb.CoinBuying(basis="paid", paid=Decimal(12), wear=Decimal("0.01"))
    same = estimate(
        book(
            channels=(PLAIN,),
            stages=SURE,
            coin_buying=paid,
            after_sale=EXCHANGES,
        ),
        silver_coin(),
        spot(),
        wish("8", quantity=quantity),
    )
    sale = made.price.sale
    assert made.on_paid.margin == sale.margin + sale.cost - same.price.sale.cost
    assert made.on_paid.margin_rate == pytest.approx(
        made.on_paid.margin / sale.net, abs=Decimal("0.00005")
    )


def test_a_coin_bought_at_replacement_cost_has_the_margin_of_the_price():
    made = on_paid(coin_buying=FIXED, paid="20")
    assert made.on_paid.margin == made.price.sale.margin
    assert made.on_paid.margin_rate == made.price.sale.margin_rate
    assert made.on_paid.paid == 20


def test_a_cheaper_coin_than_the_next_one_has_a_better_margin():
    # P = 0.8: each good ring used 1.25 coins
    dear, cheap = on_paid("20"), on_paid("12")
    assert cheap.on_paid.margin - dear.on_paid.margin == 10


def test_margin_on_paid_is_there_only_when_something_was_paid():
    assert priced()[1].on_paid is None
    own = wish(own_coin=OwnCoin(), coin_paid=Decimal(9))
    assert priced(asked=own)[1].on_paid is None


def test_margin_on_paid_needs_no_spot_where_the_cost_does_not():
    _, made = priced(
        coin=base_coin(), at=None, asked=wish("8", coin_paid=Decimal("0.50"))
    )
    assert made.on_paid.margin > made.price.sale.margin


def test_a_price_with_no_net_has_no_margin_rate():
    made = on_paid()
    ready = prepare(book(), silver_coin(), wish("8", coin_paid=Decimal(12)))
    nothing = replace(made.price.sale, net=Decimal(0))
    found = margin_on_paid(ready.sheet, nothing, ready.wish, spot=spot())
    assert found.margin_rate is None
