from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pricing import band_sizes as module
from pricing import price_book as pb
from pricing.money import arithmetic
from pricing.price_ladder import PriceLadder
from pricing.reprice import compile_band
from tests.oracles.random_bands import random_band
from tests.oracles.workshops import DOLLAR, base_coin, book, policy, spot, stage

SEEDS = st.integers(0, 10**9)
FEW = settings(max_examples=40, deadline=None)


@pytest.fixture(autouse=True)
def _fixed_arithmetic():
    with arithmetic():
        yield


@FEW
@given(SEEDS)
def test_pricing_the_sizes_one_by_one_comes_to_the_same(seed):
    drawn = random_band(seed)
    short = drawn.band.price_at(drawn.spot)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(PriceLadder, "least", lambda _, ask: None)
        long = drawn.band.price_at(drawn.spot)
    assert (long.unit, long.dearest_size) == (short.unit, short.dearest_size)


def tape_against_time(**rules):
    """6.00 of tape for each size wrapped, 4 minutes for each size stretched."""
    tape = pb.ConsumableUse(
        key="tape", quantity=Decimal(0), quantity_per={"wrap_sizes": Decimal(1)}
    )
    slower = {"stretch_sizes": Decimal(4)}
    return book(
        stages=(
            stage("punch", minutes="20", removes="slug", consumables=(tape,)),
            stage("bore", minutes="9", removes="bore", minutes_per=slower),
            stage("polish", minutes="30", removes="finish"),
        ),
        consumables=(pb.Consumable(key="tape", unit="m", price=Decimal(6)),),
        recovery=pb.Recovery(),
        policies=(policy(**rules),),
    )


def narrow(shop, coin=DOLLAR, least="8", most="10"):
    return compile_band(shop, coin, size_from=Decimal(least), size_to=Decimal(most))


def test_the_dearest_size_need_not_be_the_costliest():
    # A coin that stands unforced at US 11.5, opened 2.5 sizes over the finger: size 8
    # is wrapped by one size, for 6.00 of tape; size 10 is stretched by one, which
    # takes 4 minutes, 2.63 at 39.50 an hour. So size 8 costs the most, and size 10
    # has to earn 90.00 an hour for the most time: 4 ÷ 60 × (90 − 30) = 4.00 over
    # its cost, 4.00 + 2.63 against 6.00.
    shop = tape_against_time(min_hourly="90", markup="0")
    coin = base_coin(diameter_mm=Decimal(38), gross_mass_g=Decimal(26))
    coin = replace(coin, natural_size=Decimal("11.5"))
    priced = narrow(shop, coin).price_at(spot())
    assert priced.costliest_size == 8
    assert priced.dearest_size == 10
    alone = {us: narrow(shop, coin, us, us).price_at(spot()) for us in ("8", "10")}
    assert priced.unit == alone["10"].unit > alone["8"].unit
    assert priced.cost == alone["8"].cost > alone["10"].cost


def test_among_equal_sizes_the_smallest_is_named():
    shop = book(recovery=pb.Recovery())
    even = replace(DOLLAR, bore_allowance=Decimal(0))
    band = narrow(shop, even, "5", "7")
    priced = band.price_at(spot())
    assert len(set(band.sizes.lines)) == 1
    assert (priced.dearest_size, priced.costliest_size) == (5, 5)


@pytest.mark.parametrize("paid", ["20.004", "20.005", "20.006"])
def test_next_to_half_a_minor_unit_the_cost_sheet_itself_is_asked(paid, monkeypatch):
    asked = []

    def counted(*given):
        asked.append(given)
        return sheet_of(*given)

    sheet_of = module.sheet_of
    monkeypatch.setattr(module, "sheet_of", counted)
    # 20.005 for the coin and 10.00 for twenty minutes at 30.00 an hour.
    shop = book(
        stages=(stage("punch", minutes="20", removes="slug"),),
        labour=pb.Labour(rate_per_hour=Decimal(30)),
        recovery=pb.Recovery(),
        channels=(pb.Channel(key="plain"),),
    )
    priced = narrow(shop, base_coin(paid=Decimal(paid)), "9", "9").price_at(None)
    assert priced.cost == Decimal("30.00" if paid == "20.004" else "30.01")
    assert bool(asked) == (paid == "20.005")
