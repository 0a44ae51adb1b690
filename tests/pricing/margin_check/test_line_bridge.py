from decimal import Decimal

from pricing.margin_check import Attempt, CoinsUsed
from pricing.margin_check.line_bridge import dotted, line_worked, readings
from tests.pricing.margin_check.test_bridge import LINE, actual

D = Decimal


def test_parts_are_exact_before_they_are_rounded():
    coins = (CoinsUsed(count=3, unit_cost=D("25.3333")),)
    worked = line_worked(0, LINE, actual(coins=coins))
    parts = worked.parts(actual())
    assert parts["metal_price"] == D("-0.9999")
    assert parts["spoilage"] == -15
    assert parts["recovery"] == D("1.5")


def test_what_was_measured_for_the_whole_job_is_no_part_of_a_line():
    worked = line_worked(0, LINE, actual())
    measured = actual(recovery_sold="1.00", consumables_and_tools="1.00")
    assert {"recovery", "consumables_and_tools"} & set(worked.parts(measured)) == set()
    assert {"recovery", "consumables_and_tools"} <= set(worked.parts(actual()))


def test_only_what_is_of_the_line_counts():
    logged = actual(
        coins=(CoinsUsed(line=1, count=9, unit_cost=D(1)),),
        attempts=(Attempt(line=1, outcome="scrapped", stage="fold"),),
    )
    worked = line_worked(0, LINE, logged)
    assert (worked.coins, worked.coin_amount) == (D("2.4"), 60)
    assert worked.minutes == 60
    assert worked.assumed == (("coins",), ("minutes",))


def test_readings_leave_out_what_was_not_weighed():
    weighed = [Attempt(slug_g=D("4.4")), Attempt(bored_g=D("0.4")), Attempt()]
    assert readings(weighed, LINE) == ((D("1.1"),), (D("0.8"),))


def test_a_path_is_written_as_a_person_writes_it():
    assert dotted("lines", 0, "minutes", "fold") == "lines[0].minutes.fold"
