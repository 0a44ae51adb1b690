"""Whatever a feed answers, it is a reading or a reason; and one price is one price."""

from __future__ import annotations

import json
from decimal import Decimal
from random import Random

from hypothesis import example, given
from hypothesis import strategies as st

from api.feeds.reading import read_feed
from api.ports import Feed, FeedFailed, FeedTime
from tests.feeds.described import FEEDS, SHAPES, answer

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
