"""A feed's description is read whole or refused with every fault; and written back."""

from __future__ import annotations

import json
from datetime import date, time
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.ports import CsvLayout, Feed, FeedLimits, FeedTime
from api.services.feeds.document import feed_document, read_feed_document
from api.services.feeds.members import CURRENCY_LIMITS
from pricing.errors import InvalidInput
from tests.services.feeding import LEAST

MOST = {
    **LEAST,
    "format": "csv",
    "price": None,
    "bid": "Bid",
    "ask": "Ask",
    "side": "ask",
    "invert": True,
    "unit": "kilogram",
    "hundredths": True,
    "decimal_mark": ",",
    "time": {
        "path": "Day",
        "format": "%d.%m.%Y",
        "zone": "Europe/Berlin",
        "at": "14:15",
    },
    "max_age_hours": "74",
    "headers": {"User-Agent": "Workshop", "Accept": "text/csv"},
    "secret_headers": ["X-Api-Key"],
    "csv": {"delimiter": ";", "header": True},
    "closed_dates": ["2026-12-31", "2026-12-24"],
    "limits": {"lowest": "5", "jump": "0.10"},
    "second_source": "another_feed",
    "licence_note": "For our own use",
    "may_display": True,
    "enabled": False,
}
RATES = {
    "title": "Rates",
    "url": "https://feeds.example/rates.xml",
    "format": "ecb",
}


def faults(document, key="a_feed"):
    with pytest.raises(InvalidInput) as refused:
        read_feed_document(document, key=key)
    return {fault.dotted: fault.message for fault in refused.value.faults}


def test_the_least_that_describes_a_feed():
    assert read_feed_document(LEAST, key="a_feed") == Feed(
        key="a_feed",
        title="A feed",
        url="https://feeds.example/silver.json",
        format="json",
        currency="USD",
        price="/price",
        time=FeedTime(path="/time"),
    )


def test_everything_that_can_be_said_is_read():
    assert read_feed_document(MOST) == Feed(
        title="A feed",
        url="https://feeds.example/silver.json",
        format="csv",
        currency="USD",
        bid="Bid",
        ask="Ask",
        side="ask",
        invert=True,
        unit="kilogram",
        hundredths=True,
        decimal_mark=",",
        time=FeedTime(
            path="Day", format="%d.%m.%Y", zone="Europe/Berlin", at=time(14, 15)
        ),
        max_age_hours=Decimal(74),
        headers=(("Accept", "text/csv"), ("User-Agent", "Workshop")),
        secret_headers=("X-Api-Key",),
        csv=CsvLayout(delimiter=";"),
        closed_dates=(date(2026, 12, 24), date(2026, 12, 31)),
        limits=FeedLimits(lowest=Decimal(5), jump=Decimal("0.10")),
        second_source="another_feed",
        licence_note="For our own use",
        may_display=True,
        enabled=False,
    )


def test_a_file_of_reference_rates_says_the_rest_itself():
    feed = read_feed_document(RATES)
    assert (feed.metal, feed.currency, feed.price, feed.time) == ("EUR", "", None, None)
    assert feed.limits == CURRENCY_LIMITS


@pytest.mark.parametrize(
    "document",
    [
        LEAST,
        MOST,
        RATES,
        {**RATES, "currency": "USD", "limits": {"highest": "5"}},
        {**LEAST, "metal": "EUR", "price": "$.rates.EUR"},
        {**LEAST, "rows": "", "price": ""},
        {**LEAST, "price": None, "ask": "/a"},
        {**LEAST, "price": None, "ask": "/a", "invert": True},
        {**LEAST, "format": "xml", "price": "a/@b", "rows": "r", "time": {"path": "t"}},
    ],
)
def test_a_feed_written_and_read_again_is_the_same(document):
    feed = read_feed_document(document, key="a_feed")
    written = feed_document(feed)
    stored = json.loads(json.dumps(written, sort_keys=True))
    assert read_feed_document(stored, key="a_feed") == feed
    assert feed_document(read_feed_document(stored, key="a_feed")) == written


def test_what_is_at_its_default_is_not_written():
    plain = {"metal": "XAG", "unit": "troy_ounce", "enabled": True, "headers": {}}
    assert feed_document(read_feed_document({**LEAST, **plain}, key="k")) == LEAST
    assert feed_document(read_feed_document(RATES)) == RATES
    written = feed_document(read_feed_document(MOST))
    assert written["headers"] == {"Accept": "text/csv", "User-Agent": "Workshop"}
    assert written["limits"] == {"lowest": "5", "jump": "0.10"}
    assert written["csv"] == {"delimiter": ";"}
    assert written["closed_dates"] == ["2026-12-24", "2026-12-31"]


def test_every_fault_is_listed_by_its_path():
    found = faults(
        {
            "url": "gopher://feeds.example/",
            "metal": "AU",
            "currency": "XXX",
            "price": "price",
            "unit": "pound",
            "time": {"path": "$.", "format": "%H", "zone": "Mars", "at": "25:00"},
            "max_age_hours": "0",
            "limits": {"jump": 0.5, "spread": "8"},
            "closed_dates": ["2026-02-30"],
            "headers": {"Host": "x"},
            "colour": "silver",
        }
    )
    assert set(found) == {
        "title", "url", "format", "metal", "currency", "price", "unit", "time.path",
        "time.format", "time.zone", "time.at", "max_age_hours", "limits.jump",
        "limits.spread", "closed_dates[0]", "headers.Host", "colour",
    }  # fmt: skip


def test_the_first_fault_is_the_message():
    with pytest.raises(InvalidInput) as refused:
        read_feed_document({**LEAST, "title": ""})
    assert refused.value.path == ("title",)
    assert str(refused.value).startswith("title: ")
    with pytest.raises(InvalidInput, match="the feed"):
        read_feed_document([])


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=8) | st.decimals(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner),
    max_leaves=5,
)


@given(st.dictionaries(st.sampled_from(sorted(MOST)), ANYTHING), st.booleans())
def test_any_document_is_a_feed_or_refused(changes, whole):
    try:
        read_feed_document({**(MOST if whole else {}), **changes})
    except InvalidInput as refused:
        found = refused.faults
    else:
        found = ()
        assert whole
    assert all(fault.message and len(fault.message) < 600 for fault in found)
