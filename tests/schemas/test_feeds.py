"""What is described of feeds is what the service reads."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import get_args

import pytest
from marshmallow import ValidationError

from api.ports import (
    DECIMAL_MARKS,
    FEED_FORMATS,
    FEED_UNITS,
    FETCH_OUTCOMES,
    SIDES,
    SPOT_STATUSES,
    FetchResult,
)
from api.schemas import feeds, spot_prices
from api.schemas.feeds import FeedBody, SecretsBody
from api.schemas.findings import WEIGHTS
from api.services.feeds.document import feed_document, read_feed_document
from api.services.spot.standing import STALENESS
from pricing.errors import InvalidInput
from pricing.price_book.fields import Fields
from pricing.spot_guard import Weight
from tests.feeds.described import DESCRIPTIONS, FEEDS
from tests.http.test_feeds import FEED
from tests.http.workshop import component
from tests.schemas.test_described import members, needed


def test_the_members_of_a_feed_are_those_the_reader_asks_for(monkeypatch):
    asked_for = {}
    refuse = Fields.refuse_unknown

    def noting(table):
        path = tuple(part for part in table._path if isinstance(part, str))
        asked_for[path] = set(table._known)
        refuse(table)

    monkeypatch.setattr(Fields, "refuse_unknown", noting)
    with pytest.raises(InvalidInput):
        read_feed_document({"time": {}, "csv": {}, "limits": {}})
    assert members(FeedBody()) == asked_for


def test_what_is_called_needed_is_what_the_reader_misses():
    with pytest.raises(InvalidInput) as refused:
        read_feed_document({})
    missed = {fault.path[0] for fault in refused.value.faults if fault.path}
    assert needed(FeedBody()) == missed - {"currency", "time"}  # not for every format


@pytest.mark.parametrize("feed", FEEDS, ids=lambda feed: feed.url)
def test_every_valid_feed_fits_its_description(feed):
    component("FeedBody").validate(json.loads(json.dumps(feed_document(feed))))


@pytest.mark.parametrize("shape", DESCRIPTIONS)
def test_a_feed_fits_it_as_it_was_given_too(shape):
    given = {"title": "A", "url": "https://a.example/", "currency": "USD"}
    given |= {"format": shape.rsplit(".", 1)[-1], **DESCRIPTIONS[shape]}
    component("FeedBody").validate(given)
    component("FeedBody").validate(FEED)


@pytest.mark.parametrize(
    "change",
    [
        {"title": ""},
        {"format": "yaml"},
        {"unit": "pound"},
        {"limits": {"jump": 0.08}},
        {"headers": {"X": 1}},
        {"secret_headers": "X"},
        {"colour": "black"},
    ],
)
def test_the_description_refuses_what_the_reader_does(change):
    assert not component("FeedBody").is_valid(FEED | change)
    with pytest.raises(InvalidInput):
        read_feed_document(FEED | change)


def test_the_words_of_the_wire_are_those_of_the_services():
    assert feeds.FORMATS == FEED_FORMATS
    assert feeds.UNITS == FEED_UNITS
    assert feeds.MARKS == DECIMAL_MARKS
    assert feeds.SIDES == SIDES
    assert spot_prices.STATUSES == SPOT_STATUSES
    assert spot_prices.OUTCOMES == FETCH_OUTCOMES
    assert spot_prices.STALENESS == STALENESS
    assert set(WEIGHTS) == set(get_args(Weight))


def test_values_of_secrets_are_text_and_not_repeated():
    assert SecretsBody().load({"A": "1", "B": "2"}) == {"A": "1", "B": "2"}
    with pytest.raises(ValidationError) as refused:
        SecretsBody().load({"A": "1", "B": 27501})
    assert list(refused.value.messages) == ["B"]
    assert "27501" not in str(refused.value)


@pytest.mark.parametrize("price", ["1e25", "0.000000001", "1e13", "27.5"])
def test_whatever_a_feed_said_can_be_written(price):
    found = FetchResult(feed="a", outcome="refused", price=Decimal(price))
    told = spot_prices.FetchDocument().dump({"results": [found]})
    component("Fetch").validate(json.loads(json.dumps(told)))
