"""The parts of a feed's description have to agree."""

from __future__ import annotations

import pytest

from api.services.feeds.document import read_feed_document
from pricing.errors import InvalidInput
from tests.services.feeding import LEAST

RATES = {"title": "R", "url": "https://feeds.example/r.xml", "format": "ecb"}


def faults(document):
    try:
        read_feed_document(document, key="a_feed")
    except InvalidInput as refused:
        return [fault.dotted for fault in refused.faults]
    return []


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ({"price": None}, [""]),
        ({"bid": "/b"}, ["bid"]),
        ({"bid": "/b", "ask": "/a", "side": "mid"}, ["bid", "ask", "side"]),
        ({"price": None, "bid": "/b", "ask": "/a"}, []),
        ({"price": None, "bid": "/b"}, []),
        ({"price": None, "bid": "/b", "side": "ask"}, [""]),
        ({"price": None, "bid": "/b", "side": "mid"}, [""]),
        ({"price": None, "bid": "/b", "side": "bid", "invert": True}, [""]),
        ({"price": None, "bid": "/b", "side": "ask", "invert": True}, []),
        ({"currency": None}, ["currency"]),
        ({"time": None}, ["time"]),
        ({"csv": {}}, ["csv"]),
        ({"metal": "USD"}, ["currency"]),
        ({"metal": "EUR", "unit": "gram"}, ["unit"]),
        ({"metal": "EUR", "hundredths": True}, []),
        ({"limits": {"lowest": "9", "highest": "9"}}, ["limits.highest"]),
        ({"limits": {"lowest": "1001"}}, ["limits.highest"]),
        ({"second_source": "a_feed"}, ["second_source"]),
        ({"second_source": ""}, []),
        ({"second_source": []}, ["second_source"]),
        ({"decimal_mark": ","}, []),
    ],
)
def test_parts_that_disagree_are_named(changes, found):
    where = faults({**LEAST, **changes})
    if found == [""]:
        assert len(where) == 1
    else:
        assert where == found


def test_in_csv_every_line_is_a_row():
    csv = {**LEAST, "format": "csv", "price": "p", "time": {"path": "t"}}
    assert faults(csv) == []
    assert faults({**csv, "rows": "r"}) == ["rows"]


@pytest.mark.parametrize(
    ("member", "value"),
    [
        ("price", "a"),
        ("bid", "a"),
        ("ask", "a"),
        ("side", "mid"),
        ("invert", True),
        ("rows", "a"),
        ("unit", "gram"),
        ("hundredths", False),
        ("decimal_mark", "."),
        ("time", {"path": "a"}),
        ("csv", {}),
        ("metal", "USD"),
        ("metal", "XAG"),
    ],
)
def test_a_file_of_reference_rates_is_not_described_further(member, value):
    assert faults({**RATES, member: value}) == [member]


def test_a_file_of_reference_rates_may_be_of_one_currency():
    assert faults(RATES) == faults({**RATES, "currency": "USD", "metal": "EUR"}) == []
    assert faults({**RATES, "currency": "EUR"}) == ["currency"]
