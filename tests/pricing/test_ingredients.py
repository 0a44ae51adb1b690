"""What a wish takes, before anything of it has a price."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from pricing import price_book as pb
from pricing.errors import UnknownKey
from pricing.forming import plan_forming
from pricing.ingredients import gathered, shaping_of, taken
from pricing.spoilage import spoilage
from pricing.wish import OwnCoin
from tests.oracles.workshops import DOLLAR, book, stage, wish

BOX = pb.Extra(key="ring_box", price_cost=Decimal("2.20"))
TAPE = pb.Consumable(key="ptfe_tape", unit="m", price=Decimal("0.11"))


def parts(shop, asked):
    forming = plan_forming(DOLLAR, shaping_of(shop, DOLLAR, asked))
    return gathered(shop, DOLLAR, asked, forming=forming, chain=spoilage(shop.stages))


def test_the_coins_own_wear_goes_before_the_books():
    shop = book()
    assert shaping_of(shop, DOLLAR, wish()).wear == shop.coin_buying.wear
    worn = replace(DOLLAR, wear=Decimal("0.03"))
    assert shaping_of(shop, worn, wish()).wear == Decimal("0.03")


def test_a_customers_own_coin_costs_nothing_and_brings_nothing_back():
    shop = book()
    ours = parts(shop, wish())
    assert (ours.coin is None, ours.compensation) == (False, 0)
    assert ours.recovered
    owed = OwnCoin(compensation=Decimal(40))
    theirs = parts(shop, wish(own_coin=owed))
    assert (theirs.coin, theirs.recovered, theirs.compensation) == (None, (), 40)


def test_what_is_taken_is_named_material_and_extras():
    use = pb.ConsumableUse(key="ptfe_tape", quantity=Decimal(1))
    route = (stage("punch", minutes="4", removes="slug", consumables=(use,)),)
    shop = book(consumables=(TAPE,), stages=route, extras=(BOX,))
    assert list(taken(parts(shop, wish()))) == ["ptfe_tape"]
    assert list(taken(parts(shop, wish(extras=("ring_box",))))) == [
        "ptfe_tape",
        "ring_box",
    ]


def test_an_extra_that_is_not_there_is_told_by_its_place():
    with pytest.raises(UnknownKey, match="bow") as refused:
        parts(book(extras=(BOX,)), wish(extras=("ring_box", "bow")))
    assert refused.value.path == ("extras", 1)
