from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing import price_book as pb
from pricing.money import arithmetic, currency
from pricing.order import MOST_LINES, prepare_order
from pricing.order_sale import sale_of_lines
from pricing.order_shares import shared_channels
from pricing.price import decide_price
from pricing.sale import CostFigures, SaleTerms
from tests.oracles.one_price import least_margin, least_net, margin_and_net, taxed
from tests.oracles.random_orders import random_order
from tests.oracles.workshops import base_coin, book, policy, stage, wish
from tests.strategies.sales import MINOR, channels, money, policies

SEEDS = pytest.mark.parametrize("seed", range(120))


def order(asked):
    return prepare_order(asked.book, asked.lines).at(asked.spot)


def as_one_piece(lines, channel, unit):
    """Terms and cost of a single piece that costs what all the lines cost."""
    counts = [(line.cost.figures, line.wish.quantity) for line in lines]
    kinds = {kind for figures, _ in counts for kind in figures.by_kind}
    cost = CostFigures(
        per_piece=sum(each.per_piece * n for each, n in counts),
        labour=sum(each.labour * n for each, n in counts),
        attended_minutes=sum(each.attended_minutes * n for each, n in counts),
        by_kind={
            kind: sum(each.by_kind.get(kind, Decimal(0)) * n for each, n in counts)
            for kind in kinds
        },
    )
    return SaleTerms(channel=channel, currency=unit), cost


# The whole order


@SEEDS
def test_an_order_is_charged_as_a_single_piece_at_its_goods_price(seed):
    asked = random_order(seed, least=2)
    made = order(asked)
    terms, cost = as_one_piece(made.lines, made.channel, made.currency)
    margin, net = margin_and_net(made.goods, terms, cost)
    assert (made.margin, made.net, made.cost) == (margin, net, cost.per_piece)
    kept = margin + Fraction(cost.per_piece + made.channel.shipping.paid)
    assert made.fees == net + Fraction(made.sale.shipping_net) - kept
    assert made.sale.unit == made.sale.total == made.goods
    rate = Fraction(made.margin) / Fraction(made.net)
    assert abs(Fraction(made.margin_rate) - rate) <= Fraction(1, 20000)
    hourly = Fraction(made.margin + cost.labour) * 60 / Fraction(cost.attended_minutes)
    assert abs(Fraction(made.sale.hourly) - hourly) <= Fraction(made.currency.step) / 2


@SEEDS
def test_the_tax_of_an_order_is_its_rate_on_goods_and_on_shipping(seed):
    asked = random_order(seed, least=2)
    made = order(asked)
    tax, step = made.channel.tax, Fraction(made.currency.step)
    parts = [taxed(Fraction(x), tax, step)[1] for x in (made.goods, made.shipping)]
    assert [made.sale.tax, made.sale.shipping_tax] == parts
    assert made.tax == sum(parts)
    shown = Fraction(made.goods + made.shipping)
    exact = shown * Fraction(tax.rate) / (1 + Fraction(tax.rate) * tax.inclusive)
    assert abs(Fraction(made.tax) - exact) <= step
    # Without shipping it is the rate on the total, rounded once.
    free = replace(made.channel, shipping=pb.Shipping())
    (_, only) = taxed(Fraction(made.goods), tax, step)
    with arithmetic():
        assert sale_of_lines(made.lines, free).tax_total == only


@pytest.mark.parametrize(
    ("code", "price"), [("JPY", "15"), ("EUR", "0.15"), ("KWD", "0.015")]
)
@pytest.mark.parametrize(
    ("inclusive", "tax", "one_by_one"),
    [
        (True, 4, 3),  # 45 ÷ 11 = 4.09, and 15 ÷ 11 = 1.36 three times
        (False, 5, 6),  # 45 ÷ 10 = 4.5, and 15 ÷ 10 = 1.5 three times
    ],
)
def test_the_tax_of_an_order_is_rounded_once(code, price, inclusive, tax, one_by_one):
    made = three_at(price, code, pb.Tax(rate=Decimal("0.10"), inclusive=inclusive))
    step = made.currency.step
    assert made.tax == tax * step
    assert sum(line.price.sale.tax for line in made.lines) == one_by_one * step
    assert made.total == (45 if inclusive else 45 + tax) * step
    assert made.net == (45 - tax if inclusive else 45) * step


def three_at(price, code, tax, fees=()):
    return prepare_order(
        book(
            currency=currency(code),
            recovery=pb.Recovery(),
            channels=(pb.Channel(key="shop", tax=tax, fees=fees),),
            policies=(policy(min_price=price),),
        ),
        [(base_coin(), wish())] * 3,
    ).at(None)


def test_a_fee_on_an_order_is_rounded_once_on_the_whole_with_its_arithmetic():
    card = pb.Fee(label="card", rate=Decimal("0.02"), fixed=Decimal("0.25"))
    made = three_at("10.30", "EUR", pb.Tax(), (card,))
    (fee,) = made.sale.fees
    # 30.90 × 2 % = 0.618; a line's 10.30 × 2 % = 0.206 and 0.09, 0.08, 0.08
    assert (fee.amount, fee.how) == (Decimal("0.87"), "2 % × 30.90 + 0.25")
    parts = [line.price.sale.fees_total for line in made.lines]
    assert parts == [Decimal("0.30"), Decimal("0.29"), Decimal("0.29")]


# The whole and its lines: at most half a minor unit for each rounding


@st.composite
def sets(draw):
    """Lines that each meet one policy, as far as the sale of a set asks for them."""
    code = draw(st.sampled_from(sorted(MINOR)))
    unit, channel = currency(code), draw(channels(code))
    finer = draw(st.integers(0, 9)) * unit.step / 10
    fees = tuple(replace(fee, fixed=fee.fixed + finer) for fee in channel.fees)
    channel, rules = replace(channel, fees=fees), draw(policies(code))
    pieces = draw(st.lists(st.integers(1, 3), min_size=1, max_size=8))
    costs = [draw(figures(code)) for _ in pieces]
    with arithmetic():
        shares = [channel]
        if len(pieces) > 1:
            shares = shared_channels(channel, pieces, currency=unit)
        lines = []
        for cost, count, share in zip(costs, pieces, shares, strict=True):
            terms = SaleTerms(
                channel=share,
                currency=unit,
                quantity=count,
                order_pieces=sum(pieces),
            )
            lines.append(
                SimpleNamespace(
                    price=decide_price(rules, terms=terms, cost=cost),
                    cost=SimpleNamespace(figures=cost),
                    wish=SimpleNamespace(quantity=count),
                    currency=unit,
                )
            )
        return rules, channel, lines


@st.composite
def figures(draw, code):
    coin, labour = draw(money(code, 900)), draw(money(code, 300))
    return CostFigures(
        per_piece=coin + labour,
        labour=labour,
        attended_minutes=draw(st.integers(0, 6000)) * Decimal("0.01"),
        by_kind={"coin": coin, "labour": labour},
    )


def most_apart(lines, channel):
    """How far nets and margins may be from the order's [currency]."""
    if len(lines) == 1:
        return Fraction(0), Fraction(0)
    half, more, fees = (
        Fraction(lines[0].currency.step) / 2,
        len(lines) + 1,
        channel.fees,
    )
    return more * half, (more * (2 + len(fees)) + len(fees)) * half


@given(sets())
def test_lines_add_up_to_the_order_but_for_half_a_unit_each_rounding(drawn):
    _, channel, lines = drawn
    one, all_of_them = most_apart(lines, channel)
    sales = [line.price.sale for line in lines]
    with arithmetic():
        whole = sale_of_lines(lines, channel)

    def apart(name):
        return abs(sum(getattr(each, name) for each in sales) - getattr(whole, name))

    for name in ("total", "cost", "shipping_charged", "shipping_paid"):
        assert apart(name) == 0, name
    for name in ("tax", "shipping_tax", "net", "shipping_net"):
        assert apart(name) <= one, name
    assert apart("margin") <= all_of_them


@given(sets())
def test_an_order_misses_what_its_lines_meet_by_no_more_than_that(drawn):
    rules, channel, lines = drawn
    one, all_of_them = most_apart(lines, channel)
    target = lines[0].price.target_margin
    rules = replace(rules, target_margin=target, quantity_breaks=())
    with arithmetic():
        whole = sale_of_lines(lines, channel)
        terms, cost = as_one_piece(lines, channel, lines[0].currency)
    net, margin = Fraction(whole.net), Fraction(whole.margin)
    for name, least in least_net(rules, terms, cost):
        assert net >= least - one, name
    for name, least in least_margin(rules, terms, cost, net=net):
        assert margin >= least - all_of_them, name
    pieces = sum(line.wish.quantity for line in lines)
    assert whole.total >= pieces * (rules.min_price or 0)


def test_a_tax_comes_within_half_a_minor_unit_of_the_most_it_can_be_off():
    channel = pb.Channel(key="shop", tax=pb.Tax(rate=Decimal("0.20")))
    shop = book(
        recovery=pb.Recovery(),
        channels=(channel,),
        policies=(policy(min_price="0.03"),),
    )
    made = prepare_order(shop, [(base_coin(), wish())] * MOST_LINES).at(None)
    # 0.03 ÷ 6 = 0.005, a cent of each line; 1.50 ÷ 6 = 0.25
    taxes = sum(line.price.sale.tax for line in made.lines)
    assert (made.tax, taxes) == (Decimal("0.25"), Decimal("0.50"))
    assert most_apart(made.lines, channel)[0] == Fraction("0.255")


def test_a_pair_can_be_a_cent_short_of_a_margin_that_each_ring_has():
    shop = book(
        labour=pb.Labour(rate_per_hour=Decimal(0)),
        stages=(stage("punch", minutes="1", removes="slug"),),
        recovery=pb.Recovery(),
        coin_buying=pb.CoinBuying(),
        channels=(pb.Channel(key="shop", tax=pb.Tax(rate=Decimal("0.20"))),),
        policies=(policy(target_margin="0.50"),),
    )
    coin = base_coin(paid=Decimal("5.01"))
    made = prepare_order(shop, [(coin, wish())] * 2).at(None)
    for line in made.lines:
        # 12.02 ÷ 6 = 2.003: net 10.02, half of it is left after 5.01
        sale = line.price.sale
        assert (sale.unit, sale.net) == (Decimal("12.02"), Decimal("10.02"))
        assert sale.margin == Decimal("5.01")
        assert sale.keeps(Decimal("0.50"))
    # 24.04 ÷ 6 = 4.007: net 20.03, of which 10.02 is spent
    assert (made.net, made.margin) == (Decimal("20.03"), Decimal("10.01"))
    assert not made.sale.keeps(Decimal("0.50"))
