import pytest

from pricing.price_book import read_price_book
from tests.pricing.price_book.documents import (
    LEFT_OUT,
    changed,
    faults_of,
    refused,
    small,
    the_fault,
)

FOLD = ("stages", 1)


@pytest.mark.parametrize(
    ("path", "dotted"),
    [
        (("consumables", 0), "consumables[1].key"),
        (("tools", 0), "tools[1].key"),
        (("channels", 0), "channels[1].key"),
        (("policies", 0), "policies[1].key"),
        (("extras", 0), "extras[1].key"),
        (("calibrations", 0), "calibrations[1].coin"),
        ((*FOLD, "consumables", 0), "stages[1].consumables[1].key"),
        ((*FOLD, "tools", 0), "stages[1].tools[1]"),
        (("channels", 0, "fees", 0), "channels[0].fees[1].label"),
    ],
)
def test_a_name_used_twice_in_a_list_is_refused(path, dotted):
    *way, _ = path
    first = small()
    for step in path:
        first = first[step]
    where, message = the_fault((*way, 1), first)
    assert where == dotted
    assert "here already" in message


def test_a_stage_key_used_twice_is_refused():
    where, _ = the_fault(("stages", 4), {"key": "fold", "title": "Fold again"})
    assert where == "stages[4].key"


@pytest.mark.parametrize(
    ("path", "value", "dotted", "said"),
    [
        (
            (*FOLD, "consumables", 0, "key"),
            "gaz",
            "stages[1].consumables[0].key",
            "no consumable 'gaz'; did you mean 'gas'?",
        ),
        ((*FOLD, "tools", 0), "hammer", "stages[1].tools[0]", "use one of: cone"),
        ((*FOLD, "redo", "to"), "bore", "stages[1].redo.to", "'bore' comes later"),
        (
            (*FOLD, "redo", "to"),
            "punsh",
            "stages[1].redo.to",
            "not a stage; did you mean 'punch'?",
        ),
        (("stages", 2, "removes"), "slug", "stages[2].removes", "earlier stage"),
        (("stages", 3, "removes"), "bore", "stages[3].removes", "earlier stage"),
        (("stages", 0, "removes"), "", "stages", 'no stage removes "slug"'),
        (
            ("channels", 0, "shipping", "charged"),
            "6.905",
            "channels[0].shipping.charged",
            "whole multiple of 0.01",
        ),
        (
            ("channels", 0, "shipping", "paid"),
            "5.401",
            "channels[0].shipping.paid",
            "whole multiple of 0.01",
        ),
        (
            ("policies", 0, "rounding", "step"),
            "0.005",
            "policies[0].rounding.step",
            "cannot be paid in EUR",
        ),
        (
            ("policies", 0, "rounding", "offset"),
            "-0.055",
            "policies[0].rounding.offset",
            "whole multiple of 0.01",
        ),
    ],
)
def test_parts_that_disagree_are_told_by_path(path, value, dotted, said):
    where, message = the_fault(path, value)
    assert where == dotted
    assert said in message


def test_a_piece_may_go_back_to_the_stage_it_failed_at():
    document = changed(((*FOLD, "redo", "to"), "fold"))
    assert read_price_book(document).stages[1].redo.to == "fold"


def test_removals_come_in_the_order_slug_bore_finish():
    swapped = changed(
        (("stages", 2, "removes"), "finish"), (("stages", 3, "removes"), "bore")
    )
    assert list(faults_of(swapped)) == ["stages[3].removes"]
    late_slug = changed(
        (("stages", 0, "removes"), "bore"), (("stages", 2, "removes"), "slug")
    )
    assert list(faults_of(late_slug)) == ["stages[2].removes"]


def test_bore_and_finish_may_be_left_out():
    book = read_price_book(
        changed((("stages", 2, "removes"), ""), (("stages", 3, "removes"), LEFT_OUT))
    )
    assert [stage.removes for stage in book.stages] == ["slug", "", "", ""]


def test_a_removal_at_fault_is_not_missed_a_second_time():
    assert list(faults_of(changed((("stages", 0, "removes"), "slag")))) == [
        "stages[0].removes"
    ]
    assert list(faults_of(changed((("stages", 0), "punch")))) == [
        "stages[0]",
        "stages[1].redo.to",
    ]


def test_lists_that_cannot_be_read_are_not_blamed_on_their_users():
    unread = changed((("consumables",), "gas"), (("tools",), {"key": "cone"}))
    assert list(faults_of(unread)) == ["consumables", "tools"]


def test_a_key_at_fault_is_neither_repeated_nor_unknown():
    spoilt = changed(
        ((*FOLD, "consumables"), [{"key": "Gas", "quantity": "1"}] * 2),
        ((*FOLD, "tools"), ["The cone", "The cone"]),
        ((*FOLD, "redo", "to"), "The punch"),
    )
    assert list(faults_of(spoilt)) == [
        "stages[1].consumables[0].key",
        "stages[1].consumables[1].key",
        "stages[1].tools[0]",
        "stages[1].tools[1]",
        "stages[1].redo.to",
    ]


def test_amounts_follow_the_minor_unit_of_the_currency():
    yen = changed((("currency",), "JPY"))
    assert set(faults_of(yen)) == {
        "channels[0].shipping.charged",
        "channels[0].shipping.paid",
        "policies[0].rounding.offset",
    }
    unknown = changed((("currency",), "XAG"))
    assert list(faults_of(unknown)) == ["currency"]


def test_checks_end_where_a_thousand_faults_are_found():
    uses = [{"key": f"gas_{i}", "quantity": "1"} for i in range(150)]
    stages = [
        {"key": f"s{i}", "title": "S", "removes": "slug", "consumables": uses}
        for i in range(9)
    ]
    faults = refused(changed((("stages",), stages))).faults
    assert len(faults) == 1001
    assert not any("removes" in fault.path for fault in faults)
