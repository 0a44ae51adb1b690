"""Tool wear against published depreciation examples.

OpenStax, Principles of Accounting, Volume 1: Financial Accounting, ch. 11.3. Wear is
counted by use here (units of production). Straight line by the year and double
declining balance are other methods and not in the model: of the former only the
identities with even use are checked, the latter (L1's press written down by 4,000 and
2,400) has no counterpart.
"""

from decimal import Decimal

import pytest

from pricing import price_book as pb
from pricing.bench_lines import bench_lines
from pricing.route import route_work, wear_per_use
from pricing.spoilage import spoilage
from tests.oracles.workshops import book, stage

YEARS = 5

# OpenStax PA1 11.3: cost 10,000, salvage 1,000, 100,000 uses
SMALL = pb.Tool(
    key="press", price=Decimal(10_000), salvage=Decimal(1_000), life_uses=100_000
)
# OpenStax PA1 11.3: press 54,000 + shipping 1,500 + set-up 2,500, salvage 10,000,
# 960,000 uses
LARGE = pb.Tool(
    key="press",
    price=Decimal(54_000) + 1_500 + 2_500,
    salvage=Decimal(10_000),
    life_uses=960_000,
)


@pytest.mark.parametrize(
    ("tool", "per_use"),
    [(SMALL, "0.09"), (LARGE, "0.05")],  # OpenStax PA1 11.3
)
def test_wear_of_one_use(tool, per_use):
    assert wear_per_use(tool) == Decimal(per_use)


@pytest.mark.parametrize(
    ("tool", "uses", "worn"),
    [
        (SMALL, 20_000, 1_800),  # OpenStax PA1 11.3, first year
        (SMALL, 30_000, 2_700),  # OpenStax PA1 11.3, second year
        (LARGE, 180_000, 9_000),  # OpenStax PA1 11.3, first year
    ],
)
def test_wear_of_a_years_uses(tool, uses, worn):
    assert wear_per_use(tool) * uses == worn


@pytest.mark.parametrize(
    ("tool", "by_the_year"),
    [(SMALL, 1_800), (LARGE, 9_600)],  # OpenStax PA1 11.3, straight line
)
def test_used_evenly_over_its_life_a_tool_wears_as_by_straight_line(tool, by_the_year):
    a_year = Decimal(tool.life_uses) / YEARS
    assert wear_per_use(tool) * a_year == by_the_year


def test_the_base_of_depreciation_is_all_that_was_paid_less_salvage():
    assert LARGE.price - LARGE.salvage == 48_000  # OpenStax PA1 11.3
    assert wear_per_use(LARGE) * LARGE.life_uses == 48_000


def test_a_cost_line_carries_the_wear_of_its_uses():
    # the press of 0.05 a use, used at two stages of a route without failures
    twice = (stage("press", tools=("press",)), stage("press_2", tools=("press",)))
    shop = book(stages=twice, tools=(LARGE,))
    work = route_work(shop, dict.fromkeys(pb.DRIVERS, Decimal(0)))
    _, lines = bench_lines(shop, work, spoilage(twice))
    (wear,) = (line for line in lines if line.kind == "tool")
    assert wear.line.at(Decimal(27)) == Decimal("0.10")
