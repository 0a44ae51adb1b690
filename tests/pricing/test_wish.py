from dataclasses import replace
from decimal import Decimal

import pytest

from pricing.errors import InvalidInput
from pricing.wish import INCLUDES, MOST_PIECES, OwnCoin
from tests.oracles.workshops import wish


def test_a_wish_for_one_ring_needs_only_its_size():
    plain = wish()
    assert (plain.quantity, plain.confidence) == (1, Decimal("0.95"))
    assert (plain.channel, plain.policy, plain.own_coin) == (None, None, None)


@pytest.mark.parametrize("quantity", [0, -1, MOST_PIECES + 1])
def test_a_quantity_out_of_range_is_refused(quantity):
    with pytest.raises(InvalidInput, match="1 to 1000") as refused:
        wish(quantity=quantity)
    assert refused.value.path == ("quantity",)


@pytest.mark.parametrize("quantity", [1, MOST_PIECES])
def test_the_ends_of_the_range_are_in_it(quantity):
    assert wish(quantity=quantity).quantity == quantity


@pytest.mark.parametrize("confidence", ["0", "1", "-0.5", "95"])
def test_a_confidence_that_is_no_chance_is_refused(confidence):
    with pytest.raises(InvalidInput, match="between 0 and 1") as refused:
        wish(confidence=Decimal(confidence))
    assert refused.value.path == ("confidence",)


@pytest.mark.parametrize("name", ["hole_mm", "band_width_mm"])
@pytest.mark.parametrize("length", ["0", "-3"])
def test_a_length_of_nothing_is_refused(name, length):
    with pytest.raises(InvalidInput, match="above 0") as refused:
        wish(**{name: Decimal(length)})
    assert refused.value.path == (name,)


def test_lengths_above_nothing_are_taken():
    assert replace(wish(), hole_mm=Decimal("0.1")).hole_mm == Decimal("0.1")


def test_a_negative_compensation_is_refused():
    with pytest.raises(InvalidInput, match="0 or more") as refused:
        OwnCoin(compensation=Decimal(-1))
    assert refused.value.path == ("own_coin", "compensation")
    assert OwnCoin(compensation=Decimal(0)) == OwnCoin()


def test_a_negative_amount_paid_is_refused():
    with pytest.raises(InvalidInput, match="0 or more") as refused:
        wish(coin_paid=Decimal(-1))
    assert refused.value.path == ("coin_paid",)
    assert wish(coin_paid=Decimal(0)).coin_paid == 0


def test_only_the_risk_can_be_asked_for_besides():
    assert INCLUDES == ("risk",)
