from decimal import Decimal

import pytest

from pricing import price_book as pb
from pricing.errors import UnknownKey
from pricing.route import (
    driven,
    route_work,
    stage_work,
    visit_cost,
    wear_per_use,
)
from tests.oracles.workshops import book, stage

DRIVERS = dict.fromkeys(pb.DRIVERS, Decimal(0)) | {
    "wrap_sizes": Decimal(6),
    "bored_g": Decimal("0.8"),
}
TAPE = pb.Consumable(key="tape", unit="m", price=Decimal("0.50"))
CONE = pb.Tool(key="cone", price=Decimal(145), salvage=Decimal(20), life_uses=2500)
WRAP = stage(
    "wrap",
    setup_minutes="6",
    batch=4,
    minutes="1.5",
    minutes_per={"wrap_sizes": Decimal("2.4"), "bored_g": Decimal(10)},
    unattended_minutes="20",
    consumables=(
        pb.ConsumableUse(
            key="tape",
            quantity=Decimal("0.4"),
            quantity_per={"wrap_sizes": Decimal("0.1")},
        ),
    ),
    tools=("cone",),
    removes="bore",
)


def test_driven_adds_an_amount_for_each_unit_of_each_driver():
    per = {"wrap_sizes": Decimal(2), "bored_g": Decimal(5)}
    assert driven(Decimal(1), per, DRIVERS) == 1 + 12 + 4
    assert driven(Decimal(1), {}, DRIVERS) == 1


def test_a_visit_takes_its_share_of_the_setup_and_what_the_drivers_ask():
    work = stage_work(WRAP, DRIVERS)
    # 6 ÷ 4 + 1.5 + 2.4 × 6 + 10 × 0.8
    assert work.minutes == Decimal("25.4")
    assert work.unattended_minutes == 20
    assert work.consumables == (("tape", Decimal("1.0")),)
    assert work.tools == ("cone",)
    assert (work.key, work.title, work.removes) == ("wrap", "Wrap", "bore")


def test_a_route_is_worked_in_its_order():
    shop = book(stages=(stage("punch", minutes="4"), WRAP))
    assert [work.key for work in route_work(shop, DRIVERS)] == ["punch", "wrap"]


def test_a_tool_wears_by_its_price_less_its_salvage_over_its_uses():
    assert wear_per_use(CONE) == Decimal("0.05")


def test_a_visit_costs_time_materials_and_wear():
    shop = book(stages=(WRAP,), consumables=(TAPE,), tools=(CONE,))
    work = stage_work(WRAP, DRIVERS)
    # 25.4 min × (30 + 9.50)/60 + 1 m × 0.50 + 0.05; waiting costs nothing
    expected = Decimal("25.4") * Decimal("39.50") / 60 + Decimal("0.55")
    assert visit_cost(shop, work) == pytest.approx(expected, rel=Decimal("1e-20"))


def test_a_visit_that_takes_nothing_costs_nothing():
    idle = stage_work(stage("look", unattended_minutes="60"), DRIVERS)
    assert visit_cost(book(), idle) == 0


def test_a_visit_with_an_unknown_material_is_refused():
    with pytest.raises(UnknownKey, match="tape"):
        visit_cost(book(), stage_work(WRAP, DRIVERS))
