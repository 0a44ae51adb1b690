"""What a quote promised, kept with its job as figures."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest

from api.ports import StorageUnavailable
from api.services.jobs.checks import log_faults
from api.services.jobs.plan import (
    plan_members,
    plan_outline,
    plan_text,
    read_plan,
)
from api.services.quotes.formats import kept
from pricing.margin_check.actual import JobActual
from pricing.margin_check.bridge import check_job
from pricing.price_book import Calibration
from tests.services.logbook import attempt, coins, money
from tests.services.promising import CHANNEL, DOLLAR, ask


def plain(coin):
    return Calibration(coin=coin)


def plan_of(quote, calibrated=plain):
    return read_plan(
        plan_text(kept(quote), currency=quote.currency, calibrated=calibrated)
    )


ORDERS = {
    "one ring": (ask(),),
    "several of one kind": (ask(quantity=7),),
    "two kinds": (ask(quantity=2), ask(DOLLAR, size="6.5")),
    "extras": (ask(extras=("engraving", "box")), ask(size="7")),
    "the customer's coin": (ask(own="40"),),
    "another channel": (ask(channel="fair", quantity=3),),
}


@pytest.mark.parametrize("asks", ORDERS.values(), ids=ORDERS)
def test_a_plan_comes_to_what_the_quote_came_to(promises, asks):
    quote = promises.create(*asks)
    order, plan = kept(quote)["order"], plan_of(quote)
    assert plan.margin == Decimal(order["margin"])
    assert sum(line.cost for line in plan.lines) == Decimal(order["cost"])
    assert plan.sold_price + plan.shipping_charged == quote.total
    assert (plan.tax, plan.fees) == (quote.tax, Decimal(order["fees"]))


@pytest.mark.parametrize("asks", ORDERS.values(), ids=ORDERS)
def test_where_nothing_is_written_down_it_came_as_planned(promises, asks):
    found = check_job(plan_of(promises.create(*asks)), JobActual())
    assert set(found.parts.values()) == {0}
    assert found.realised == found.planned


def test_tax_that_comes_on_top_is_in_what_the_buyer_pays(promises):
    tax = {"rate": "0.20", "inclusive": False}
    promises.change_book(channels=[CHANNEL | {"tax": tax}])
    quote = promises.create(ask(quantity=2))
    plan, order = plan_of(quote), kept(quote)["order"]
    assert plan.sold_price > Decimal(order["goods"])
    assert plan.sold_price + plan.shipping_charged == quote.total
    assert plan.margin == Decimal(order["margin"])


def test_minutes_of_extras_are_no_minutes_of_the_bench(promises):
    engraving = {"key": "engraving", "price_cost": "7.43", "minutes": "30"}
    promises.change_book(extras=[engraving])
    [bare] = plan_of(promises.create(ask())).lines
    [more] = plan_of(promises.create(ask(extras=("engraving",)))).lines
    assert more.minutes == pytest.approx(bare.minutes, abs=Decimal("0.02"))
    assert more.labour_rate == pytest.approx(bare.labour_rate, rel=Decimal("0.001"))
    assert more.other > bare.other + Decimal("7.43")


def test_the_scale_had_no_say_in_what_the_model_takes_out(promises):
    measured = {"coin": "at_50s_1959_1973", "slug": "1.08", "bored": "0.8"}
    [before] = plan_of(promises.create(ask())).lines
    promises.change_book(calibrations=[measured])
    quote = promises.create(ask())
    found = Calibration(
        coin=measured["coin"], slug=Decimal("1.08"), bored=Decimal("0.8")
    )
    [after] = plan_of(quote, lambda _: found).lines
    assert after.slug_g == pytest.approx(before.slug_g, abs=Decimal("0.0002"))
    assert after.bored_g == pytest.approx(before.bored_g, abs=Decimal("0.0002"))


def test_a_customers_coin_costs_nothing_and_what_is_owed_for_it_is_kept(promises):
    [line] = plan_of(promises.create(ask(own="40"))).lines
    assert line.coin_amount == 0
    assert line.coins > 1
    assert line.other > 0


def test_the_floor_of_an_order_is_that_of_its_lines_by_what_they_sell_for(promises):
    policies = [
        {"key": "retail", "target_margin": "0.37", "floor_margin": "0.2"},
        {"key": "trade", "target_margin": "0.21", "floor_margin": "0.1"},
    ]
    promises.change_book(policies=policies)
    both = promises.create(ask(quantity=3), ask(policy="trade"))
    assert Decimal("0.15") < plan_of(both).floor_margin < Decimal("0.2")
    alone = promises.create(ask(policy="trade"))
    assert plan_of(alone).floor_margin == Decimal("0.1")


def test_minutes_of_the_stages_are_those_of_the_line(promises):
    [line] = plan_of(promises.create(ask(quantity=3))).lines
    by_stage = sum(stage.minutes for stage in line.stages)
    assert by_stage == pytest.approx(line.minutes, abs=Decimal("0.1"))
    assert [stage.key for stage in line.stages] == ["punch", "fold"]


def test_an_outline_refuses_what_the_plan_refuses(logbook):
    job = logbook.opened(ask(quantity=2), ask(DOLLAR))
    plan, outline = read_plan(job.plan), plan_outline(job.plan)
    assert (outline.sold_price, outline.shipping_charged) == (
        plan.sold_price,
        plan.shipping_charged,
    )
    told = (
        attempt(minutes={"fold": "1", "braze": "2"}, line=1),
        attempt("scrapped", stage="braze"),
        attempt(line=2),
    )
    for known in (money(), money(tax="9999"), money(fees="1.001")):
        faults = [
            [*log_faults(each, known, (coins(1),), told)] for each in (plan, outline)
        ]
        assert faults[0] == faults[1] != []


def test_a_plan_of_a_newer_program_is_not_guessed_at(promises):
    text = plan_text(kept(promises.create()), currency="EUR", calibrated=plain)
    newer = json.dumps(json.loads(text) | {"format": 2})
    for read in (read_plan, plan_members, plan_outline):
        with pytest.raises(StorageUnavailable, match="format 2"):
            read(newer)
