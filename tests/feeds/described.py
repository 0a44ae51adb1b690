"""The shapes of answers, and a description of a feed for each of them."""

from __future__ import annotations

from pathlib import Path

from api.services.feeds.document import read_feed_document

SHAPES = Path(__file__).parent / "shapes"

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


FEEDS = [described(shape, **members) for shape, members in DESCRIPTIONS.items()]
FEEDS.append(described("x.ecb", currency=None))
