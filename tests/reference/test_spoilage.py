"""Published examples of spoilage and yield.

Each test names its source. "Recomputed here" marks answers the source's page did
not show. What the project has no function for is checked as arithmetic and says so.

The rule behind A1 to A6 (from memory, standard cost accounting): normal spoilage,
net of what it is sold for, is carried by the good units; abnormal spoilage is a loss
of the period; "per good unit" and "per unit started" are two different bases.
"""

from decimal import Decimal

import pytest

from pricing.chance import estimated_chance
from pricing.price_book import Chance, Redo, Stage
from pricing.spoilage import spoilage
from pricing.starts import cost_per_good_piece
from tests.oracles.recovery import expected_recovery

NOTHING = Decimal(0)


def good_share(good, normally_spoiled):
    """Good of the units whose cost the good ones carry: abnormal ones left out."""
    return Decimal(good) / (good + normally_spoiled)


def stage(key, scrap, redo=None):
    back = None if redo is None else Redo(chance=Chance(rate=redo), to=key)
    return Stage(key=key, title="", scrap=Chance(rate=scrap), redo=back)


def per_good(per_start, chance_good, recovery=NOTHING):
    return cost_per_good_piece(Decimal(per_start), recovery, chance_good=chance_good)


def test_a1_good_units_carry_the_normal_spoilage():
    # Gaodun question bank, management-accounting exam item 306i75: 550 units worked
    # for 2,200, 500 good, 30 normally and 20 abnormally spoiled; 4.00 a unit worked.
    # The 4.24 and the abnormal loss of 80: recomputed here.
    per_unit = Decimal(2200) / 550
    assert per_unit == 4
    each = per_good(per_unit, good_share(500, 30))
    assert float(each) == pytest.approx(4.24, abs=1e-12)
    assert float(500 * each) == pytest.approx(2120, abs=1e-9)
    assert 20 * per_unit == 80  # arithmetic only: no abnormal loss in an estimate


def test_a2_cost_of_every_unit_started_when_spoiled_ones_earn_nothing():
    # Course Hero excerpt of a cost-management text, exercise 9-34: materials 240,000,
    # labour 620,000, overhead 150 % of labour; 90,000 good and 10,000 spoiled.
    # Arithmetic only, but for the last line: the good units carry all of it.
    total = 240_000 + 620_000 + Decimal("1.5") * 620_000
    assert total == 1_790_000
    assert total / 100_000 == Decimal("17.90")
    each = per_good("17.90", good_share(90_000, 10_000))
    assert float(90_000 * each) == pytest.approx(1_790_000, abs=1e-6)


def test_a2b_normal_spoilage_of_eight_percent_of_the_good_units():
    # The same exercise, part b; recomputed here.
    normal = Decimal("0.08") * 90_000
    assert normal == 7_200
    each = per_good("17.90", good_share(90_000, int(normal)))
    assert float(each) == pytest.approx(19.332, abs=1e-12)
    assert float(90_000 * each) == pytest.approx(1_739_880, abs=1e-6)
    assert (10_000 - normal) * Decimal("17.90") == 50_120  # arithmetic only


def test_a3_good_output_of_a_process_carries_its_normal_spoilage():
    # Course Hero excerpt, exercise before 9-34: 5.95 per equivalent unit, 22,000 good
    # and 1,760 normally spoiled.
    each = per_good("5.95", good_share(22_000, 1_760))
    assert float(22_000 * each) == pytest.approx(141_372, abs=1e-6)


def test_a3_abnormal_spoilage_and_work_in_process_make_up_the_total():
    # The same exercise. Arithmetic only: the project knows neither.
    material, rest, conversion = Decimal("3.75"), Decimal("0.20"), Decimal("2.00")
    assert material + rest + conversion == Decimal("5.95")
    abnormal = 240 * Decimal("5.95")
    in_process = 7_000 * material + 2_800 * conversion
    assert (abnormal, in_process) == (1_428, 31_850)
    assert 141_372 + abnormal + in_process == 174_650
    assert Decimal(1_760) / 22_000 == Decimal("0.08")


def test_a4_spoilage_at_final_inspection_is_sold_and_its_rest_carried_by_the_good():
    # Whitefish Machine Shop, problem 18-35 (SolutionInn, BrainMass): 40 started at
    # 1,000, 5 spoiled at final inspection and sold for 200 each; recomputed here.
    # A unit of one gram sold at 200 a gram stands for a spoiled part.
    inspected = spoilage((stage("inspect", Decimal("0.125")),))
    recovery = expected_recovery(
        inspected,
        mass_g=Decimal(1),
        removed_g=[NOTHING],
        removal_credit=[NOTHING],
        scrap_credit_per_g=Decimal(200),
    )
    assert 40 * recovery == 1_000
    each = per_good(1_000, inspected.chance_good, recovery)
    assert float(each) == pytest.approx(1_114.29, abs=0.005)
    assert float(35 * (each - 1_000)) == pytest.approx(4_000, abs=1e-6)


def test_a4_the_rate_depends_on_its_base():
    # The same problem. Arithmetic only: this project counts failures of those tried.
    assert Decimal(5) / 40 == Decimal("0.125")
    of_good = Decimal(5) / 35
    assert float(of_good) == pytest.approx(0.1429, abs=5e-5)


def test_a5_reworked_units_are_all_good_and_carry_the_rework():
    # Problem 18-36 (BrainMass): the five are reworked for 1,800 in all; recomputed
    # here. The rework is a sum of its own, so only the sharing-out is ours.
    per_start = 1_000 + Decimal(1_800) / 40
    assert per_good(per_start, Decimal(1)) == Decimal("1045.00")


def test_a6_normal_spoilage_is_a_rate_of_a_stated_base():
    # SmartSolve answer page: 22,000 in process and 190,000 started, 18,000 spoiled,
    # normal 5 % "of units passing". Caution: the page takes 5 % of all 212,000 units
    # to account for. Counted with that base the rate is the 5 % it started from.
    normal = (22_000 + 190_000) * Decimal("0.05")
    assert (normal, 18_000 - normal) == (10_600, 7_400)  # arithmetic only
    counted = estimated_chance(Chance(tried=212_000, failed=int(normal)))
    assert float(counted.value) == pytest.approx(0.05, abs=5e-6)


def test_b1_yields_of_three_steps_multiply():
    # Minitab support, throughput yield and rolled throughput yield: 0.95, 0.84, 0.88
    # give 0.70, 700 of 1,000 right first time (the page rounds: 0.70224, recomputed
    # here). Reworked units do not count as right there, so what fails leaves the
    # route here.
    shares = (Decimal("0.05"), Decimal("0.16"), Decimal("0.12"))
    rolled = spoilage(tuple(stage(f"s{q}", q) for q in shares)).chance_good
    assert rolled == Decimal("0.70224")
    assert float(1000 * rolled) == pytest.approx(700, abs=5)


def test_b2_first_time_yields_of_three_steps_multiply():
    # ISSSP, First Time Yield and Rolled Throughput Yield: 100 in; 95, 85, 80 out.
    # Unlike B1 this yield counts a reworked unit that comes out as good.
    counts = ((100, 95), (95, 85), (85, 80))
    stages = tuple(stage(f"s{a}", 1 - Decimal(b) / a) for a, b in counts)
    result = spoilage(stages)
    assert float(result.chance_good) == pytest.approx(0.80, abs=1e-9)
    assert [round(100 * float(one.reached)) for one in result.stages] == [100, 95, 85]


def test_b3_first_pass_is_what_is_neither_scrapped_nor_reworked():
    # The same page: 100 in, 10 scrapped, 5 reworked; true first-pass yield 0.85.
    (one,) = spoilage((stage("s", Decimal("0.10"), Decimal("0.05")),)).stages
    assert 1 - one.scrap.value - one.redo.value == Decimal("0.85")


def test_b3_final_yield_counts_the_reworked_as_good():
    # The same page; final yield 0.90, recomputed here. 100 units make 105 visits
    # when the five come through the second time.
    scrap, redo = Decimal(10) / 105, Decimal(5) / 105
    result = spoilage((stage("s", scrap, redo),))
    assert float(result.chance_good) == pytest.approx(0.90, abs=1e-9)
    assert float(result.stages[0].visits) == pytest.approx(1.05, abs=1e-9)
