"""The strip of costs is in proportion, and its table adds up."""

from __future__ import annotations

from decimal import Decimal

from api.web.cost_strip import SheetLine, cost_strip

LINES = [
    SheetLine(kind=kind, label=label, amount=Decimal(amount), how="because")
    for kind, label, amount in (
        ("coin", "Coin", "20.00"),
        ("labour", "Bench time", "50.00"),
        ("consumable", "Gas", "6.00"),
        ("consumable", "Tape", "4.00"),
        ("after_sale", "Exchanges", "20.00"),
        ("recovery", "Slugs sold", "-8.00"),
        ("recovery", "Filings sold", "-2.00"),
    )
]


def percent(text):
    assert text.endswith("%")
    return Decimal(text[:-1])


def test_every_line_is_as_long_as_it_is_dear():
    strip = cost_strip(LINES)
    assert [percent(each.width) for each in strip.stretches] == [20, 50, 6, 4, 20]
    assert [percent(each.start) for each in strip.stretches] == [0, 20, 70, 76, 80]


def test_what_comes_back_is_the_end_of_the_strip():
    strip = cost_strip(LINES)
    assert (strip.spent, strip.back, strip.cost) == (100, 10, 90)
    assert (strip.returned.start, strip.returned.width) == ("90.00%", "10.00%")


def test_kinds_add_up_to_the_cost():
    strip = cost_strip(LINES)
    assert sum(each.amount for each in strip.kinds) == strip.cost
    assert [each.kind for each in strip.kinds] == [
        "coin", "labour", "consumable", "after_sale", "recovery",
    ]  # fmt: skip
    assert sum(each.share for each in strip.kinds if each.amount > 0) == 1


def test_only_long_stretches_are_named_in_their_middle():
    strip = cost_strip(LINES)
    assert [each.kind for each in strip.names] == ["coin", "labour", "after_sale"]
    assert [percent(each.middle) for each in strip.names] == [10, 45, 90]


def test_where_nothing_comes_back_nothing_is_hatched():
    assert cost_strip(LINES[:5]).returned is None


def test_where_more_comes_back_than_was_spent_nothing_is_hatched():
    strip = cost_strip([*LINES, LINES[-1].__class__(
        kind="recovery", label="All", amount=Decimal(-500), how="",
    )])  # fmt: skip
    assert strip.returned is None
    assert strip.cost == -410


def test_where_nothing_is_spent_there_is_no_strip():
    strip = cost_strip([])
    assert (strip.stretches, strip.names, strip.kinds) == ((), (), ())
    assert strip.cost == 0
