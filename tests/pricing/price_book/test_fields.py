from decimal import Decimal

import pytest

from pricing.errors import Fault
from pricing.price_book import read_price_book
from tests.pricing.price_book.documents import changed, faults_of, refused, the_fault

MINUTES = ("stages", 1, "minutes")


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (8.5, '8.5 is not exact; write it in quotes: "8.5"'),
        (float("nan"), "write it in quotes"),
        (True, "true is not a number"),
        ("8,5", "not a plain decimal number"),
        ("1e3", "not a plain decimal number"),
        (" 8", "not a plain decimal number"),
        ("٣", "not a plain decimal number"),
        ("", "not a plain decimal number"),
        (["8"], "a list is not a number"),
        ({"value": "8"}, "a table is not a number"),
        pytest.param(10**5000, "not a plain decimal number", id="5001 digits"),
        (Decimal("NaN"), "not a plain decimal number"),
        (Decimal("Infinity"), "not a plain decimal number"),
        (Decimal("1E+999999999999"), "not a plain decimal number"),
        (Decimal("1E-999999999999"), "not a plain decimal number"),
        ("-8", "-8 is not allowed; it must be at least 0"),
    ],
)
def test_only_exact_plain_figures_are_read(given, said):
    where, message = the_fault(MINUTES, given)
    assert where == "stages[1].minutes"
    assert said in message
    assert len(message) < 200


@pytest.mark.parametrize("given", ["8.50", Decimal("8.5")])
def test_exact_figures_are_read_from_text_and_decimals(given):
    assert read_price_book(changed((MINUTES, given))).stages[1].minutes == Decimal(
        "8.5"
    )


def test_a_whole_number_may_stand_for_a_figure():
    assert str(read_price_book(changed((MINUTES, 8))).stages[1].minutes) == "8"


@pytest.mark.parametrize("given", ["2", 2.0, True, Decimal(2), "many"])
def test_counts_are_whole_numbers_without_quotes(given):
    where, message = the_fault(("stages", 1, "batch"), given)
    assert where == "stages[1].batch"
    assert "without quotes" in message


def test_a_count_of_thousands_of_digits_is_refused_and_shown_short():
    _, message = the_fault(("stages", 1, "batch"), 10**5000)
    assert "not allowed" in message
    assert len(message) < 120


@pytest.mark.parametrize(
    "text",
    ["tab\there", "bell\x07", "line\nbreak", "turned\u202eround", "\ud800", "a\u2028b"],
)
def test_text_that_does_not_print_is_refused(text):
    where, message = the_fault(("title",), text)
    assert where == "title"
    assert "do not print" in message
    assert message.isprintable()


def test_text_is_at_most_200_characters():
    read_price_book(changed((("title",), "ß" * 200)))
    assert "201 characters" in the_fault(("title",), "ß" * 201)[1]


@pytest.mark.parametrize(
    "key", ["Fold", "fold cone", "_fold", "f" * 41, "", "fold\n", "fóld", 3, None]
)
def test_keys_are_plain_lower_case(key):
    where, _ = the_fault(("extras", 0, "key"), key)
    assert where == "extras[0].key"


def test_null_means_left_out():
    book = read_price_book(
        changed(
            (("recovery",), None),
            (("extras",), None),
            (("stages", 1, "minutes_per", "land_mm"), None),
            (("stages", 1, "redo"), None),
        )
    )
    assert book.recovery.slug == 0
    assert book.extras == ()
    assert book.stages[1].minutes_per == {}
    assert book.stages[1].redo is None


def test_lists_have_at_most_200_entries():
    extras = [{"key": f"extra_{i}"} for i in range(201)]
    read_price_book(changed((("extras",), extras[:200])))
    assert the_fault(("extras",), extras)[0] == "extras"
    too_many_keys = ["cone"] * 201
    assert the_fault(("stages", 1, "tools"), too_many_keys)[0] == "stages[1].tools"


def test_a_stage_list_too_long_is_not_also_said_to_be_empty():
    stages = [{"key": f"s{i}", "title": "S"} for i in range(201)]
    assert list(faults_of(changed((("stages",), stages)))) == ["stages"]


def test_a_table_of_too_many_members_is_one_fault():
    bomb = {f"member_{i}": 0 for i in range(1000)}
    assert "1000 members" in the_fault(("recovery",), bomb)[1]


def test_an_entry_that_is_not_a_table_is_one_fault():
    assert the_fault(("extras", 0), "ring_box") == (
        "extras[0]",
        "'ring_box' is not a table; write its members by name",
    )


@pytest.mark.parametrize("kind", [(), []])
def test_lists_and_tuples_read_alike(kind):
    punches = type(kind)(("12.7", "15.875"))
    read = read_price_book(changed((("forming", "punches_mm"), punches)))
    assert read.forming.punches_mm == (Decimal("12.7"), Decimal("15.875"))


def test_a_book_made_of_faults_is_read_no_further_than_a_thousand():
    empty = [
        {"key": f"s{i}", "title": "S", "consumables": [{}] * 200} for i in range(9)
    ]
    found = list(refused(changed((("stages",), empty))).faults)
    assert len(found) == 1001
    assert found[-1] == Fault(
        (), "1000 faults are listed; mend them to see what is left"
    )


def test_unknown_members_are_counted_among_the_thousand():
    strange = {f"member_{i}": 0 for i in range(190)}
    extras = [{"key": f"extra_{i}", **strange} for i in range(9)]
    assert len(refused(changed((("extras",), extras))).faults) == 1001
