from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.price_book import Change, diff, read_price_book
from tests.pricing.price_book.documents import LEFT_OUT, changed, small
from tests.pricing.price_book.test_writing import differing_members
from tests.strategies.price_books import (
    coin_buyings,
    extras,
    formings,
    labours,
    policies,
    price_books,
    recoveries,
    stages,
)

RETAIL = ("policies", 0)


def changes(*members):
    return diff(read_price_book(small()), read_price_book(changed(*members), version=2))


@pytest.mark.parametrize(
    ("path", "value", "told"),
    [
        (("title",), "New bench", ("title", "Bench in the shed", "New bench")),
        (("currency",), "USD", ("currency", "EUR", "USD")),
        (
            ("labour", "rate_per_hour"),
            "34.50",
            ("labour.rate_per_hour", "32.00", "34.50"),
        ),
        (("stages", 1, "minutes"), "7", ("stages.fold.minutes", "6", "7")),
        (("stages", 0, "batch"), 4, ("stages.punch.batch", "1", "4")),
        (
            ("stages", 1, "scrap"),
            {"rate": "0.02"},
            ("stages.fold.scrap", "3 of 140", "0.02"),
        ),
        (
            ("stages", 1, "redo"),
            {"tried": 200, "failed": 9, "to": "fold"},
            ("stages.fold.redo", "0.03 to punch", "9 of 200 to fold"),
        ),
        (
            ("stages", 1, "redo"),
            LEFT_OUT,
            ("stages.fold.redo", "0.03 to punch", None),
        ),
        (("stages", 1, "tools"), [], ("stages.fold.tools", "cone", None)),
        (
            ("stages", 1, "minutes_per"),
            {"land_mm": "0.6"},
            ("stages.fold.minutes_per.land_mm", "0.5", "0.6"),
        ),
        (
            ("stages", 1, "minutes_per", "wrap_sizes"),
            "1.5",
            ("stages.fold.minutes_per.wrap_sizes", None, "1.5"),
        ),
        (
            ("stages", 1, "consumables", 0, "quantity"),
            "2",
            ("stages.fold.consumables.gas.quantity", "1", "2"),
        ),
        (
            ("channels", 0, "fees", 0, "rate"),
            "0.021",
            ("channels.shop.fees.card.rate", "0.019", "0.021"),
        ),
        (
            ("channels", 0, "tax", "inclusive"),
            False,
            ("channels.shop.tax.inclusive", "true", "false"),
        ),
        ((*RETAIL, "prudence"), "0.90", ("policies.retail.prudence", "mean", "0.90")),
        (
            (*RETAIL, "rounding"),
            LEFT_OUT,
            ("policies.retail.rounding", "step 5.00, offset -0.05", None),
        ),
        (
            (*RETAIL, "multipliers"),
            LEFT_OUT,
            ("policies.retail.multipliers", "coin 1.15", None),
        ),
        (
            (*RETAIL, "quantity_breaks", 1, "target_margin"),
            "0.24",
            ("policies.retail.quantity_breaks.10.target_margin", "0.25", "0.24"),
        ),
        (
            (*RETAIL, "stale_spot", "refuse_hours"),
            "48",
            ("policies.retail.stale_spot.refuse_hours", "72", "48"),
        ),
        (
            ("forming", "punches_mm"),
            ["12.7", "19.05"],
            ("forming.punches_mm", "12.7, 15.875, 19.05", "12.7, 19.05"),
        ),
        (
            ("calibrations", 0, "slug"),
            "0.98",
            ("calibrations.at_50s_1959_1973.slug", "0.99", "0.98"),
        ),
        (
            ("extras", 1),
            {"key": "engraving", "minutes": "14"},
            ("extras.engraving", None, "key engraving, minutes 14"),
        ),
        (("extras",), [], ("extras.ring_box", "key ring_box, price_cost 2.20", None)),
    ],
)
def test_one_change_is_told_by_keys_with_before_and_after(path, value, told):
    where, before, after = told
    assert changes((path, value)) == (Change(path=where, before=before, after=after),)


def test_a_new_part_is_told_with_what_is_inside_it():
    fair = {
        "key": "fair",
        "fees": [{"label": "stall", "rate": "0.08"}],
        "shipping": {"charged": "4.00"},
    }
    (change,) = changes((("channels", 1), fair))
    assert change.after == (
        "key fair, fees ((label stall, rate 0.08)), shipping (charged 4.00)"
    )


def test_moving_a_stage_changes_only_the_order():
    stages = small()["stages"]
    stages[1:1] = [stages.pop(2)]
    assert changes((("stages",), stages)) == (
        Change(
            path="stages",
            before="punch, fold, bore, finish",
            after="punch, bore, fold, finish",
        ),
    )


def test_digits_that_change_no_figure_are_no_change():
    assert changes((("labour", "rate_per_hour"), "32")) == ()


@given(price_books())
def test_a_book_does_not_differ_from_its_copy(book):
    assert diff(book, book) == ()


PARTS = st.one_of(
    st.fixed_dictionaries({"labour": labours()}),
    st.fixed_dictionaries({"recovery": recoveries()}),
    st.fixed_dictionaries({"coin_buying": coin_buyings()}),
    st.fixed_dictionaries({"forming": formings()}),
    st.fixed_dictionaries({"stages": stages()}),
    st.fixed_dictionaries({"policies": policies().map(lambda policy: (policy,))}),
    st.fixed_dictionaries({"extras": extras().map(lambda extra: (extra,))}),
)


@given(price_books(), PARTS)
def test_a_difference_is_told_exactly_when_there_is_one(old, parts):
    new = replace(old, **parts)
    told = diff(old, new)
    assert bool(told) == bool(differing_members(old, new))
    back = {(change.path, change.after, change.before) for change in diff(new, old)}
    assert back == {(change.path, change.before, change.after) for change in told}


def test_changes_come_in_document_order():
    told = changes(
        (("extras",), []), (("title",), "x"), (("labour", "rate_per_hour"), "1")
    )
    assert [change.path for change in told] == [
        "title",
        "labour.rate_per_hour",
        "extras.ring_box",
    ]
    assert Decimal(told[1].before) == 32
