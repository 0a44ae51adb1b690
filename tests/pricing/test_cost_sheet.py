from dataclasses import replace
from decimal import Decimal

import pytest

from pricing import price_book as pb
from pricing.estimate import prepare
from pricing.money import currency
from pricing.spoilage import cost_per_good_piece
from pricing.wish import OwnCoin
from tests.oracles.workshops import (
    DOLLAR,
    SHOP,
    book,
    rate,
    silver_coin,
    spot,
    stage,
    wish,
)

EXCHANGES = pb.AfterSale(rate=Decimal("0.05"), share=Decimal("0.60"))
BOX = pb.Extra(key="box", price_cost=Decimal("2.20"), minutes=Decimal(6))
FIXED = pb.CoinBuying(basis="paid", paid=Decimal(20))
NO_PACKAGING = replace(SHOP, packaging=Decimal(0))


def sheet(*, at="27.50", coin=DOLLAR, asked=None, **parts):
    return prepare(book(**parts), coin, asked or wish()).cost_at(at and spot(at))


def kinds(found):
    return [line.kind for line in found.lines]


def one(found, kind):
    return next(line for line in found.lines if line.kind == kind)


def test_lines_come_in_the_order_a_cost_sheet_shows_them():
    tools = (pb.Tool(key="cone", price=Decimal(100), life_uses=100),)
    tape = (pb.Consumable(key="tape", unit="m", price=Decimal("0.50")),)
    use = pb.ConsumableUse(key="tape", quantity=Decimal(1))
    stages = (
        stage(
            "punch",
            minutes="4",
            removes="slug",
            scrap=rate("0.1"),
            consumables=(use,),
            tools=("cone",),
        ),
        stage("bore", minutes="4", removes="bore"),
    )
    found = sheet(
        asked=wish(extras=("box",)),
        extras=(BOX,),
        after_sale=EXCHANGES,
        tools=tools,
        consumables=tape,
        stages=stages,
    )
    assert list(dict.fromkeys(kinds(found))) == list(pb.LINE_KINDS)


def test_lines_add_up_to_the_cost_of_a_piece():
    found = sheet(after_sale=EXCHANGES, extras=(BOX,), asked=wish(extras=("box",)))
    assert sum(line.amount for line in found.lines) == found.per_piece
    assert sum(found.by_kind.values()) == found.per_piece
    assert found.figures.by_kind == found.by_kind
    assert abs(found.per_piece - found.exact.at(Decimal("27.50"))) <= Decimal("0.005")


def test_recovery_lines_of_one_kind_are_summed_by_kind():
    found = sheet()
    assert kinds(found).count("recovery") == 3
    parts = [line.amount for line in found.lines if line.kind == "recovery"]
    assert found.by_kind["recovery"] == sum(parts) < 0


def test_a_good_piece_costs_a_start_less_recovery_over_the_chance_it_ends_good():
    ready = prepare(book(channels=(NO_PACKAGING,)), DOLLAR, wish())
    found = ready.cost_at(spot())
    per_good = cost_per_good_piece(
        found.per_start,
        found.recovery_per_start,
        chance_good=ready.sheet.ingredients.spoilage.chance_good,
    )
    # both parts of the quotient are rounded to a cent
    assert abs(per_good - found.per_piece) <= Decimal("0.02")


def test_extras_and_packaging_are_paid_once_for_each_good_piece():
    plain = sheet(channels=(NO_PACKAGING,))
    dear = sheet(extras=(BOX,), asked=wish(extras=("box",)))
    # 2.20 + 6 min at 39.50 an hour; packaging 1.80
    added = dear.exact.base - plain.exact.base
    assert added == pytest.approx(
        Decimal("6.15") + Decimal("1.80"), rel=Decimal("1e-9")
    )
    assert dear.labour - plain.labour == 3
    assert dear.attended_minutes - plain.attended_minutes == 6
    assert one(dear, "packaging").amount == Decimal("1.80")
    assert "packaging" not in kinds(plain)


def test_exchanges_cost_their_share_of_all_else():
    before, after = sheet(), sheet(after_sale=EXCHANGES)
    factor = Decimal("1.03")
    for price in (Decimal(0), Decimal("27.50"), Decimal(60)):
        assert after.exact.at(price) == pytest.approx(
            before.exact.at(price) * factor, rel=Decimal("1e-20")
        )
    assert "after_sale" not in kinds(before)
    how = one(after, "after_sale").how
    assert how.startswith("5 % exchanged × 60 % of ")


def test_slope_is_what_one_unit_of_spot_adds():
    found = sheet()
    rise = sheet(at="28.50").exact.at(Decimal("28.50")) - found.exact.at(
        Decimal("27.50")
    )
    assert found.slope_per_spot == pytest.approx(rise, abs=Decimal("0.0001"))


def test_slope_is_negative_where_scrap_is_sold_at_spot_and_the_coin_was_not():
    assert sheet(coin_buying=FIXED).slope_per_spot < 0


def test_cost_has_one_kink_where_the_greater_of_both_turns():
    found = sheet(
        coin_buying=pb.CoinBuying(basis="greater_of", paid=Decimal(20)), at="10"
    )
    # a dollar holds 0.7735 ozt: melt passes 20 at 25.86
    assert found.exact.kink == pytest.approx(Decimal("25.86"), abs=Decimal("0.01"))
    assert found.exact.slope < 0 < found.exact.slope_above


def test_a_spot_between_two_sheets_is_worked_from_the_same_lines():
    ready = prepare(book(), DOLLAR, wish())
    for price in ("12.34", "27.50", "80"):
        assert (
            ready.sheet.per_piece_at(Decimal(price))
            == ready.cost_at(spot(price)).per_piece
        )


def test_waiting_is_shown_and_not_paid():
    slow = (stage("punch", minutes="4", unattended_minutes="90", removes="slug"),)
    found = sheet(stages=slow)
    assert (found.attended_minutes, found.unattended_minutes) == (4, 90)
    assert found.labour == 2


def test_an_own_coin_costs_nothing_but_the_compensation_for_a_lost_one():
    stages = (stage("punch", minutes="60", removes="slug", scrap=rate("0.2")),)
    asked = wish(own_coin=OwnCoin(compensation=Decimal(40)))
    found = sheet(at=None, asked=asked, stages=stages, channels=(NO_PACKAGING,))
    # P = 0.8: 0.25 coins are lost for a good one
    assert one(found, "coin").amount == 10
    assert one(found, "coin").how == "0.2500 coins lost × 40"
    assert "recovery" not in kinds(found)
    # 60 min ÷ 0.8 = 75 min at 39.50 an hour
    assert found.per_piece == 10 + Decimal("37.50") + Decimal("11.88")


def test_the_arithmetic_of_the_coin_and_of_recovery_can_be_followed():
    found = sheet(coin=silver_coin(wear=Decimal(0)))
    how = one(found, "coin").how
    assert how.startswith("14.58 g × 0.900 ÷ 31.1035 = 0.4219 ozt × 27.50 + 12 %")
    assert "coins for a good ring" in how
    assert "coins for a good ring" in one(found, "recovery").how


def test_an_amount_that_spot_could_move_is_worked_at_nothing_without_one():
    ready = prepare(book(), DOLLAR, wish())
    found = ready.sheet.at(None)
    assert found.by_kind["recovery"] == 0
    assert "÷" not in one(found, "recovery").how


def test_a_currency_without_decimals_is_presented_in_whole_units():
    ready = prepare(
        book(currency=currency("JPY"), channels=(NO_PACKAGING,)), DOLLAR, wish()
    )
    found = ready.cost_at(spot("4100", "JPY"))
    assert all(line.amount % 1 == 0 for line in found.lines)
    assert found.per_piece % 1 == 0
