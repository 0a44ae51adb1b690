from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from pricing import order_starts
from pricing import price_book as pb
from pricing.errors import InvalidInput
from pricing.order import prepare_order
from pricing.order_starts import CoinsNeeded
from pricing.set_starts import Wanted, coins_for_set
from pricing.starts import coins_to_start
from pricing.wish import OwnCoin
from tests.oracles.random_orders import random_order
from tests.oracles.whole_sets import best_set
from tests.oracles.workshops import (
    DOLLAR,
    RETAIL,
    book,
    silver_coin,
    spot,
    stage,
    wish,
)

SILVER = silver_coin()
CAREFUL = replace(RETAIL, key="careful", prudence=Decimal("0.9"))


def needed(lines, **parts):
    return prepare_order(book(**parts), lines).coins_to_start


def chance_of(shop, ring):
    made = prepare_order(shop, [(DOLLAR, ring)])
    return made.lines[0].sheet.ingredients.spoilage.chance_good


@pytest.mark.parametrize("seed", range(60))
def test_no_other_way_to_start_an_order_takes_fewer_coins(seed):
    asked = random_order(seed, least=2, most=3)
    lines = tuple(
        (coin, replace(ring, quantity=min(ring.quantity, 2)))
        for coin, ring in asked.lines
    )
    made = prepare_order(asked.book, lines)
    kinds = {}
    for line in made.lines:
        if line.wish.own_coin is None:
            chance = Fraction(line.sheet.ingredients.spoilage.chance_good)
            pieces, worst = kinds.get(line.coin, (0, Fraction(1)))
            kinds[line.coin] = pieces + line.wish.quantity, min(worst, chance)
    found = sum(need.coins for need in made.coins_to_start)
    if kinds:
        fewest, _ = best_set(list(kinds.values()), Fraction(made.confidence))
        assert found == fewest
    assert {need.coin: need.pieces for need in made.coins_to_start} == {
        coin: pieces for coin, (pieces, _) in kinds.items()
    }
    assert found or not kinds


def test_lines_of_one_coin_share_their_spare_coins():
    shop = book()
    (all_of_it,) = needed([(DOLLAR, wish("7", quantity=3)), (DOLLAR, wish("11"))])
    alone = coins_to_start(
        4, chance_good=chance_of(shop, wish()), confidence=Decimal("0.95")
    )
    assert all_of_it == CoinsNeeded(coin=DOLLAR, pieces=4, coins=alone)


def test_types_come_in_the_order_of_the_lines():
    lines = [(SILVER, wish("8")), (DOLLAR, wish("9")), (SILVER, wish("9"))]
    assert [(need.coin, need.pieces) for need in needed(lines)] == [
        (SILVER, 2),
        (DOLLAR, 1),
    ]


def test_the_most_careful_chance_of_a_type_counts_for_all_of_it():
    counts = pb.Chance(tried=20, failed=4)
    route = (stage("punch", minutes="4", removes="slug", scrap=counts),)
    shop = book(stages=route, policies=(RETAIL, CAREFUL))
    usual, careful = wish("7"), wish("9", policy="careful", quantity=3)
    assert chance_of(shop, careful) < chance_of(shop, usual)
    for lines in ([usual, careful], [careful, usual]):
        made = prepare_order(shop, [(DOLLAR, ring) for ring in lines])
        (need,) = made.coins_to_start
        assert need.pieces == 4
        assert need.coins == coins_to_start(
            4, chance_good=chance_of(shop, careful), confidence=Decimal("0.95")
        )


def test_types_are_judged_each_with_the_prudence_of_its_own_lines():
    counts = pb.Chance(tried=20, failed=4)
    route = (stage("punch", minutes="4", removes="slug", scrap=counts),)
    shop = book(stages=route, policies=(RETAIL, CAREFUL))
    usual, careful = wish("7"), wish("7", policy="careful")
    made = prepare_order(shop, [(SILVER, usual), (DOLLAR, careful)])
    wanted = [
        Wanted(good=1, chance_good=chance_of(shop, ring)) for ring in (usual, careful)
    ]
    found = tuple(need.coins for need in made.coins_to_start)
    assert found == coins_for_set(wanted, confidence=Decimal("0.95"))


def test_an_own_coin_has_no_other_to_start():
    own = wish("9", own_coin=OwnCoin(compensation=Decimal(40)))
    mixed = needed([(DOLLAR, own), (SILVER, wish("8"))])
    assert [need.coin for need in mixed] == [SILVER]
    assert needed([(DOLLAR, own), (DOLLAR, own)]) == ()


def test_the_highest_confidence_of_coins_that_are_bought_counts():
    own = wish("9", own_coin=OwnCoin(), confidence=Decimal("0.999"))
    sure = wish("8", confidence=Decimal("0.9"))
    less = wish("7", confidence=Decimal("0.8"))

    def confidence(*rings):
        lines = [(DOLLAR, ring) for ring in rings]
        return prepare_order(book(), lines).at(spot()).confidence

    assert confidence(less, sure, less) == Decimal("0.9")
    assert confidence(own, less) == Decimal("0.8")
    assert confidence(own) == Decimal("0.999")


def test_more_coins_than_can_be_counted_are_refused_for_the_order(monkeypatch):
    def too_many(wanted, *, confidence):
        raise InvalidInput("too many coins", path=("quantity",))

    monkeypatch.setattr(order_starts, "coins_for_set", too_many)
    with pytest.raises(InvalidInput, match="too many coins") as refused:
        needed([(DOLLAR, wish())])
    assert refused.value.path == ("lines",)
