"""One price in every form a feed may quote it: the same estimate to the minor unit."""

from __future__ import annotations

import json
from decimal import Decimal, localcontext

import pytest

GRAMS = Decimal("31.1034768")  # in a troy ounce, exactly: see tests/reference
OUNCE = Decimal("27.50")
AT = "2026-12-01T12:00:00Z"
RING = {
    "coin": "at_50s_1959_1973",
    "size": {"system": "us", "size": "8.5"},
    "include": ["risk"],
}
BASE = {
    "title": "A feed",
    "url": "https://feeds.example/silver",
    "format": "json",
    "currency": "EUR",
    "price": "/price",
    "time": {"path": "/at"},
}


def digits(value, places=15):
    """A figure as a feed writes it, cut off after some places."""
    return f"{value:.{places}f}"


with localcontext() as context:
    context.prec = 40
    GRAM, KILOGRAM = OUNCE / GRAMS, OUNCE / GRAMS * 1000
    FORMS = {
        "a troy ounce": ({}, digits(OUNCE, 2)),
        "a gram": ({"unit": "gram"}, digits(GRAM)),
        "a kilogram": ({"unit": "kilogram"}, digits(KILOGRAM)),
        "a kilogram, to the cent": ({"unit": "kilogram"}, digits(KILOGRAM, 8)),
        "pence an ounce": ({"hundredths": True}, "2750"),
        "pence a gram": ({"hundredths": True, "unit": "gram"}, digits(GRAM * 100)),
        "ounces for one": ({"invert": True}, digits(1 / OUNCE)),
        "grams for one": ({"invert": True, "unit": "gram"}, digits(1 / GRAM)),
        "kilograms for one": (
            {"invert": True, "unit": "kilogram"},
            digits(1 / KILOGRAM, 18),
        ),
        "with a comma": ({"decimal_mark": ","}, "27,50"),
    }


def estimate(workshop, body, **described):
    """The estimate on the price a feed says, without what tells one fetch apart."""
    workshop.put("/v1/feeds/one", BASE | described, headers={"If-None-Match": "*"})
    workshop.post_office.letters[BASE["url"]] = body
    [result] = workshop.post("/v1/spot-prices/fetch", {}).json["results"]
    assert result["outcome"] == "accepted", result
    answer = workshop.post("/v1/estimates", RING)
    assert answer.json["spot"]["source"] == "one"
    return answer.json


@pytest.fixture
def expected(timed_workshop):
    """What an ounce's price given with the request comes to."""
    return timed_workshop.post(
        "/v1/estimates", RING | {"spot": {"price": str(OUNCE)}}
    ).json


def same(told, expected):
    """Whether all of both but where the price is from and how old is the same."""
    rest = {"spot", "validity"}
    kept = [{n: v for n, v in one.items() if n not in rest} for one in (told, expected)]
    assert kept[0] == kept[1]
    assert told["spot"]["price"] == expected["spot"]["price"] == "27.50"


@pytest.mark.parametrize(("described", "price"), FORMS.values(), ids=FORMS)
def test_every_form_of_one_price_comes_to_the_same(
    timed_workshop, expected, described, price
):
    body = json.dumps({"price": price, "at": AT}).encode()
    same(estimate(timed_workshop, body, **described), expected)


def test_so_do_other_layouts_of_it(timed_workshop, expected):
    xml = {"format": "xml", "price": "p/@eur", "time": {"path": "at"}}
    body = f'<r><p eur="{digits(GRAM)}"/><at>{AT}</at></r>'.encode()
    same(estimate(timed_workshop, body, unit="gram", **xml), expected)


def test_so_does_the_middle_of_bid_and_ask(timed_workshop, expected):
    body = json.dumps({"bid": "27.40", "ask": "27.60", "at": AT}).encode()
    sides = {"price": None, "bid": "/bid", "ask": "/ask"}
    same(estimate(timed_workshop, body, **sides), expected)


def test_so_does_a_price_in_another_currency_at_its_rate(timed_workshop, expected):
    rate = {"metal": "EUR", "price": "1.25", "currency": "USD"}
    timed_workshop.post("/v1/spot-prices", rate)
    body = json.dumps({"price": "34.375", "at": AT}).encode()
    told = estimate(timed_workshop, body, currency="USD", decimal_mark=".")
    same(told, expected)
    assert told["spot"]["original_price"] == "34.375"
