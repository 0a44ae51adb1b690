"""Every shape of answer, the same price in all of them, and answers that are none."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from random import Random

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from api.feeds.reading import read_feed
from api.ports import Feed, FeedFailed, FeedTime
from api.services.feed_document import read_feed_document
from pricing.spot_guard import Reading

SHAPES = Path(__file__).parent / "shapes"
NOON = datetime(2026, 11, 23, 12, tzinfo=UTC)
PRICE = Decimal("27.50")

DAY = {"path": "/d", "format": "date"}
AT = {"path": "/time"}
S = {"path": "/timestamp", "format": "epoch_s"}
DESCRIPTIONS = {
    "flat.json": {"price": "/price", "time": {"path": "/ts", "format": "epoch_s"}},
    "flat_text.json": {"price": "$.price", "time": AT},
    "epoch_ms.json": {
        "price": "/data/last",
        "time": {"path": "$.data.updated", "format": "epoch_ms"},
    },
    "nested_rates.json": {"price": "/rates/XAG", "time": S},
    "inverse.json": {"price": "/rates/XAG", "invert": True, "time": S},
    "inverse_gram.json": {
        "price": "/grams_for_one_dollar",
        "invert": True,
        "unit": "gram",
        "time": S,
    },
    "sides.json": {
        "bid": "/silver/bid",
        "ask": "/silver/ask",
        "time": {"path": "/as_of"},
    },
    "listed_metals.json": {
        "price": "$.items[?@.metal=='XAG'].price",
        "time": {"path": "/at"},
    },
    "oldest_first.json": {"rows": "", "price": "/v/0", "time": DAY},
    "newest_first.json": {
        "rows": "/history",
        "price": "/values/usd",
        "time": {"path": "/date", "format": "date"},
    },
    "shuffled.json": {
        "rows": "$.prices[*]",
        "price": "$.usd",
        "time": {"path": "$.date", "format": "date"},
    },
    "columns_and_rows.json": {
        "rows": "/rows",
        "price": "/1",
        "time": {"path": "/0", "format": "date"},
    },
    "gram_comma.json": {
        "price": "/preis",
        "unit": "gram",
        "decimal_mark": ",",
        "time": {
            "path": "/stand",
            "format": "%d.%m.%Y %H:%M",
            "zone": "Europe/Vienna",
        },
    },
    "kilogram_point.json": {
        "price": "/price",
        "unit": "kilogram",
        "decimal_mark": ".",
        "time": AT,
    },
    "cents.json": {"price": "/c", "hundredths": True, "time": AT},
    "cents_by_the_kilogram.json": {
        "price": "/price",
        "unit": "kilogram",
        "hundredths": True,
        "time": AT,
    },
    "elements.xml": {
        "price": "metal[@code='XAG']/price",
        "time": {"path": "updated"},
    },
    "attributes.xml": {
        "rows": "{urn:example:quotes}day",
        "price": "{*}silver/@usd",
        "time": {"path": "./@date", "format": "date"},
    },
    "header.csv": {"price": "USD", "time": {"path": "Date", "format": "date"}},
    "semicolon.csv": {
        "bid": "Geld",
        "ask": "Brief",
        "decimal_mark": ",",
        "csv": {"delimiter": ";"},
        "time": {"path": "Tag", "format": "%d.%m.%Y"},
    },
    "bare.csv": {
        "price": "2",
        "csv": {"header": False},
        "time": {"path": "1", "format": "%Y%m%d"},
    },
}


def described(shape, **members):
    document = {
        "title": "A feed",
        "url": f"https://feeds.example/{shape}",
        "format": shape.rsplit(".", 1)[-1],
        "currency": "USD",
        **members,
    }
    return read_feed_document(document, key="a_feed")


def answer(shape):
    return (SHAPES / shape).read_bytes()


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


# One price, written in every unit, in every shape.


def written(price, *, unit, hundredths, invert):
    """A price of one troy ounce the way a feed would give it, many digits long."""
    value = price * (100 if hundredths else 1)
    grams = {"troy_ounce": Decimal(1), "gram": Decimal("31.1034768")}
    value /= grams.get(unit, Decimal("0.0311034768"))
    return format(+(1 / value if invert else value), ".26f")


def wrapped(text, shape):
    moment = "2026-11-23T12:00:00Z"
    if shape == "json":
        return json.dumps({"price": text, "time": moment})
    if shape == "csv":
        return f"price,time\n{text},{moment}\n"
    return f"<a><price>{text}</price><time>{moment}</time></a>"


@given(
    price=st.decimals("1", "999", places=4),
    unit=st.sampled_from(["troy_ounce", "gram", "kilogram"]),
    hundredths=st.booleans(),
    invert=st.booleans(),
    shape=st.sampled_from(["json", "xml", "csv"]),
)
def test_a_price_is_the_same_by_every_unit_and_shape(
    price, unit, hundredths, invert, shape
):
    text = written(price, unit=unit, hundredths=hundredths, invert=invert)
    prefix = "/" if shape == "json" else ""
    feed = Feed(
        title="A feed",
        url="https://feeds.example/",
        format=shape,
        currency="USD",
        price=f"{prefix}price",
        time=FeedTime(path=f"{prefix}time"),
        unit=unit,
        hundredths=hundredths,
        invert=invert,
        decimal_mark=".",
    )
    [reading] = read_feed(feed, wrapped(text, shape).encode(), "")
    assert reading.price == price


# Whatever comes, it is a reading or a reason.


def read_or_refused(feed, body, content_type=""):
    try:
        readings = read_feed(feed, body, content_type)
    except FeedFailed as refused:
        return 0 < len(refused.message) < 400
    return all(reading.price > 0 for reading in readings)


FEEDS = [described(shape, **members) for shape, members in DESCRIPTIONS.items()]
FEEDS.append(described("x.ecb", currency=None))
ANY_FEED = st.sampled_from(FEEDS)
FILES = sorted(path.name for path in SHAPES.iterdir())
NAMES = st.sampled_from(
    ["price", "time", "rates", "XAG", "bid", "ask", "v", "d", "ts", "timestamp"]
)
NUMBERS = st.one_of(
    st.integers(), st.floats(), st.sampled_from(["27.5", "1.234", "0", "-", "1e5", ""])
)
JSON = st.recursive(
    st.one_of(st.none(), st.booleans(), NUMBERS, st.text(max_size=20)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(NAMES, inner, max_size=4)
    ),
    max_leaves=12,
)


@given(ANY_FEED, st.binary(max_size=300), st.text(max_size=40))
@example(FEEDS[0], b"{}", "application/json; charset=\x00\udcff*''")
@example(FEEDS[0], b"{}", "a/b; charset*=utf-8''%ff")
def test_any_bytes_are_a_reading_or_a_reason(feed, body, content_type):
    assert read_or_refused(feed, body, content_type)


@given(ANY_FEED, JSON)
def test_any_json_is_a_reading_or_a_reason(feed, document):
    assert read_or_refused(feed, json.dumps(document).encode())


@given(ANY_FEED, st.sampled_from(FILES), st.integers(0, 2**32))
def test_any_damaged_answer_is_a_reading_or_a_reason(feed, name, seed):
    chance = Random(seed)  # noqa: S311 - damage, no secret
    body = bytearray(answer(name))
    for _ in range(chance.randint(1, 6)):
        place = chance.randrange(len(body))
        body[place : place + chance.choice([0, 1, 9])] = chance.choice(
            [b"", b"<", b">", b'"', b",", b"0", b"\xff", b"\n", b"]", b"}", b"&x;"]
        )
        body = body or bytearray(b" ")
    assert read_or_refused(feed, bytes(body))


@given(ANY_FEED, st.lists(st.lists(st.text(max_size=8), max_size=4), max_size=5))
def test_any_csv_is_a_reading_or_a_reason(feed, rows):
    text = "Date,USD,GBP\n" + "\n".join(",".join(row) for row in rows)
    assert read_or_refused(feed, text.encode("utf-8", "surrogatepass"))


TAGS = st.sampled_from(["metal", "price", "updated", "Cube", "{*}day", "a:b", "x"])


@given(ANY_FEED, st.recursive(st.text(max_size=8), lambda x: st.tuples(TAGS, x)))
def test_any_xml_is_a_reading_or_a_reason(feed, tree):
    def told(node):
        tag, inner = node if isinstance(node, tuple) else ("x", None)
        return f"<{tag}>{node if inner is None else told(inner)}</{tag}>"

    assert read_or_refused(feed, told(tree).encode("utf-8", "surrogatepass"))
