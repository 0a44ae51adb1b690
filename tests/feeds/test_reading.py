"""Every shape of answer, the same price in all of them, and answers that are none."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from api.feeds.reading import read_feed
from api.ports import FeedFailed, FeedTime
from pricing.spot_guard import Reading
from tests.feeds.described import AT, DESCRIPTIONS, SHAPES, answer, described

NOON = datetime(2026, 11, 23, 12, tzinfo=UTC)
PRICE = Decimal("27.50")


def reason(feed, body, content_type=""):
    with pytest.raises(FeedFailed) as refused:
        read_feed(feed, body, content_type)
    assert refused.value.message.endswith(".")
    return refused.value.reason


def flat(price, *, time='"2026-11-23T12:00:00Z"'):
    return f'{{"price": {price}, "time": {time}}}'.encode()


FLAT = described("flat.json", price="/price", time=AT)


@pytest.mark.parametrize("shape", DESCRIPTIONS)
def test_every_shape_gives_the_same_price_of_the_same_moment(shape):
    [reading] = read_feed(described(shape, **DESCRIPTIONS[shape]), answer(shape), "")
    assert reading.price == PRICE
    assert (reading.currency, reading.as_of) == ("USD", NOON)


def test_every_file_of_shapes_is_read_by_a_test():
    rates = {path.name for path in SHAPES.glob("reference_rates*")}
    assert {path.name for path in SHAPES.iterdir()} == {*DESCRIPTIONS, *rates}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
@pytest.mark.parametrize("shape", ["flat_text.json", "elements.xml", "header.csv"])
def test_the_encoding_of_an_answer_does_not_matter(shape, encoding):
    text = answer(shape).decode().replace('<?xml version="1.0" encoding="UTF-8"?>', "")
    said = "text/plain; charset=iso-8859-1" if encoding == "latin-1" else ""
    feed = described(shape, **DESCRIPTIONS[shape])
    [reading] = read_feed(feed, text.strip().encode(encoding), said)
    assert reading.price == PRICE


@pytest.mark.parametrize("name", ["reference_rates.xml", "reference_rates_history.xml"])
def test_a_file_of_reference_rates_gives_the_euro_in_each_currency(name):
    feed = described("x.ecb", currency=None)
    readings = read_feed(feed, answer(name), "text/xml")
    assert {each.currency: each.price for each in readings} == {
        "USD": Decimal("1.0853"),
        "JPY": Decimal("163.27"),
        "GBP": Decimal("0.83415"),
    }
    assert {each.as_of for each in readings} == {
        datetime(2026, 11, 23, 13, 15, tzinfo=UTC)
    }


@pytest.mark.parametrize(
    ("side", "price"), [("bid", "27.45"), ("ask", "27.55"), ("mid", "27.50")]
)
def test_a_side_is_picked_and_both_are_kept(side, price):
    members = {**DESCRIPTIONS["sides.json"], "side": side}
    [reading] = read_feed(described("sides.json", **members), answer("sides.json"), "")
    assert reading.price == Decimal(price)
    assert (reading.bid, reading.ask) == (Decimal("27.45"), Decimal("27.55"))


def test_one_side_alone_is_the_price():
    feed = described("sides.json", bid="/silver/bid", time={"path": "/as_of"})
    [reading] = read_feed(feed, answer("sides.json"), "")
    assert (reading.price, reading.bid, reading.ask) == (Decimal("27.45"), None, None)


@pytest.mark.parametrize(
    ("side", "price"), [("bid", "25"), ("ask", "40"), ("mid", "32.50")]
)
def test_bid_and_ask_of_an_inverse_feed_change_places(side, price):
    feed = described("x.json", bid="/b", ask="/a", side=side, invert=True, time=AT)
    body = b'{"b": 0.025, "a": 0.04, "time": "2026-11-23T12:00:00Z"}'
    assert read_feed(feed, body, "") == (
        Reading(
            price=Decimal(price),
            currency="USD",
            as_of=NOON,
            bid=Decimal(25),
            ask=Decimal(40),
        ),
    )


def test_a_feed_of_a_currency_gives_one_unit_of_it():
    feed = described("x.json", metal="EUR", price="/price", time=AT, invert=True)
    [reading] = read_feed(feed, flat("0.9214"), "")
    assert reading.price == Decimal("1.085304971")


@pytest.mark.parametrize(
    ("body", "content_type", "why"),
    [
        (b"", "application/json", "empty"),
        (b" \r\n", "", "empty"),
        (b"\xef\xbb\xbf", "", "empty"),
        (b'{"price": 27.5', "", "not_json"),
        (b"27.50 USD", "", "not_json"),
        (b"<xml/>", "application/json", "not_json"),
        (b"<!DOCTYPE html><title>Down for a while</title>", "", "looks_like_a_page"),
        (b"\n<HTML lang=de><body>Wartung", "text/html", "looks_like_a_page"),
        (flat("NaN"), "", "not_json"),
        (flat("-Infinity"), "", "not_json"),
        (flat("null"), "", "not_a_price"),
        (flat("true"), "", "not_a_price"),
        (flat("[27.5]"), "", "not_a_price"),
        (flat("{}"), "", "not_a_price"),
        (flat('"n/a"'), "", "not_a_price"),
        (flat('"$27.50"'), "", "not_a_price"),
        (flat('"<b>27.50</b>"'), "", "not_a_price"),
        (flat("0"), "", "not_positive"),
        (flat("-27.5"), "", "not_positive"),
        (flat('"27.500"'), "", "ambiguous_number"),
        (flat("1e400"), "", "number_out_of_range"),
        (flat("1e-400"), "", "number_out_of_range"),
        (flat("1e99999999999999999999"), "", "number_out_of_range"),
        (flat("1" * 5000), "", "number_out_of_range"),
        (flat("0.0000000001"), "", "number_out_of_range"),
        (flat("27.5", time='"yesterday"'), "", "not_a_time"),
        (flat("27.5", time='"2026-02-30T12:00:00Z"'), "", "not_a_time"),
        (flat("27.5", time="null"), "", "not_a_time"),
        (b'{"time": "2026-11-23T12:00:00Z"}', "", "no_such_path"),
        (b'{"price": 27.5}', "", "no_such_path"),
        (b'{"price": 1, "price": 2}', "", "duplicate_name"),
        (b'{"error": "over the quota"}', "", "no_such_path"),
        (b"[" * 20_000, "", "too_deep"),
        (b'{"a":' * 20_000, "", "too_deep"),
        (b"\xff\xfe\x00\x00", "", "wrong_charset"),
        (flat("27.5").decode().encode("utf-16-le"), "", "wrong_charset"),
        (b'{"a": "\xe9"}', "application/json; charset=utf-8", "wrong_charset"),
        (flat("27.5"), "application/json; charset=zlib", "unknown_charset"),
        (b" " * (2**20 + 1), "", "too_large"),
    ],
)
def test_an_answer_that_is_no_price_is_refused_with_its_reason(body, content_type, why):
    assert reason(FLAT, body, content_type) == why


def test_a_price_too_small_to_be_stored_is_refused():
    feed = replace(FLAT, unit="kilogram", hundredths=True)
    assert reason(feed, flat("0.000001")) == "number_out_of_range"


def test_a_message_never_repeats_what_stands_in_the_answer():
    for body in (flat('"<script>"'), b'{"secret-name": ', flat("27", time='"<x>"')):
        with pytest.raises(FeedFailed) as refused:
            read_feed(FLAT, body, "")
        assert "<" not in refused.value.message
        assert "secret" not in refused.value.message


def test_a_description_that_was_never_checked_is_a_reason_too():
    for wrong in ({"price": "price"}, {"price": None, "side": "bid"}, {"price": "$["}):
        assert reason(replace(FLAT, **wrong), flat("27.5")) == "bad_description"
    assert reason(replace(FLAT, time=None), flat("27.5")) == "no_time"
    elsewhere = FeedTime(path="/time", format="date", zone="Nowhere/At_All")
    body = flat("27.5", time='"2026-11-23"')
    assert reason(replace(FLAT, time=elsewhere), body) == "bad_description"
