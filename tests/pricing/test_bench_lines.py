from decimal import Decimal

import pytest

from pricing import price_book as pb
from pricing.bench_lines import bench_lines, extra_lines
from pricing.route import route_work
from pricing.spoilage import spoilage
from tests.oracles.workshops import book, rate, redo, stage

NO_DRIVERS = dict.fromkeys(pb.DRIVERS, Decimal(0))
TAPE = pb.Consumable(key="ptfe_tape", unit="m", price=Decimal("0.50"))
GAS = pb.Consumable(key="gas", unit="g", price=Decimal("0.02"), title="Torch gas")
CONE = pb.Tool(key="cone", price=Decimal(145), salvage=Decimal(20), life_uses=2500)
PRESS = pb.Tool(key="press", price=Decimal(200), life_uses=1000, title="The press")


def use(key, quantity):
    return pb.ConsumableUse(key=key, quantity=Decimal(quantity))


# Half of all starts end at the saw; half of all visits to the fold come back.
SAW = stage(
    "saw",
    minutes="6",
    scrap=rate("0.5"),
    consumables=(use("gas", "10"),),
    tools=("cone",),
)
FOLD = stage(
    "fold",
    minutes="10",
    unattended_minutes="30",
    redo=redo("0.5", "fold"),
    consumables=(use("ptfe_tape", "0.4"), use("gas", "5")),
    tools=("cone", "press"),
)


def worked(**parts):
    shop = book(
        **{"stages": (SAW, FOLD), "consumables": (TAPE, GAS), "tools": (CONE, PRESS)}
        | parts
    )
    work = route_work(shop, NO_DRIVERS)
    return bench_lines(shop, work, spoilage(shop.stages))


def amounts(lines):
    return {line.label: line.line.at(Decimal(27)) for line in lines}


def near(value):
    return pytest.approx(Decimal(value), rel=Decimal("1e-12"))


def test_every_good_piece_bears_the_visits_of_all_its_starts():
    totals, _ = worked()
    # one start: 1 saw, 0.5 × 2 folds; two starts for a good piece
    assert totals.attended_minutes == near(2 * (6 + 10))
    assert totals.unattended_minutes == near(2 * 30)
    assert totals.labour == near(16)  # 32 min at 30.00


def test_time_materials_and_wear_each_have_their_lines():
    _, lines = worked()
    assert [line.kind for line in lines] == [
        *("labour", "overhead"),
        *("consumable", "consumable"),
        *("tool", "tool"),
    ]
    found = amounts(lines)
    assert found["Bench time"] == near(16)
    assert found["Workshop overhead"] == near(Decimal(32) / 60 * Decimal("9.50"))
    assert found["Torch gas"] == near(2 * (10 + 5) * Decimal("0.02"))
    assert found["Ptfe tape"] == near(2 * Decimal("0.4") * Decimal("0.50"))
    assert found["Cone"] == near(2 * 2 * Decimal("0.05"))
    assert found["The press"] == near(2 * Decimal("0.20"))


def test_the_cost_of_one_start_is_that_of_a_good_piece_over_its_starts():
    totals, lines = worked()
    assert totals.bench_per_start == near(sum(amounts(lines).values()) / 2)


def test_waiting_costs_nothing():
    idle = (stage("wait", unattended_minutes="600"),)
    totals, lines = worked(stages=idle)
    assert totals.unattended_minutes == 600
    assert sum(amounts(lines).values()) == 0


def test_a_workshop_without_overhead_has_no_line_for_it():
    _, lines = worked(labour=pb.Labour(rate_per_hour=Decimal(30)))
    assert "overhead" not in {line.kind for line in lines}


def test_the_arithmetic_can_be_followed():
    _, lines = worked()
    words = {line.label: line.how(None) for line in lines}
    assert words["Bench time"] == "32.00 min ÷ 60 × 30"
    assert words["Ptfe tape"] == "0.8 m × 0.50"
    assert words["Cone"] == "4 uses × (145 − 20) ÷ 2500 uses"


def test_an_extra_costs_its_price_and_its_minutes_at_wage_and_overhead():
    box = pb.Extra(key="ring_box", price_cost=Decimal("2.20"), minutes=Decimal(6))
    card = pb.Extra(key="card", title="A card", price_cost=Decimal("0.40"))
    lines = list(extra_lines(book(), (box, card)))
    assert amounts(lines) == {"Ring box": Decimal("6.15"), "A card": Decimal("0.40")}
    assert {line.kind for line in lines} == {"extra"}
    assert [line.how(None) for line in lines] == ["2.20 + 6 min ÷ 60 × 39.50", "0.40"]


def test_the_minutes_of_extras_are_bench_time_and_wage():
    totals, _ = worked()
    box = pb.Extra(key="box", minutes=Decimal(6), price_cost=Decimal(9))
    more = totals.with_extras(book(), (box, box))
    assert more.attended_minutes == totals.attended_minutes + 12
    assert more.labour == totals.labour + 6
    assert more.unattended_minutes == totals.unattended_minutes
    assert more.bench_per_start == totals.bench_per_start
