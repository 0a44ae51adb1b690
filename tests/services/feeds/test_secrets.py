"""Which secrets may be set, and which outlive a change of their feed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from api.ports import Feed
from api.services.feeds.secrets import MOST_SECRET, check_secrets, still_meant
from pricing.errors import InvalidInput

FEED = Feed(
    key="assay",
    title="Assay",
    url="https://feeds.example/silver",
    format="json",
    secret_headers=("X-Key", "X-Name"),
)
KEPT = {"X-Key": "hush", "X-Old": "gone"}


@pytest.mark.parametrize("value", ["x", "Bearer abc~!", "x" * MOST_SECRET])
def test_a_plain_value_for_a_named_header_may_be_set(value):
    check_secrets({"X-Key": value}, FEED)


@pytest.mark.parametrize(
    "value",
    ["", " ", " x", "x ", "a\nb", "a\r\nHost: b", "\x00", "é", "x" * (MOST_SECRET + 1)],
)
def test_a_value_that_cannot_be_sent_is_refused_and_not_told(value):
    with pytest.raises(InvalidInput, match="cannot be sent") as refused:
        check_secrets({"X-Key": value}, FEED)
    assert refused.value.path == ("X-Key",)
    assert len(value.strip()) < 2 or value not in refused.value.message


def test_every_fault_is_told_at_once():
    with pytest.raises(InvalidInput) as refused:
        check_secrets({"X-Other": "x", "X-Key": ""}, FEED)
    assert [fault.path for fault in refused.value.faults] == [("X-Other",), ("X-Key",)]
    assert "X-Key, X-Name" in refused.value.message


def test_a_feed_without_secrets_takes_none():
    with pytest.raises(InvalidInput, match="it names none"):
        check_secrets({"X-Key": "x"}, replace(FEED, secret_headers=()))


@pytest.mark.parametrize(
    "url", [FEED.url, "https://feeds.example/other?x=1", "https://FEEDS.example/silver"]
)
def test_secrets_still_named_stay_with_the_same_server(url):
    assert still_meant(KEPT, FEED, replace(FEED, url=url)) == {"X-Key": "hush"}


@pytest.mark.parametrize(
    "url",
    [
        "https://elsewhere.example/silver",
        "http://feeds.example/silver",
        "https://feeds.example:8443/silver",
    ],
)
def test_no_secret_goes_to_another_server(url):
    assert still_meant(KEPT, FEED, replace(FEED, url=url)) == {}
