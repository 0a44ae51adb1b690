from decimal import Decimal

import pytest

from pricing import price_book as pb
from pricing.estimate import estimate, prepare
from pricing.order_risk import attempt_costs
from pricing.wish import OwnCoin
from tests.oracles.recovery import expected_recovery
from tests.oracles.workshops import DOLLAR, base_coin, book, spot, wish

RISK = frozenset({"risk"})
EXCHANGES = pb.AfterSale(rate=Decimal("0.05"), share=Decimal("0.60"))
BOX = pb.Extra(key="box", price_cost=Decimal("2.20"), minutes=Decimal(6))
SHOP = book(after_sale=EXCHANGES, extras=(BOX,))


def simulated(*, coin=DOLLAR, at="27.50", **asked):
    return estimate(
        SHOP, coin, at and spot(at), wish("8", include=RISK, extras=("box",), **asked)
    )


def close(risk, expected):
    """Within 3 standard errors and the cent its mean is shown at."""
    allowed = 3 * risk.standard_error + Decimal("0.005")
    assert abs(risk.mean - expected) <= allowed


@pytest.mark.parametrize("quantity", [1, 4])
def test_mean_is_the_cost_of_the_order(quantity):
    made = simulated(quantity=quantity)
    exact = made.cost.exact.at(made.spot.price)
    assert made.risk.standard_error > 0
    close(made.risk, quantity * exact)


def test_mean_is_the_cost_for_base_metal_without_a_spot():
    made = simulated(coin=base_coin(), at=None, quantity=2)
    close(made.risk, 2 * made.cost.exact.base)


def test_own_coins_are_tried_once_each():
    made = simulated(own_coin=OwnCoin(compensation=Decimal(40)), quantity=3)
    parts = prepare(SHOP, DOLLAR, made.wish)
    costs = attempt_costs(parts.sheet, parts.forming, spot=spot())
    visits = [stage.visits for stage in made.spoilage.stages]
    good = made.spoilage.chance_good
    bench = sum(v * cost for v, cost in zip(visits, costs.visits, strict=True))
    close(made.risk, 3 * (bench + (1 - good) * 40 + good * costs.per_good))
    assert made.risk.mean_attempts == 3


def test_what_an_attempt_costs_and_returns_is_what_the_cost_sheet_says():
    ready = prepare(SHOP, DOLLAR, wish("8", extras=("box",)))
    costs = attempt_costs(ready.sheet, ready.forming, spot=spot())
    found = ready.cost_at(spot())
    chain = ready.sheet.ingredients.spoilage
    bench = sum(
        stage.visits * cost
        for stage, cost in zip(chain.stages, costs.visits, strict=True)
    )
    assert costs.start + bench == pytest.approx(found.per_start, abs=Decimal("0.01"))
    back = expected_recovery(
        chain,
        mass_g=costs.mass_g,
        removed_g=costs.removed_g,
        removal_credit=costs.removal_credit,
        scrap_credit_per_g=costs.scrap_credit_per_g,
    )
    assert back == pytest.approx(found.recovery_per_start, abs=Decimal("0.005"))
    per_piece = (costs.start + bench - back) / chain.chance_good + costs.per_good
    assert per_piece == pytest.approx(found.per_piece, abs=Decimal("0.006"))


def test_own_coins_bring_nothing_back_and_owe_a_compensation():
    asked = wish(own_coin=OwnCoin(compensation=Decimal(40)))
    ready = prepare(SHOP, DOLLAR, asked)
    costs = attempt_costs(ready.sheet, ready.forming, spot=spot())
    assert costs.start == costs.scrap_credit_per_g == sum(costs.removal_credit) == 0
    assert costs.compensation == 40


def test_bought_coins_are_replaced_and_owe_none():
    ready = prepare(SHOP, DOLLAR, wish())
    costs = attempt_costs(ready.sheet, ready.forming, spot=spot())
    assert costs.compensation is None
    assert costs.start > 0


def test_without_a_spot_scrap_is_worth_nothing():
    ready = prepare(SHOP, base_coin(), wish("8"))
    costs = attempt_costs(ready.sheet, ready.forming, spot=None)
    assert costs.start == Decimal("1.50")
    assert costs.scrap_credit_per_g == 0


def test_same_wish_same_numbers_in_the_currencys_smallest_unit():
    made = simulated(quantity=2)
    assert simulated(quantity=2).risk == made.risk
    risk = made.risk
    assert risk.low <= risk.median <= risk.high
    for figure in (risk.low, risk.median, risk.high, risk.mean):
        assert figure.as_tuple().exponent == -2


def test_an_order_priced_with_a_margin_loses_money_more_seldom_than_one_without():
    def losing(target):
        shop = book(policies=(pb.Policy(key="only", target_margin=Decimal(target)),))
        made = estimate(shop, DOLLAR, spot(), wish(include=RISK))
        return made.risk.chance_of_loss

    assert losing("0.50") <= losing("0.20") < losing("0.00")
