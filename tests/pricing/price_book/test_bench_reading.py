from decimal import Decimal

import pytest

from pricing.price_book import (
    Chance,
    CoinBuying,
    Forming,
    Redo,
    document,
    read_price_book,
)
from tests.pricing.price_book.documents import LEFT_OUT, changed, small, the_fault

FOLD = ("stages", 1)


@pytest.mark.parametrize(
    ("path", "value", "dotted", "said"),
    [
        (("labour", "rate_per_hour"), LEFT_OUT, "labour.rate_per_hour", "missing"),
        (("labour", "rate_per_hour"), "-1", "labour.rate_per_hour", "at least 0"),
        (("labour", "overhead_per_hour"), "-1", "labour.overhead_per_hour", "least 0"),
        (("labour", "hours_per_week"), "0", "labour.hours_per_week", "over 0"),
        (("labour", "hours_per_week"), "168.01", "labour.hours_per_week", "most 168"),
        (("consumables", 0, "unit"), "", "consumables[0].unit", "empty"),
        (("consumables", 0, "price"), "-0.01", "consumables[0].price", "at least 0"),
        (("tools", 0, "salvage"), "145.01", "tools[0].salvage", "price of 145.00"),
        (("tools", 0, "life_uses"), 0, "tools[0].life_uses", "at least 1"),
        (("tools", 0, "life_uses"), LEFT_OUT, "tools[0].life_uses", "missing"),
        ((*FOLD, "title"), LEFT_OUT, "stages[1].title", "missing"),
        ((*FOLD, "batch"), 0, "stages[1].batch", "at least 1"),
        ((*FOLD, "minutes"), "-6", "stages[1].minutes", "at least 0"),
        ((*FOLD, "setup_minutes"), "-6", "stages[1].setup_minutes", "at least 0"),
        ((*FOLD, "unattended_minutes"), "x", "stages[1].unattended_minutes", "'x'"),
        (
            (*FOLD, "minutes_per"),
            {"land": "1"},
            "stages[1].minutes_per.land",
            "did you mean 'land_mm'?",
        ),
        (
            (*FOLD, "consumables", 0, "quantity_per"),
            {"moon": "1"},
            "stages[1].consumables[0].quantity_per.moon",
            "use one of: wrap_sizes, stretch_sizes",
        ),
        (
            (*FOLD, "consumables", 0, "quantity"),
            LEFT_OUT,
            "stages[1].consumables[0].quantity",
            "missing",
        ),
        ((*FOLD, "removes"), "rim", "stages[1].removes", '"slug", "bore", "finish"'),
        ((*FOLD, "scrap"), {"rate": "1"}, "stages[1].scrap.rate", "under 1"),
        ((*FOLD, "scrap"), {"rate": "-0.1"}, "stages[1].scrap.rate", "at least 0"),
        ((*FOLD, "scrap"), {}, "stages[1].scrap", "nothing given"),
        ((*FOLD, "scrap"), {"tried": 9}, "stages[1].scrap", "tried given"),
        (
            (*FOLD, "scrap"),
            {"rate": "0.1", "tried": 9, "failed": 1},
            "stages[1].scrap",
            "rate and tried and failed given",
        ),
        (
            (*FOLD, "scrap"),
            {"tried": 3, "failed": 4},
            "stages[1].scrap.failed",
            "4 failed of 3 tried",
        ),
        (
            (*FOLD, "scrap"),
            {"tried": 3, "failed": -1},
            "stages[1].scrap.failed",
            "at least 0",
        ),
        ((*FOLD, "scrap"), {"rate": "0.97"}, "stages[1].redo", "under 1"),
        ((*FOLD, "redo", "to"), LEFT_OUT, "stages[1].redo.to", "missing"),
        ((*FOLD, "redo", "rate"), "1.5", "stages[1].redo.rate", "under 1"),
        (("recovery", "slug"), "1.01", "recovery.slug", "at most 1"),
        (("recovery", "filings"), "90", "recovery.filings", "0.12 means 12 %"),
        (("recovery", "scrap"), "-0.1", "recovery.scrap", "at least 0"),
        (("recovery", "finish_loss"), "1", "recovery.finish_loss", "under 1"),
        (("coin_buying", "basis"), "guess", "coin_buying.basis", '"greater_of"'),
        (("coin_buying", "premium"), "12", "coin_buying.premium", "12 % over melt"),
        (("coin_buying", "premium"), "-1", "coin_buying.premium", "over -1"),
        (("coin_buying", "wear"), "1", "coin_buying.wear", "under 1"),
        (("coin_buying", "extra"), "-2", "coin_buying.extra", "at least 0"),
        (("coin_buying", "paid"), "-2", "coin_buying.paid", "at least 0"),
        (("forming", "punches_mm", 1), "0", "forming.punches_mm[1]", "over 0"),
        (("forming", "punches_mm", 1), "12.70", "forming.punches_mm[1]", "rising"),
        (("forming", "min_wall_mm"), "0", "forming.min_wall_mm", "over 0"),
        (("forming", "min_land_mm"), "201", "forming.min_land_mm", "at most 200"),
        (
            ("forming", "opening_allowance"),
            "11",
            "forming.opening_allowance",
            "at most 10",
        ),
        (("calibrations", 0, "coin"), "A", "calibrations[0].coin", "not a key"),
        (("calibrations", 0, "slug"), "0", "calibrations[0].slug", "at least 0.5"),
        (("calibrations", 0, "bored"), "2.1", "calibrations[0].bored", "at most 2"),
    ],
)
def test_a_fault_of_the_bench_side_is_told_by_its_path(path, value, dotted, said):
    where, message = the_fault(path, value)
    assert where == dotted
    assert said in message


def test_chances_are_read_as_they_were_given():
    fold = read_price_book(small()).stages[1]
    assert fold.scrap == Chance(tried=140, failed=3)
    assert fold.redo == Redo(chance=Chance(rate=Decimal("0.03")), to="punch")


def test_a_stage_never_tried_counts_as_even_odds():
    half = {"tried": 0, "failed": 0}
    path = (*FOLD, "scrap")
    redo = (*FOLD, "redo")
    scrap_alone = changed((path, half), (redo, LEFT_OUT))
    assert read_price_book(scrap_alone).stages[1].scrap == Chance(tried=0, failed=0)


def test_scrap_and_redo_are_added_at_the_mean_of_their_counts():
    # (49 + 1/2) / (99 + 1) is 0.495, twice that leaves 0.01 to pass
    counts = {"tried": 99, "failed": 49}
    read_price_book(
        changed(
            ((*FOLD, "scrap"), counts), ((*FOLD, "redo"), {**counts, "to": "punch"})
        )
    )
    # (50 + 1/2) / (100 + 1) is exactly one half
    even = {"tried": 100, "failed": 50}
    where, _ = the_fault(
        FOLD, {**small()["stages"][1], "scrap": even, "redo": {**even, "to": "fold"}}
    )
    assert where == "stages[1].redo"


def test_what_is_left_out_takes_its_default():
    short = changed(
        (("coin_buying",), LEFT_OUT),
        (("forming",), LEFT_OUT),
        (("tools", 0, "salvage"), LEFT_OUT),
    )
    book = read_price_book(short)
    assert book.coin_buying == CoinBuying()
    assert book.forming == Forming()
    assert book.tools[0].salvage == 0
    assert book.stages[0].batch == 1
    assert book.stages[0].redo is None


def test_coins_bought_under_melt_have_a_negative_premium():
    under = changed((("coin_buying", "premium"), "-0.03"))
    assert read_price_book(under).coin_buying.premium == Decimal("-0.03")


def test_drivers_come_in_the_order_of_the_forming_plan():
    path = (*FOLD, "minutes_per")
    one = changed((path, {"land_mm": "1", "wrap_sizes": "2"}))
    assert list(read_price_book(one).stages[1].minutes_per) == ["wrap_sizes", "land_mm"]


@pytest.mark.parametrize("hours", ["0.01", "24", "168"])
def test_the_hours_of_a_week_are_kept_and_may_be_left_out(hours):
    stated = changed((("labour", "hours_per_week"), hours))
    book = read_price_book(stated)
    assert book.labour.hours_per_week == Decimal(hours)
    assert document(book)["labour"]["hours_per_week"] == hours
    plain = read_price_book(small())
    assert plain.labour.hours_per_week is None
    assert "hours_per_week" not in document(plain)["labour"]
