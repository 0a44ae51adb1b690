"""A wedding pair worked by hand: our own arithmetic, by the published rule for tax.

Two rings of different coins, one of each, are sold together through one shop.
Every figure below is worked out in the comment beside it. Tax of 20 % within a
price is a sixth of it (J3: Accounting Services for Business, VAT rates and
fractions).
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from pricing import price_book as pb
from pricing.order import prepare_order
from tests.oracles.workshops import base_coin, book, rate, silver_coin, stage, wish

# P = 1 − 0.20 = 0.80. For a good ring 12 ÷ 0.80 = 15 min at the punch and 18 min
# at the bore, since only what was punched well is bored: 33 min × 30 ÷ 60 = 16.50.
ROUTE = (
    stage("punch", minutes="12", removes="slug", scrap=rate("0.20")),
    stage("bore", minutes="18", removes="bore"),
)
SHOP = pb.Channel(
    key="shop",
    tax=pb.Tax(rate=Decimal("0.20")),
    fees=(pb.Fee(label="card", rate=Decimal("0.02"), fixed=Decimal("0.25")),),
    shipping=pb.Shipping(charged=Decimal("6.90"), paid=Decimal("5.40")),
    packaging=Decimal("1.80"),
)
RETAIL = pb.Policy(
    key="retail",
    target_margin=Decimal("0.35"),
    quantity_breaks=(pb.QuantityBreak(from_quantity=2, target_margin=Decimal("0.30")),),
    rounding=pb.Rounding(step=Decimal(1), offset=Decimal("-0.10")),
)
HERS = base_coin(paid=Decimal("4.00"))
HIS = silver_coin(basis="paid", paid=Decimal("8.00"))


@pytest.fixture(scope="module")
def pair():
    shop = book(
        labour=pb.Labour(rate_per_hour=Decimal(30)),
        stages=ROUTE,
        recovery=pb.Recovery(),
        coin_buying=pb.CoinBuying(),
        channels=(SHOP,),
        policies=(RETAIL,),
    )
    return prepare_order(shop, ((HERS, wish("7")), (HIS, wish("10")))).at(None)


def test_fixed_fee_and_shipping_are_halved(pair):
    hers, his = (line.channel for line in pair.lines)
    # 0.25 ÷ 2 = 0.125: the first of equals has the odd cent
    assert (hers.fees[0].fixed, his.fees[0].fixed) == (Decimal("0.13"), Decimal("0.12"))
    # 6.90 ÷ 2 and 5.40 ÷ 2
    for share in (hers.shipping, his.shipping):
        assert (share.charged, share.paid) == (Decimal("3.45"), Decimal("2.70"))
    assert pair.channel == SHOP


def test_each_ring_has_the_price_of_two_in_an_order(pair):
    hers, his = (line.price for line in pair.lines)
    assert hers.target_margin == his.target_margin == Decimal("0.30")
    # Shipping: 3.45 × 20 ÷ 120 = 0.575, so tax 0.58 and net 2.87.
    # Hers: coin 4 ÷ 0.80 = 5.00, labour 16.50, packaging 1.80: cost 23.30.
    #   40.90: tax 6.82, net 34.08, fees 2 % × 44.35 + 0.13 = 1.02
    #     margin 34.08 + 2.87 − 1.02 − 23.30 − 2.70 =  9.93 < 30 % of net = 10.22
    #   41.90: tax 6.98, net 34.92, fees 2 % × 45.35 + 0.13 = 1.04
    #     margin 34.92 + 2.87 − 1.04 − 23.30 − 2.70 = 10.75 ≥ 30 % of net = 10.48
    sale = hers.sale
    assert (sale.unit, sale.cost) == (Decimal("41.90"), Decimal("23.30"))
    assert (sale.tax, sale.shipping_tax) == (Decimal("6.98"), Decimal("0.58"))
    assert (sale.fees_total, sale.margin) == (Decimal("1.04"), Decimal("10.75"))
    # His: coin 8 ÷ 0.80 = 10.00, labour 16.50, packaging 1.80: cost 28.30.
    #   49.90: tax 8.32, net 41.58, fees 2 % × 53.35 + 0.12 = 1.19
    #     margin 41.58 + 2.87 − 1.19 − 28.30 − 2.70 = 12.26 < 30 % of net = 12.47
    #   50.90: tax 8.48, net 42.42, fees 2 % × 54.35 + 0.12 = 1.21
    #     margin 42.42 + 2.87 − 1.21 − 28.30 − 2.70 = 13.08 ≥ 30 % of net = 12.73
    sale = his.sale
    assert (sale.unit, sale.cost) == (Decimal("50.90"), Decimal("28.30"))
    assert (sale.tax, sale.shipping_tax) == (Decimal("8.48"), Decimal("0.58"))
    assert (sale.fees_total, sale.margin) == (Decimal("1.21"), Decimal("13.08"))


def test_the_pair_is_charged_as_one(pair):
    assert pair.pieces == 2
    assert pair.goods == Decimal("92.80")  # 41.90 + 50.90
    assert pair.shipping == Decimal("6.90")
    assert pair.total == Decimal("99.70")  # 92.80 + 6.90, the tax is in them
    # 92.80 ÷ 6 = 15.467 and 6.90 ÷ 6 = 1.15, as 99.70 ÷ 6 = 16.617
    assert (pair.sale.tax, pair.sale.shipping_tax) == (
        Decimal("15.47"),
        Decimal("1.15"),
    )
    assert pair.tax == Decimal("16.62")
    assert pair.net == Decimal("77.33")  # 92.80 − 15.47
    assert pair.fees == Decimal("2.24")  # 2 % × 99.70 + 0.25 = 2.244
    assert pair.cost == Decimal("51.60")  # 23.30 + 28.30
    # 77.33 + 5.75 − 2.24 − 51.60 − 5.40
    assert pair.margin == Decimal("23.84")
    assert pair.margin_rate == Decimal("0.3083")  # 23.84 ÷ 77.33 = 0.30829
    assert pair.bench_hours == Decimal("1.10")  # 2 × 33 ÷ 60


def test_the_rings_add_up_to_the_pair_but_for_a_cent(pair):
    sales = [line.price.sale for line in pair.lines]
    # 6.98 + 0.58 + 8.48 + 0.58, as the pair
    assert sum(sale.tax_total for sale in sales) == pair.tax
    # 34.92 + 42.42, a cent over; 1.04 + 1.21, a cent over; 10.75 + 13.08, one under
    assert sum(sale.net for sale in sales) == Decimal("77.34")
    assert sum(sale.fees_total for sale in sales) == Decimal("2.25")
    assert sum(sale.margin for sale in sales) == Decimal("23.83")


def test_a_pair_takes_a_coin_more_than_two_rings_alone(pair):
    # One good of 2 started: 1 − 0.2² = 0.96 ≥ 0.95, so each ring alone takes 2.
    assert [line.coins_to_start for line in pair.lines] == [2, 2]
    # Both good of 2 and 2: 0.96² = 0.9216 < 0.95. Of 3 and 2: 0.992 × 0.96 =
    # 0.95232 ≥ 0.95.
    assert [need.coins for need in pair.coins_to_start] == [3, 2]
    assert [need.coin for need in pair.coins_to_start] == [HERS, HIS]
    assert pair.confidence == Decimal("0.95")
